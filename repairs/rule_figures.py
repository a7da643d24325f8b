"""The figures a railway may set, as a reader sees them: in their own units, both sides shown."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_FLOOR, Decimal

from repairs.models import OwnerRule
from repairs.triage.owner_figures import HELD_BY, Figure
from repairs.triage.rows import ChoiceRow, Compare, LimitRow, Row
from repairs.triage.rules import RuleSet, rules_in_force
from repairs.triage.words import CLASS_NAMES, said_length
from turnouts.analysis.showing import US, UnitPreference, show
from turnouts.analysis.units import (
    UNITS,
    Dimension,
    UnitError,
    from_stored,
    parse,
    rounded,
    to_stored,
)

LENGTHS = (Figure.LIMIT, Figure.DEPTH_OVER, Figure.LENGTH_OVER)
COUNTS = {
    Figure.DAYS: "days",
    Figure.MONTHS: "months",
    Figure.EARLIER_WELDS_OVER: "earlier welds",
}
STEP_MM = {"in": Decimal("0.396875"), "mm": Decimal("0.1")}
"""The next value a rule can be read to: 1/64 in, or a tenth of a millimetre."""

SIDE = {
    Compare.NOT_MORE_THAN: "at most",
    Compare.NOT_LESS_THAN: "at least",
    Compare.LESS_THAN: "less than",
}


@dataclass(frozen=True)
class Settable:
    """One figure of one row in force, with its value for each class or for all (``None``)."""

    row: Row
    figure: Figure
    rule_set: str

    @property
    def values(self) -> list[tuple[int | None, Decimal | None]]:
        row = self.row
        if self.figure is not Figure.LIMIT:
            return [(None, Decimal(getattr(row, self.figure.value)))]
        by_class = row.by_class if isinstance(row, LimitRow) else {}
        if by_class:
            return [(track_class, mm) for track_class, mm in sorted(by_class.items())]
        return [(None, getattr(row, "value", None))]

    @property
    def classes(self) -> list[int]:
        """The classes of track for which the figure may be set alone."""
        row = self.row
        if self.figure is not Figure.LIMIT or not isinstance(row, LimitRow):
            return []
        if row.together or row.extent_of:
            return []
        return sorted(row.by_class) if row.by_class else [1, 2, 3, 4, 5]

    def value_on(self, track_class: int | None) -> Decimal | None:
        """The value on a class of track; of all of them where it is the same on each."""
        values = dict(self.values)
        return values.get(track_class, values.get(None))


def settable(sets: Sequence[RuleSet], on: date) -> list[Settable]:
    """Every figure of the rows in force on a day; a row that several sets share, once."""
    found: dict[tuple[str, Figure], Settable] = {}
    for rules in sets:
        for row in rules_in_force(rules, on).rows():
            for figure in _figures(row):
                found.setdefault((row.rule, figure), Settable(row, figure, rules.id))
    return list(found.values())


def one_settable(sets: Sequence[RuleSet], on: date, rule: str, figure: str) -> Settable | None:
    rows = (one for one in settable(sets, on) if one.row.rule == rule)
    return next((one for one in rows if one.figure.value == figure), None)


def _figures(row: Row) -> Iterable[Figure]:
    for figure, kinds in HELD_BY.items():
        if isinstance(row, kinds) and (
            figure is Figure.LIMIT or getattr(row, figure.value) is not None
        ):
            yield figure


def figure_words(figure: Figure, value: Decimal | None, units: UnitPreference) -> str:
    """A figure with its unit, as this reader reads it."""
    if value is None:
        return "no limit"
    if figure in LENGTHS:
        return show(value, Dimension.LENGTH, units)
    if figure is Figure.CAP:
        return _both_speeds(value, units)
    return f"{value.normalize():f} {COUNTS.get(figure, '')}".strip()


def _both_speeds(mph: Decimal, units: UnitPreference) -> str:
    """A speed of the rules in both units, the reader's own first; km/h are rounded down."""
    kmh = rounded(to_stored(mph, UNITS["mph"]), Decimal(1), ROUND_FLOOR)
    said = [f"{mph.normalize():f} mph", f"{kmh} km/h"]
    first, second = said if units.speed == "mph" else reversed(said)
    return f"{first} ({second})"


def speed_typed(text: str, unit: str) -> tuple[Decimal, str]:
    """The whole mph that the rules reckon with, and what was typed where that is not the same.

    A speed in km/h is taken as the whole mph below it, so that nothing runs faster than was
    typed. UnitError with a sentence for what is no speed, below 1 mph, or a part of an mph.
    """
    exact = from_stored(parse(text, unit, Dimension.SPEED), UNITS["mph"])
    mph = Decimal(exact.numerator // exact.denominator)
    if mph < 1:
        raise UnitError(f"{text} is below 1 mph; the rules know no slower speed. Stop the trains.")
    if mph == exact:
        return mph, ""
    own = text.strip() if text.strip()[-1].isalpha() else f"{text.strip()} {unit}"
    if own.endswith("mph"):
        raise UnitError(f"{own} is no whole mph. Type a whole number of mph, or km/h.")
    return mph, own


def with_side(one: Settable, value: Decimal | None, units: UnitPreference) -> str:
    """A limit with its allowed side: at most 5/8 in."""
    words = figure_words(one.figure, value, units)
    if value is None or one.figure is not Figure.LIMIT or not isinstance(one.row, LimitRow):
        return words
    return f"{SIDE[one.row.compare]} {words}"


def stood_words(one: Settable) -> str:
    """The present values in inches with the exact mm behind them, for the record."""
    said = []
    for track_class, value in one.values:
        length = one.figure in LENGTHS and value is not None
        words = said_length(value) if length and value else figure_words(one.figure, value, US)
        said.append(words if track_class is None else f"{CLASS_NAMES[track_class]}: {words}")
    return ", ".join(said)


def both_sides(one: Settable, value: Decimal | None, units: UnitPreference) -> str:
    """The last value on one side and the first on the other, in the reader's units."""
    if value is None or one.figure not in LENGTHS:
        return ""
    step = STEP_MM[units.length]
    shown = [show(mm, Dimension.LENGTH, units) for mm in (value - step, value, value + step)]
    below, at, above = shown
    row = one.row
    if isinstance(row, ChoiceRow):
        word = row.disposition.label.lower()
        return f"{at}: not yet {word}; {above}: {word}"
    if not isinstance(row, LimitRow):
        return f"{at} is the eased limit"
    if row.compare is Compare.NOT_LESS_THAN:
        return f"{at} is within; {below} is past"
    if row.compare is Compare.LESS_THAN:
        return f"{below} is within; {at} is past"
    return f"{at} is within; {above} is past"


def typed(value: Decimal, figure: Figure, units: UnitPreference) -> str:
    """A value as the form shows it to be changed, exact whatever the reader's units."""
    if figure is Figure.CAP and units.speed != "mph":
        return f"{value.normalize():f} mph"
    if figure not in LENGTHS or units.length == "mm":
        return f"{value.normalize():f}"
    inches = from_stored(value, UNITS["in"])
    if 128 % inches.denominator:
        return f"{value.normalize():f} mm"
    whole, rest = divmod(inches.numerator, inches.denominator)
    fraction = f"{rest}/{inches.denominator}" if rest else ""
    return f"{whole or ''} {fraction}".strip() or "0"


def rule_words(rule: OwnerRule, units: UnitPreference) -> str:
    """What a proposed or approved rule sets, in short."""
    words = figure_words(Figure(rule.figure), rule.value, units)
    on = "" if rule.track_class is None else f" on class {rule.track_class}"
    typed_as = f", typed as {rule.typed}" if rule.typed else ""
    return f"{words}{typed_as}{on}"
