"""Pictures taken at the trackside, kept as those of defects are: drawn anew, nothing else stays."""

import hashlib
from datetime import datetime
from typing import IO

from django.core.files.base import ContentFile
from django.db import transaction

from repairs.field.events import Kind
from repairs.models import FieldEvent, FieldPhoto, JobSheet
from repairs.services.field_rights import require_write
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.photographs import drawn_anew


@transaction.atomic
def add_field_photo(
    *, by: Person, sheet: JobSheet, event_id: str, upload: IO[bytes], at: datetime
) -> FieldPhoto:
    """The picture of a ``photo`` event; the same one again is the one that is there.

    Raises Refused for what is no picture or an event that asks for none, Conflict for another
    picture of the same event.
    """
    require_write(by, sheet)
    row = FieldEvent.objects.select_for_update().filter(sheet=sheet, event_id=event_id).first()
    if row is None:
        raise Refused("That event has not arrived yet; send the events first, then the picture.")
    if row.kind != Kind.PHOTO.value:
        raise Refused("That event is no photograph, so no picture belongs to it.")
    content = drawn_anew(upload)
    digest = hashlib.sha256(content).hexdigest()
    present = FieldPhoto.objects.filter(event=row).first()
    if present is not None:
        if present.sha256 != digest:
            raise Conflict("Another picture came with that event before; make a new event for it.")
        return present
    return FieldPhoto.objects.create(
        event=row,
        image=ContentFile(content, name=f"{digest[:32]}.jpg"),
        sha256=digest,
        added_at=at,
        added_by=by,
    )
