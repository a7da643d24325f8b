"""At which value of each measurement the answer would be another one.

Answers change only at the figures of rows, so the nearest one on either side is found by asking at
those figures and just past them; no search by halving, and exact at the limit.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from repairs.triage.decide import judge, judged_class
from repairs.triage.decision import Finding, Outcome, Traffic, TrafficKind
from repairs.triage.facts import Case, Reading
from repairs.triage.governing import governing_values
from repairs.triage.limits import limit_on
from repairs.triage.rows import Compare, DefectPart, LimitRow
from repairs.triage.rules import RuleSet, rules_in_force
from repairs.triage.words import said_length, said_speed
from turnouts.analysis.terms import Disposition, Quantity
from turnouts.analysis.units import PLACES

Answer = tuple[Traffic, Disposition]


@dataclass(frozen=True, slots=True)
class TurningPoint:
    """The nearest value, rising or falling from ``now``, at which the answer is another.

    ``at_value`` tells whether it already is at ``value`` itself or only past it. Either a quantity
    or a part of the defect is named. ``now`` is ``None`` for a reading nobody has taken yet.
    """

    quantity: Quantity | None
    part: DefectPart | None
    now: Decimal | None
    value: Decimal
    rising: bool
    at_value: bool
    traffic: Traffic
    disposition: Disposition
    sentence: str


def turning_points(case: Case, rules: RuleSet) -> tuple[TurningPoint, ...]:
    """For each measured value, and each needed one, where traffic or disposition would change.

    Those of the value the answer hangs on come first.
    Lengths are in mm. Raises RuleError when no rules are in force on the day of the decision.
    """
    rules = rules_in_force(rules, case.decided_on)
    judged = judge(case, rules)
    before = (judged.traffic, judged.choice.disposition)
    points: list[TurningPoint] = []
    for knob in _knobs(case, judged.findings, rules):
        for rising in (True, False):
            found = _nearest(knob, case, rules, before, rising=rising)
            points += [found] if found is not None else []
    for finding in judged.findings:
        if finding.required and finding.outcome is Outcome.NOT_MEASURED:
            points += _if_measured(finding, case, rules, before)
    rank = {name: place for place, name in enumerate(governing_values(case, (rules,)))}
    return tuple(sorted(points, key=lambda p: rank.get((p.quantity, p.part), len(rank))))


def hardened_skin(case: Case) -> set[Decimal]:
    """The depth in mm at which a hollow has gone through the skin, where that is known."""
    skin = None if case.defect is None else case.defect.hardened_mm
    return set() if skin is None else {skin}


def with_reading(case: Case, reading: Reading, value: Decimal) -> Case:
    """The case with one of its readings at another value, in mm."""
    others = tuple(r for r in case.readings if r is not reading)
    return replace(case, readings=(*others, replace(reading, value=value)))


def with_size(case: Case, part: DefectPart, value: Decimal) -> Case:
    """The case with depth or length of its defect at another value in mm; ValueError with none."""
    if case.defect is None:
        raise ValueError("There is no defect in this case whose size could be another.")
    if part is DefectPart.DEPTH:
        return replace(case, defect=replace(case.defect, depth_mm=value))
    return replace(case, defect=replace(case.defect, length_mm=value))


@dataclass(frozen=True, slots=True)
class _Knob:
    """One measured value that is turned, with the figures of rows where something may happen."""

    quantity: Quantity | None
    part: DefectPart | None
    now: Decimal
    reading: Reading | None
    figures: tuple[Decimal, ...]

    def turned(self, case: Case, value: Decimal) -> Case:
        if self.reading is not None:
            return with_reading(case, self.reading, value)
        return with_size(case, self.part or DefectPart.DEPTH, value)


def _knobs(case: Case, findings: list[Finding], rules: RuleSet) -> Iterator[_Knob]:
    judged = {f.rule_id for f in findings}
    rows = [row for row in rules.limits if row.rule in judged]
    for quantity in dict.fromkeys(r.quantity for r in case.readings):
        gauging = [row for row in rows if row.quantity is quantity]
        if gauging:
            reading = _governing(case, gauging[0])
            parts = {row.defect_part for row in gauging}
            figures = _figures(gauging, parts, reading.uncertainty, case, rules)
            yield _Knob(quantity, None, reading.value, reading, figures)
    if case.defect is None:
        return
    sizes = {DefectPart.DEPTH: case.defect.depth_mm, DefectPart.LENGTH: case.defect.length_mm}
    for part, now in sizes.items():
        if now is not None:
            sized = [row for row in rows if row.defect_part is part]
            figures = _figures(sized, {part}, case.defect.uncertainty_mm, case, rules)
            yield _Knob(None, part, now, None, figures)


def _governing(case: Case, row: LimitRow) -> Reading:
    """The newest reading of a quantity, and of one day the worst."""
    taken = [r for r in case.readings if r.quantity is row.quantity]
    newest = max(r.taken_on for r in taken)
    today = [r for r in taken if r.taken_on == newest]
    if row.compare is Compare.NOT_LESS_THAN:
        return min(today, key=lambda r: r.value - r.uncertainty)
    return max(today, key=lambda r: r.value + r.uncertainty)


def _figures(
    rows: list[LimitRow],
    parts: set[DefectPart | None],
    give_or_take: Decimal,
    case: Case,
    rules: RuleSet,
) -> tuple[Decimal, ...]:
    """The values where a row's answer may change; within the uncertainty of a limit is past it."""
    limits = {mm for row in rows for mm in (*row.by_class.values(), row.value) if mm is not None}
    named = {row.rule for row in rows}
    limits |= {e.value for e in rules.exceptions if e.relaxes in named and e.value is not None}
    found = {mm + away for mm in limits for away in (-give_or_take, Decimal(0), give_or_take)}
    if DefectPart.DEPTH in parts:
        found |= {c.depth_over for c in rules.choices if c.depth_over is not None}
        found |= hardened_skin(case)
    if DefectPart.LENGTH in parts:
        found |= {c.length_over for c in rules.choices if c.length_over is not None}
        bounds = {mm for row in rules.rail_defects for mm in (row.over, row.up_to)}
        found |= {mm - give_or_take for mm in bounds if mm is not None}
    return tuple(sorted(mm for mm in found if mm >= 0))


def _nearest(
    knob: _Knob, case: Case, rules: RuleSet, before: Answer, *, rising: bool
) -> TurningPoint | None:
    onward = [mm for mm in knob.figures if (mm >= knob.now if rising else mm <= knob.now)]
    step = PLACES if rising else -PLACES
    for figure in onward if rising else reversed(onward):
        for value in (figure, figure + step):
            if value == knob.now or value < 0:
                continue
            after = _answer(knob.turned(case, value), rules)
            if after != before:
                at_value = value == figure
                return _point(knob.quantity, knob.part, knob.now, figure, rising, at_value, after)
    return None


def _if_measured(
    finding: Finding, case: Case, rules: RuleSet, before: Answer
) -> Iterator[TurningPoint]:
    """What a needed reading would change if it came out at its limit, and if just past it."""
    row = next((r for r in rules.limits if r.rule == finding.rule_id), None)
    if row is None or row.quantity is None:
        return
    limit = limit_on(row, case, rules, judged_class(case, rules))
    more_is_better = row.compare is Compare.NOT_LESS_THAN
    for at_value in (True, False):
        value = limit if at_value else limit + (-PLACES if more_is_better else PLACES)
        reading = Reading(row.quantity, value, case.decided_on, "if measured")
        after = _answer(replace(case, readings=(*case.readings, reading)), rules)
        if after != before:
            rising = more_is_better is at_value
            yield _point(row.quantity, None, None, limit, rising, at_value, after)


def _answer(case: Case, rules: RuleSet) -> Answer:
    judged = judge(case, rules)
    return judged.traffic, judged.choice.disposition


def _point(
    quantity: Quantity | None,
    part: DefectPart | None,
    now: Decimal | None,
    value: Decimal,
    rising: bool,
    at_value: bool,
    after: Answer,
) -> TurningPoint:
    traffic, disposition = after
    what = quantity.label if quantity is not None else f"{part} of the defect".capitalize()
    way = ("from" if at_value else "past", "up" if rising else "down")
    said = (
        f"{what} {way[0]} {said_length(value)} {way[1]}: {_traffic_said(traffic)}, "
        f"{disposition.label.lower()}."
    )
    return TurningPoint(quantity, part, now, value, rising, at_value, traffic, disposition, said)


def _traffic_said(traffic: Traffic) -> str:
    if traffic.kind is TrafficKind.STOP:
        return "stop"
    if traffic.kind is TrafficKind.UNKNOWN:
        return "no speed is cleared"
    if traffic.speed_mph is None:
        return "line speed"
    return f"not over {said_speed(traffic.speed_mph, traffic.passenger_mph)}"
