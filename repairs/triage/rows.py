"""The rows of a rule set. Each is dated, names its source and clause, and says one thing.

A row with the same ``rule`` and a later ``start`` replaces the earlier one from that day on.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from repairs.triage.decision import Effect, TrafficKind
from repairs.triage.where import Where
from turnouts.analysis.terms import Disposition, Quantity, Term


class Compare(Term):
    """The allowed side of a limit; the first two allow the limit itself."""

    NOT_MORE_THAN = "not_more_than"
    NOT_LESS_THAN = "not_less_than"
    LESS_THAN = "less_than"


class DefectPart(Term):
    """The size of a reported defect that serves as a reading."""

    DEPTH = "depth"
    LENGTH = "length"


class ExceptionCondition(Term):
    """The named set of facts under which an exception holds."""

    HEAVY_POINT = "heavy_point"
    FLANGE_BEARING = "flange_bearing"
    FLANGE_BEARING_DIAMOND = "flange_bearing_diamond"


class Advice(Term):
    """When a row of advice is said."""

    ALWAYS = "always"
    WELDED_IN_TRACK = "welded_in_track"
    ACCESS_UNRECORDED = "access_unrecorded"  # to be welded in track by a record silent on access
    RESTRICTED = "restricted"
    RESTRICTED_OR_OPEN = "restricted_or_open"
    BELOW_CLASS_1 = "below_class_1"
    EXCEPTED_TRACK = "excepted_track"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What every row carries. ``why`` is required where no published source stands behind it.

    ``railway_may_set`` marks what the law leaves open: the railway may loosen such a row too.
    ``checked_note`` says what is behind ``checked`` where that is less than the text in force.
    """

    rule: str
    start: date
    end: date | None = None
    clause: str
    title: str
    source: str
    checked: str
    why: str = ""
    railway_may_set: bool = False
    checked_note: str = ""

    @property
    def value_seen(self) -> str:
        """The row's figures as text, kept with a decision."""
        return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedRow(Row):
    """The highest speeds on a class of track; no ``passenger_mph`` means no passenger trains.

    ``any_class`` is for a law that knows no classes.
    """

    track_class: int | None = None
    any_class: bool = False
    freight_mph: Decimal
    passenger_mph: Decimal | None = None

    @property
    def value_seen(self) -> str:
        return f"{self.freight_mph}/{self.passenger_mph} mph"


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitRow(Row):
    """A limit on a measured length, one for all classes or one for each, in mm.

    Class 0 in ``by_class`` is excepted track, where the law has a limit of its own for it.

    ``together`` names rows that trigger only when all of them are passed. ``needed_for`` says for
    which defects the reading must be there before class speed can be said; ``from_defect`` for
    which the size of the defect itself counts as a reading. ``extent_of`` names the row whose
    readings, where they are still past their limit, also tell how far back that reaches.
    """

    where: Where = field(default_factory=Where)
    needed_for: Where | None = None
    from_defect: Where | None = None
    defect_part: DefectPart | None = None
    quantity: Quantity | None = None
    compare: Compare
    value: Decimal | None = None
    by_class: Mapping[int, Decimal] = field(default_factory=dict)
    effect: Effect
    cap_mph: Decimal | None = None
    together: str = ""
    extent_of: str = ""
    remedy: Disposition
    remedy_says: str

    @property
    def value_seen(self) -> str:
        if self.value is not None:
            return f"{self.value.normalize():f} mm"
        return ", ".join(f"{c}: {v.normalize():f} mm" for c, v in sorted(self.by_class.items()))

    @property
    def asks_for(self) -> str:
        """What an inspector is asked to measure, in words."""
        return self.quantity.label.lower() if self.quantity else f"{self.defect_part} of the defect"

    def limit_for(self, track_class: int) -> Decimal:
        """The limit in mm for a class of track, 1 to 5."""
        return self.value if self.value is not None else self.by_class[track_class]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExceptionRow(Row):
    """A limit row that is eased for some classes: to ``value`` in mm, or away when ``None``."""

    relaxes: str
    classes: frozenset[int]
    condition: ExceptionCondition
    value: Decimal | None = None
    min_through_gage_plates: int | None = None
    angle_over_deg: Decimal | None = None

    @property
    def value_seen(self) -> str:
        return "no limit" if self.value is None else f"{self.value.normalize():f} mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionRow(Row):
    """A rule on a condition that is seen, not measured."""

    where: Where
    reaches_base: bool | None = None
    unless_tested: bool = False
    effect: Effect
    disposition: Disposition | None = None
    ask: str = ""
    says: str

    @property
    def value_seen(self) -> str:
        return self.effect.value


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceRow(Row):
    """One line of the choice between watching, grinding, welding and replacing.

    Lines are asked from the top; the first that fits is taken. A size, and whether a crack reaches
    base or edge, ends the asking where a line asks for it and it is not recorded: measure first.
    ``access``, ``left_under`` (less sound metal than this, in mm) and ``through_skin`` (as deep as
    the work-hardened skin) fit only where the fact is known: other lines stand in for them.
    """

    where: Where
    depth_over: Decimal | None = None
    length_over: Decimal | None = None
    earlier_welds_over: int | None = None
    reaches_base: bool | None = None
    reaches_edge: bool | None = None
    access: bool | None = None
    left_under: Decimal | None = None
    through_skin: bool = False
    disposition: Disposition
    says: str

    @property
    def value_seen(self) -> str:
        sizes = (("depth", self.depth_over), ("length", self.length_over))
        parts = [f"{name} over {mm.normalize():f} mm" for name, mm in sizes if mm is not None]
        if self.left_under is not None:
            parts.append(f"under {self.left_under.normalize():f} mm left")
        if self.earlier_welds_over is not None:
            parts.append(f"over {self.earlier_welds_over} welds")
        return ", ".join([*parts, self.disposition.value])


@dataclass(frozen=True, slots=True, kw_only=True)
class DueRow(Row):
    """Days from the report to the due date for a disposition, a traffic state and classes."""

    dispositions: frozenset[Disposition] = frozenset()
    traffic: frozenset[TrafficKind] = frozenset()
    classes: frozenset[int] = frozenset()
    days: int
    says: str

    @property
    def value_seen(self) -> str:
        return f"{self.days} days"


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceRow(Row):
    """A caution in plain words, said when its time comes."""

    when: Advice
    where: Where = field(default_factory=Where)
    classes: frozenset[int] = frozenset()
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutRow(Row):
    """A clause that no other row holds, so that nobody takes the rows for all there is.

    ``says`` tells why it is left out: its text could not be read, or it is not of components.
    """

    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingRow(Row):
    """A whole number the railway sets, by its name; ``RuleSet.setting`` finds it."""

    setting: str
    number: int

    @property
    def value_seen(self) -> str:
        return str(self.number)
