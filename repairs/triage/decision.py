"""What a decision says: traffic now, disposition, due date, and every reason for them."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from turnouts.analysis.terms import Disposition, Quantity, Term


class TrafficKind(Term):
    CLASS_SPEED = "class_speed"
    UNKNOWN = "unknown"  # the qualified person decides; a restriction in force stays
    RESTRICTED = "restricted"
    STOP = "stop"


class Outcome(Term):
    WITHIN = "within"
    NEAR = "near"  # inside the limit by less than the uncertainty: treated as beyond
    BEYOND = "beyond"
    NOT_MEASURED = "not_measured"
    NOT_APPLICABLE = "not_applicable"


class Effect(Term):
    """What a rule does to traffic when its limit is missed."""

    CLASS = "class"  # the speed of the highest class whose limit is met; none met is a stop
    CAP = "cap"  # a fixed highest speed
    JUDGE = "judge"  # the law sets no number: the qualified person decides
    BELOW_CLASS_1 = "below_class_1"  # no class is met whatever the size
    STOP = "stop"
    ADVICE = "advice"  # nothing for traffic; a thing to know or to look at


class Confidence(Term):
    HIGH = "high"
    FAIR = "fair"
    LOW = "low"


@dataclass(frozen=True, slots=True)
class Traffic:
    """What trains may do now.

    With ``unknown`` the speeds are the most that could be allowed, not a permission.
    """

    kind: TrafficKind
    speed_mph: Decimal | None
    passenger_mph: Decimal | None
    speed_kmh: Decimal | None


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule held against the case. ``margin_mm`` is positive inside the limit.

    ``required`` is true where the rule's reading is needed before class speed can be said.
    ``checked_note`` says what is behind ``checked`` where that is less than the text in force.
    """

    rule_id: str
    row_start: date
    clause: str
    title: str
    source: str
    checked: str
    outcome: Outcome
    sentence: str
    effect: Effect
    quantity: Quantity | None = None
    measured: Decimal | None = None
    limit: Decimal | None = None
    margin_mm: Decimal | None = None
    uncertainty_mm: Decimal | None = None
    reference: str = ""
    class_met: int | None = None
    cap_mph: Decimal | None = None
    applies_to_traffic: bool = False
    required: bool = False
    disposition: Disposition | None = None
    due_days: int | None = None
    rule_set: str = ""
    checked_note: str = ""


@dataclass(frozen=True, slots=True)
class Missing:
    """A fact to fetch: a measured quantity, or where it is ``None`` the thing named in words.

    Until one that ``blocks`` is known, class speed cannot be said; any other could ease the answer.
    """

    quantity: Quantity | None
    what: str
    why: str
    blocks: bool = True


@dataclass(frozen=True, slots=True)
class RowSeen:
    """A row the decision looked at, so that it can be replayed when the row has changed."""

    rule_id: str
    row_start: date
    value: str


@dataclass(frozen=True, slots=True)
class Decision:
    """The answer with its reasons. It advises; a qualified person decides and signs.

    ``due_on`` is for the work; ``measure_by`` for the facts to fetch, ``None`` when there are none.
    """

    traffic: Traffic
    disposition: Disposition
    disposition_reason: str
    due_on: date
    due_reason: str
    measure_by: date | None
    sentence: str
    findings: tuple[Finding, ...]
    to_measure: tuple[Missing, ...]
    confidence: Confidence
    confidence_reason: str
    cautions: tuple[str, ...]
    rule_set: str
    edition: str
    rules_seen: tuple[RowSeen, ...]
