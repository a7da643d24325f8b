"""What can happen at the trackside, each as an event that is appended and never changed.

An event carries what it says as typed data. What arrives from a phone or is typed from paper is
plain JSON; :func:`read_data` makes the typed data of it or refuses with one sentence.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from repairs.field.reading import BadEvent, Reading
from turnouts.analysis.terms import Quantity, Route, Term


class Kind(Term):
    """What sort of thing happened."""

    STARTED = "started"
    BRIEFING = "briefing"
    STAGE_STARTED = "stage_started"
    STAGE_ENDED = "stage_ended"
    PASS_TEMPERATURE = "pass_temperature"  # noqa: S105 - the temperature before a weld pass
    CARBON_REMOVED = "carbon_removed"
    GUARD_FACE_RESTORED = "guard_face_restored"
    PENETRANT = "penetrant"
    INDICATION = "indication"
    PENETRANT_CLEAN = "penetrant_clean"
    MEASUREMENT = "measurement"
    MATERIAL_USED = "material_used"
    PHOTO = "photo"
    HANDED_BACK = "handed_back"
    BROKEN_OFF = "broken_off"
    NOTE = "note"
    CORRECTION = "correction"


class TrackState(Term):
    """In what state the track is: as it was found, cut open, filled, or finished and proved."""

    AS_FOUND = "as_found"
    OPEN = "open"
    CLOSED = "closed"
    RESTORED = "restored"


class PenetrantStep(Term):
    APPLIED = "applied"
    WIPED = "wiped"
    DEVELOPED = "developed"
    READ = "read"


class Shape(Term):
    LINEAR = "linear"
    ROUNDED = "rounded"


@dataclass(frozen=True, slots=True)
class Nothing:
    """An event that says all by its kind."""


@dataclass(frozen=True, slots=True)
class Briefing:
    """Numbers of the points of the job briefing that were gone through."""

    points: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class AtStage:
    """A stage begun or ended; ``interrupted`` where it ended before it was finished."""

    stage: str
    interrupted: bool = False


@dataclass(frozen=True, slots=True)
class AtZone:
    """A hold point of one zone."""

    zone: str


@dataclass(frozen=True, slots=True)
class PassTemperature:
    """Metal temperature before a bead, in degC, so many mm from the weld."""

    zone: str
    degc: Decimal
    place_mm: Decimal
    note: str = ""


@dataclass(frozen=True, slots=True)
class Penetrant:
    """One step of the penetrant test; the steel's surface temperature in degC where measured."""

    step: PenetrantStep
    surface_degc: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Indication:
    """What the penetrant showed: size and place in mm."""

    zone: str
    shape: Shape
    length_mm: Decimal
    width_mm: Decimal | None = None
    x_mm: Decimal | None = None
    y_mm: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """One final reading in mm."""

    quantity: Quantity
    value_mm: Decimal
    route: Route | None = None


@dataclass(frozen=True, slots=True)
class Material:
    """How much of a material of the sheet was used, in the unit the sheet loads it by."""

    key: str
    quantity: Decimal


@dataclass(frozen=True, slots=True)
class Photo:
    caption: str


@dataclass(frozen=True, slots=True)
class HandedBack:
    """The track given back, in what state, at what speed (None: class speed), by whose word."""

    state: TrackState
    qualified_person: str
    speed_kmh: Decimal | None = None
    note: str = ""

    @property
    def unrestricted(self) -> bool:
        """No speed was given because there is no new restriction: as found, or restored."""
        return self.speed_kmh is None and self.state in (TrackState.AS_FOUND, TrackState.RESTORED)


@dataclass(frozen=True, slots=True)
class BrokenOff:
    reason: str
    state: TrackState


@dataclass(frozen=True, slots=True)
class Note:
    text: str


@dataclass(frozen=True, slots=True)
class Correction:
    """What should have been entered: the data of the corrected event, or None to strike it out.

    ``at`` is the right moment where that was wrong.
    """

    of: str
    reason: str
    data: Mapping[str, Any] | None
    at: datetime | None = None


Data = (
    Nothing
    | Briefing
    | AtStage
    | AtZone
    | PassTemperature
    | Penetrant
    | Indication
    | Measured
    | Material
    | Photo
    | HandedBack
    | BrokenOff
    | Note
    | Correction
)


@dataclass(frozen=True, slots=True)
class Event:
    """One event as it stands in the record. ``at`` is put right by what the phone's clock was off.

    ``clock_off_s`` is by how many seconds, above zero where the phone's clock was slow.
    """

    id: str
    device: str
    seq: int
    kind: Kind
    at: datetime
    by: str
    data: Data
    clock_off_s: float = 0.0
    entered_from: str = "phone"

    @property
    def order(self) -> tuple[datetime, str, int, str]:
        """By which events of several phones are put in one row."""
        return (self.at, self.device, self.seq, self.id)


def read_data(kind: Kind, raw: object) -> Data:
    """The typed data of an event of a kind. Raises BadEvent with one sentence."""
    given = Reading.of(kind.label, raw)
    data = _READ[kind](given)
    given.nothing_left()
    return data


def _briefing(given: Reading) -> Data:
    return Briefing(given.whole_numbers("points"))


def _stage_started(given: Reading) -> Data:
    return AtStage(given.words("stage", 60))


def _stage_ended(given: Reading) -> Data:
    return AtStage(given.words("stage", 60), given.yes_or_no("interrupted"))


def _at_zone(given: Reading) -> Data:
    return AtZone(given.words("zone", 40))


def _pass_temperature(given: Reading) -> Data:
    return PassTemperature(
        zone=given.words("zone", 40),
        degc=given.number("degc", -50, 1600),
        place_mm=given.number("place_mm", 0, 1000),
        note=given.text("note", 300),
    )


def _penetrant(given: Reading) -> Data:
    step = PenetrantStep(given.one_of("step", PenetrantStep))
    return Penetrant(step, given.number_or_none("surface_degc", -50, 300))


def _indication(given: Reading) -> Data:
    return Indication(
        zone=given.words("zone", 40),
        shape=Shape(given.one_of("shape", Shape)),
        length_mm=given.number("length_mm", 0, 2000),
        width_mm=given.number_or_none("width_mm", 0, 2000),
        x_mm=given.number_or_none("x_mm", -10000, 10000),
        y_mm=given.number_or_none("y_mm", -10000, 10000),
    )


def _measurement(given: Reading) -> Data:
    route = given.one_of_or_none("route", Route)
    return Measured(
        quantity=Quantity(given.one_of("quantity", Quantity)),
        value_mm=given.number("value_mm", -1000, 10000),
        route=None if route is None else Route(route),
    )


def _material(given: Reading) -> Data:
    return Material(given.words("key", 40), given.number("quantity", 0, 100000))


def _photo(given: Reading) -> Data:
    return Photo(given.text("caption", 120))


def _handed_back(given: Reading) -> Data:
    return HandedBack(
        state=TrackState(given.one_of("state", TrackState)),
        qualified_person=given.words("qualified_person", 120),
        speed_kmh=given.number_or_none("speed_kmh", 0, 400),
        note=given.text("note", 500),
    )


def _broken_off(given: Reading) -> Data:
    return BrokenOff(given.words("reason", 500), TrackState(given.one_of("state", TrackState)))


def _note(given: Reading) -> Data:
    return Note(given.words("text", 2000))


def _correction(given: Reading) -> Data:
    return Correction(
        of=given.identity("of"),
        reason=given.words("reason", 300),
        data=given.mapping_or_none("data"),
        at=given.moment_or_none("at"),
    )


def _nothing(given: Reading) -> Data:
    return Nothing()


_READ = {
    Kind.STARTED: _nothing,
    Kind.BRIEFING: _briefing,
    Kind.STAGE_STARTED: _stage_started,
    Kind.STAGE_ENDED: _stage_ended,
    Kind.PASS_TEMPERATURE: _pass_temperature,
    Kind.CARBON_REMOVED: _at_zone,
    Kind.GUARD_FACE_RESTORED: _at_zone,
    Kind.PENETRANT: _penetrant,
    Kind.INDICATION: _indication,
    Kind.PENETRANT_CLEAN: _nothing,
    Kind.MEASUREMENT: _measurement,
    Kind.MATERIAL_USED: _material,
    Kind.PHOTO: _photo,
    Kind.HANDED_BACK: _handed_back,
    Kind.BROKEN_OFF: _broken_off,
    Kind.NOTE: _note,
    Kind.CORRECTION: _correction,
}

__all__ = ["BadEvent", "Data", "Event", "Kind", "read_data"]
