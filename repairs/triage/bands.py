"""How the answer runs along one measured value: from where to where it is the same.

Answers change only at the figures of rows, so the answer is asked at those and just beside them.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from repairs.triage.decision import Decision, Traffic
from repairs.triage.facts import Case, Reading
from repairs.triage.governing import governing_values
from repairs.triage.rows import Compare, DefectPart, LimitRow
from repairs.triage.rules import RuleSet, rules_in_force
from repairs.triage.turning import hardened_skin, with_reading, with_size
from turnouts.analysis.terms import Disposition, Quantity
from turnouts.analysis.units import PLACES

IF_MEASURED = "if measured"

Judge = Callable[[Case], Decision]
"""What gives the answer to a case: one rule set, or several of which the strictest stands."""


@dataclass(frozen=True, slots=True)
class Turned:
    """One value of a case that may be asked about: a quantity, or a size of the defect.

    ``now`` is its value in mm, ``None`` where nobody measured it; ``limits`` are those of the
    rows that speak of it, for the range of a scale.
    """

    quantity: Quantity | None
    part: DefectPart | None
    now: Decimal | None
    uncertainty: Decimal
    limits: tuple[Decimal, ...]

    @property
    def name(self) -> str:
        return self.quantity.value if self.quantity is not None else f"defect_{self.part}"

    @property
    def label(self) -> str:
        if self.quantity is not None:
            return self.quantity.label
        return f"{self.part} of the defect".capitalize()

    @property
    def figures(self) -> tuple[Decimal, ...]:
        """Where the answer may change; a value within its uncertainty of a limit is past it."""
        u = self.uncertainty
        found = {mm + away for mm in self.limits for away in (-u, Decimal(0), u)}
        return tuple(sorted(mm for mm in found if mm > 0))


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of values with one answer, in mm; an end belongs to it unless it is open.

    ``high`` is ``None`` where nothing changes any more.
    """

    low: Decimal
    low_open: bool
    high: Decimal | None
    high_open: bool
    traffic: Traffic
    disposition: Disposition

    def holds(self, mm: Decimal) -> bool:
        above = mm > self.low if self.low_open else mm >= self.low
        if self.high is None or not above:
            return above
        return mm < self.high if self.high_open else mm <= self.high


def values_of(case: Case, sets: Sequence[RuleSet]) -> tuple[Turned, ...]:
    """What can be asked about in this case: all lengths that a limit or a choice looks at.

    The value the answer hangs on comes first.
    Raises RuleError when no rules are in force on the day of the decision.
    """
    rules = [rules_in_force(one, case.decided_on) for one in sets]
    rows = [
        row
        for one in rules
        for row in one.limits
        if row.where.speaks_of_component(case.component) is not False
    ]
    found = [_quantity(q, case, rows, rules) for q in dict.fromkeys(r.quantity for r in rows) if q]
    defect = case.defect
    if defect is not None:
        sizes = ((DefectPart.DEPTH, defect.depth_mm), (DefectPart.LENGTH, defect.length_mm))
        for part, now in sizes:
            sized = [row for row in rows if row.defect_part is part]
            limits = _limits(sized, {part}, case, rules)
            found.append(Turned(None, part, now, defect.uncertainty_mm, limits))
    first = governing_values(case, rules)
    rank = {name: place for place, name in enumerate(first)}
    asked = (one for one in found if one.limits)
    return tuple(sorted(asked, key=lambda one: rank.get((one.quantity, one.part), len(rank))))


def turned(case: Case, what: Turned, mm: Decimal) -> Case:
    """The case with one value at ``mm``; of several readings of a day the governing one."""
    if what.part is not None:
        return with_size(case, what.part, mm)
    if what.quantity is None:
        raise ValueError("There is no defect in this case whose size could be another.")
    governing = next(
        (r for r in _newest(case, what.quantity) if r.value == what.now),
        Reading(what.quantity, mm, case.decided_on, IF_MEASURED),
    )
    return with_reading(case, governing, mm)


def bands(case: Case, what: Turned, judge: Judge) -> tuple[Band, ...]:
    """The stretches of one value from zero up, each with its answer."""
    found: list[Band] = []
    for low, low_open, answer in _steps(case, what, judge):
        same = found and (found[-1].traffic, found[-1].disposition) == answer
        if same:
            continue
        if found:
            found[-1] = replace(found[-1], high=low, high_open=not low_open)
        found.append(Band(low, low_open, None, False, *answer))
    return tuple(found)


def _steps(
    case: Case, what: Turned, judge: Judge
) -> Iterator[tuple[Decimal, bool, tuple[Traffic, Disposition]]]:
    """Where a new answer may begin, with the answer there: at each figure, and just past it."""
    yield Decimal(0), False, _answer(judge(turned(case, what, Decimal(0))))
    for figure in what.figures:
        yield figure, False, _answer(judge(turned(case, what, figure)))
        yield figure, True, _answer(judge(turned(case, what, figure + PLACES)))


def _answer(decision: Decision) -> tuple[Traffic, Disposition]:
    return decision.traffic, decision.disposition


def _quantity(quantity: Quantity, case: Case, rows: list[LimitRow], rules: list[RuleSet]) -> Turned:
    gauging = [row for row in rows if row.quantity is quantity]
    parts = {row.defect_part for row in gauging if row.defect_part is not None}
    reading = _governing(case, quantity, gauging[0].compare)
    return Turned(
        quantity,
        None,
        reading.value if reading else None,
        reading.uncertainty if reading else Decimal(0),
        _limits(gauging, parts, case, rules),
    )


def _newest(case: Case, quantity: Quantity) -> list[Reading]:
    taken = [r for r in case.readings if r.quantity is quantity]
    newest = max((r.taken_on for r in taken), default=None)
    return [r for r in taken if r.taken_on == newest]


def _governing(case: Case, quantity: Quantity, compare: Compare) -> Reading | None:
    """Of the newest readings the worst."""
    newest = _newest(case, quantity)
    if compare is Compare.NOT_LESS_THAN:
        return min(newest, key=lambda r: r.value - r.uncertainty, default=None)
    return max(newest, key=lambda r: r.value + r.uncertainty, default=None)


def _limits(
    rows: list[LimitRow], parts: set[DefectPart], case: Case, rules: list[RuleSet]
) -> tuple[Decimal, ...]:
    """All figures in mm that rows hold against such a value."""
    found = {mm for row in rows for mm in (row.value, *row.by_class.values())}
    named = {row.rule for row in rows}
    for one in rules:
        found |= {easing.value for easing in one.exceptions if easing.relaxes in named}
        if DefectPart.DEPTH in parts:
            found |= {choice.depth_over for choice in one.choices} | hardened_skin(case)
        if DefectPart.LENGTH in parts:
            found |= {choice.length_over for choice in one.choices}
            found |= {mm for row in one.rail_defects for mm in (row.over, row.up_to)}
    return tuple(sorted(mm for mm in found if mm is not None))
