"""Photographs of defects: opened, checked, drawn anew, so that nothing but the picture is kept."""

import hashlib
import warnings
from io import BytesIO
from typing import IO

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils import timezone
from PIL import Image, ImageOps, UnidentifiedImageError

from turnouts.access import Action, require
from turnouts.models import Defect, Person, Photograph
from turnouts.services.errors import Refused

LARGEST_FILE_BYTES = 15 * 1024 * 1024
LARGEST_PIXELS = 60_000_000  # more than telephones take; opening one needs 180 MB of memory
LONGEST_SIDE_PX = 2560  # a 1/64 in crack still shows, and a page of six loads at the trackside
TAKEN = ("JPEG", "PNG", "WEBP")
Image.init()  # Pillow knows only some of these until asked to load all it has
JPEG_QUALITY = 85


@transaction.atomic
def add_photograph(*, by: Person, defect: Defect, upload: IO[bytes], caption: str) -> Photograph:
    """Keep a picture of a defect; the same picture a second time is the one that is there.

    Raises Refused, with a sentence, for what is too large, is no picture, or is of another kind.
    """
    require(by, Action.REPORT, defect.turnout.territory)
    content = drawn_anew(upload)
    digest = hashlib.sha256(content).hexdigest()
    # Locked, so that two uploads of one picture at once leave one row and one file.
    Defect.objects.select_for_update().get(pk=defect.pk)
    present = Photograph.objects.filter(defect=defect, sha256=digest).first()
    if present is not None:
        return present
    return Photograph.objects.create(
        defect=defect,
        image=ContentFile(content, name=f"{digest[:32]}.jpg"),
        sha256=digest,
        caption=caption.strip()[:120] or "Photograph",
        added_at=timezone.now(),
        added_by=by,
    )


def drawn_anew(upload: IO[bytes]) -> bytes:
    """The picture as a JPEG of its pixels alone: no place, no time, no device, turned upright."""
    upload.seek(0)
    raw = upload.read(LARGEST_FILE_BYTES + 1)
    if len(raw) > LARGEST_FILE_BYTES:
        raise Refused(
            f"The file is larger than {LARGEST_FILE_BYTES // 1024**2} MB. Send a smaller picture."
        )
    try:
        return _encoded(raw)
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as fault:
        if isinstance(fault, Refused):
            raise
        raise Refused(
            "The file cannot be opened as a picture. Send a JPEG, PNG or WebP; a telephone that "
            "saves HEIC can be set to save JPEG."
        ) from None


def _encoded(raw: bytes) -> bytes:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the check below is ours
        try:
            image = Image.open(BytesIO(raw), formats=TAKEN)
        except Image.DecompressionBombError:
            raise Refused(_too_many_pixels()) from None
    if image.width * image.height > LARGEST_PIXELS:
        raise Refused(_too_many_pixels())
    upright = ImageOps.exif_transpose(image).convert("RGB")
    upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    kept = BytesIO()
    Image.frombytes("RGB", upright.size, upright.tobytes()).save(
        kept, "JPEG", quality=JPEG_QUALITY, optimize=True
    )
    return kept.getvalue()


def _too_many_pixels() -> str:
    return (
        f"The picture has more than {LARGEST_PIXELS // 10**6} million pixels. Send a smaller one."
    )
