"""The record of one sheet, read once for the page, the paper and programs."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from repairs.field.chain import first_break
from repairs.field.corrected import in_words
from repairs.field.events import Correction as CorrectionData
from repairs.field.events import Data, Kind, read_data
from repairs.field.state import Correction, FieldState
from repairs.models import (
    ClosingChange,
    FieldEvent,
    FieldPhoto,
    FieldRecord,
    JobSheet,
    StartOverride,
    TrackRestriction,
)
from repairs.services.field_records import break_in_signed
from repairs.services.field_rows import as_event, event_links, events_of, field_state
from repairs.signed import what_followed


@dataclass(frozen=True)
class Entry:
    """One entry as it arrived, what it says, and the correction that holds, if there is one.

    ``holds`` is what holds instead, None where it is struck out or nothing corrects it; ``of`` is
    the number of the entry that this one corrects, 0 where it corrects none.
    """

    row: FieldEvent
    data: Data
    says: str
    corrected: Correction | None
    holds: Data | None
    moved_to: datetime | None
    of: int

    @property
    def is_correction(self) -> bool:
        """Whether it puts another entry right, and so cannot be put right itself."""
        return self.row.kind == Kind.CORRECTION.value

    @property
    def is_struck(self) -> bool:
        """Whether it does not count any more."""
        return self.corrected is not None and self.holds is None


@dataclass(frozen=True)
class Signature:
    """A signed record; ``new`` are the numbers of the entries it was the first to take up."""

    row: FieldRecord
    new: tuple[int, ...]


@dataclass(frozen=True)
class UsedMaterial:
    """How much of a material was used, by the name and unit of the sheet that expected some."""

    name: str
    quantity: Decimal
    unit: str
    expected: float


@dataclass(frozen=True)
class RecordRead:
    """Everything that was entered, what follows from it, and who put their name to it.

    ``followed`` says what followed from the signatures elsewhere, such as stock taken off.
    ``broken`` names the first entry or record that was tampered with; ``behind`` says that
    entries came after the last signature.
    """

    sheet: JobSheet
    state: FieldState
    entries: tuple[Entry, ...]
    signatures: tuple[Signature, ...]
    restrictions: tuple[TrackRestriction, ...]
    """The latest first; a correction may have asked for a second word."""
    closing_changes: tuple[ClosingChange, ...]
    overrides: tuple[StartOverride, ...]
    pictures: tuple[FieldPhoto, ...]
    followed: tuple[str, ...]
    broken: str
    behind: bool

    @property
    def restriction(self) -> TrackRestriction | None:
        """The restriction that holds or waits, if there is one."""
        return next(iter(self.restrictions), None)

    @property
    def materials(self) -> list[UsedMaterial]:
        """What was used, in the order of the sheet."""
        return [
            UsedMaterial(
                one["name"], self.state.materials[one["key"]], one["unit"], one["quantity"]
            )
            for one in self.sheet.content["materials"]
            if one["key"] in self.state.materials
        ]


def read_record(sheet: JobSheet) -> RecordRead:
    """The record of a sheet, in a number of queries that its length does not change."""
    rows = events_of(sheet)
    state = field_state(sheet, rows)
    records = list(sheet.records.order_by("number"))
    head = rows[-1].sha256 if rows else ""
    return RecordRead(
        sheet=sheet,
        state=state,
        entries=tuple(_entries(rows, state)),
        signatures=tuple(_signatures(records)),
        restrictions=tuple(sheet.restrictions.select_related("confirmed_by")),
        closing_changes=tuple(
            ClosingChange.objects.filter(record__sheet=sheet)
            .select_related("record", "proposed_by", "answered_by")
            .order_by("record__number")
        ),
        overrides=tuple(sheet.start_overrides.select_related("person", "by")),
        pictures=tuple(FieldPhoto.objects.filter(event__sheet=sheet).select_related("event")),
        followed=tuple(what_followed(sheet)) if records else (),
        broken=first_break(event_links(rows, sheet.number)) or break_in_signed(sheet),
        behind=bool(records) and records[-1].content["events_sha256"] != head,
    )


def _entries(rows: list[FieldEvent], state: FieldState) -> Iterator[Entry]:
    corrected = {one.of: one for one in state.corrections}
    events = {str(row.event_id): as_event(row) for row in rows}
    numbers = {str(row.event_id): row.number for row in rows}
    for row in rows:
        data, one = events[str(row.event_id)].data, corrected.get(str(row.event_id))
        by = events[one.event].data if one else None
        said = by if isinstance(by, CorrectionData) else None
        yield Entry(
            row=row,
            data=data,
            says=in_words(data),
            corrected=one,
            holds=read_data(Kind(row.kind), said.data) if said and said.data is not None else None,
            moved_to=said.at if said else None,
            of=numbers.get(data.of, 0) if isinstance(data, CorrectionData) else 0,
        )


def _signatures(records: list[FieldRecord]) -> Iterator[Signature]:
    before = 0
    for row in records:
        numbers = [one["number"] for one in row.content["events"]]
        yield Signature(row, tuple(number for number in numbers if number > before))
        before = max(numbers, default=before)
