"""What is so at the trackside, as it follows from the events; plain when serialised."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any

from repairs.field.events import BrokenOff, HandedBack, TrackState
from repairs.field.indications import Judged
from repairs.field.penetrant import Round
from turnouts.analysis.terms import Quantity, Route, Term


class Phase(Term):
    """How far the job is."""

    WAITING = "waiting"
    IN_WORK = "in_work"
    BROKEN_OFF = "broken_off"
    HANDED_BACK = "handed_back"


class StageIs(Term):
    WAITING = "waiting"
    RUNNING = "running"
    INTERRUPTED = "interrupted"
    DONE = "done"


class Proof(Term):
    """What the penetrant test says. Doubtful: called clean, but not done as it must be."""

    NOT_REQUIRED = "not_required"
    OPEN = "open"
    CLEAN = "clean"
    DOUBTFUL = "doubtful"
    FAILED = "failed"


class About(Term):
    """What a deviation or a conflict is about."""

    HOLD_POINT = "hold_point"
    ORDER = "order"
    TEMPERATURE = "temperature"
    PENETRANT = "penetrant"
    LIMIT = "limit"
    TIME = "time"
    CLOCK = "clock"
    ENTRY = "entry"
    TRACK = "track"


@dataclass(frozen=True, slots=True)
class Said:
    """One deviation or conflict, in a plain sentence."""

    about: About
    sentence: str


@dataclass(frozen=True, slots=True)
class StageState:
    """One stage as it went. ``took_min`` counts the minutes worked, pauses left out.

    ``waited_min`` is the waiting between a reading above the interpass limit and the next at or
    below it, None where no such wait was logged. ``repeated``: begun again after it was finished.
    """

    key: str
    name: str
    zone: str
    state: StageIs
    started_at: Any
    started_by: str
    ended_at: Any
    ended_by: str
    took_min: float | None
    waited_min: float | None
    interrupted: bool
    repeated: bool


@dataclass(frozen=True, slots=True)
class HoldPoint:
    """A point where work stops until somebody has said that it may go on."""

    key: str
    zone: str
    words: str
    passed_at: Any
    by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShownIndication:
    """One indication as entered, and the judgement. ``current``: of the last round of the test."""

    event: str
    zone: str
    length_mm: Decimal
    width_mm: Decimal | None
    x_mm: Decimal | None
    y_mm: Decimal | None
    judged: Judged
    current: bool


@dataclass(frozen=True, slots=True)
class Finding:
    """One reading held against one limit; ``within`` is None where the sheet has none for it."""

    title: str
    limit: str
    clause: str
    within: bool | None
    margin_mm: Decimal | None


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurement. ``final``: taken after the last cutting or grinding.

    Of several final ones of a thing the worst ``governs`` until it is corrected.
    """

    event: str
    quantity: Quantity
    route: Route | None
    value_mm: Decimal
    at: Any
    by: str
    final: bool
    governs: bool
    findings: tuple[Finding, ...]

    @property
    def within(self) -> bool | None:
        """Whether all limits are met; None where the sheet has none for it."""
        said = [one.within for one in self.findings if one.within is not None]
        return all(said) if said else None


@dataclass(frozen=True, slots=True)
class Correction:
    """A correction beside what it corrects, both kept."""

    event: str
    of: str
    was: str
    now: str
    reason: str
    by: str
    at: Any


@dataclass(frozen=True, slots=True)
class Picture:
    event: str
    caption: str
    at: Any
    by: str


@dataclass(frozen=True, slots=True)
class PassReading:
    """A metal temperature before a bead; ``above`` the interpass limit means: wait."""

    event: str
    zone: str
    degc: Decimal
    place_mm: Decimal
    at: Any
    by: str
    above: bool
    note: str


@dataclass(frozen=True, slots=True)
class FieldState:
    """Everything that follows from the events of one sheet; the same whatever their order.

    ``started``: somebody who may has started the sheet; ``started_at`` is when work began.
    """

    phase: Phase
    track: TrackState
    track_words: str
    started: bool
    started_at: Any
    started_by: str
    ended_at: Any
    briefing: tuple[int, ...]
    stages: tuple[StageState, ...]
    hold_points: tuple[HoldPoint, ...]
    next_zones: tuple[str, ...]
    finished_zones: tuple[str, ...]
    pass_temperatures: tuple[PassReading, ...]
    penetrant: tuple[Round, ...]
    proof: Proof
    proof_words: str
    indications: tuple[ShownIndication, ...]
    measurements: tuple[Reading, ...]
    missing: tuple[str, ...]
    materials: Mapping[str, Decimal]
    photos: tuple[Picture, ...]
    notes: tuple[str, ...]
    handed_back: HandedBack | None
    handed_back_by: str
    broken_off: BrokenOff | None
    corrections: tuple[Correction, ...]
    deviations: tuple[Said, ...]
    conflicts: tuple[Said, ...]

    def stage(self, key: str) -> StageState:
        """The state of the stage of a key."""
        return next(stage for stage in self.stages if stage.key == key)

    @property
    def is_over(self) -> bool:
        """Handed back or broken off: nothing more of the work is due, and it may be signed."""
        return self.phase in (Phase.HANDED_BACK, Phase.BROKEN_OFF)

    @property
    def proved(self) -> bool:
        """Whether the penetrant is clean or not part of it, and every reading is within limits."""
        return self.proof in (Proof.CLEAN, Proof.NOT_REQUIRED) and self.within_limits

    @property
    def within_limits(self) -> bool:
        """Whether every limit of the sheet was measured at the end and is met."""
        return not self.missing and all(
            one.within is not False for one in self.measurements if one.governs
        )

    @property
    def failed(self) -> tuple[str, ...]:
        """Why the repair cannot be taken as proved, in sentences; empty where nothing failed."""
        said = [self.proof_words] if self.proof in (Proof.FAILED, Proof.DOUBTFUL) else []
        return tuple(said) + tuple(
            one.sentence for one in self.deviations if one.about is About.LIMIT
        )


def as_json(value: object) -> Any:
    """A value of this package as JSON can hold it: exact numbers and moments become text."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: as_json(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): as_json(held) for key, held in value.items()}
    if isinstance(value, tuple | list | frozenset):
        return [as_json(held) for held in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal):
        return f"{value:f}"
    return value.isoformat() if isinstance(value, date) else value
