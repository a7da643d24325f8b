"""Worked cases stand on both sides of every limit, in both units, and of every change date."""

from datetime import date, timedelta
from functools import cache

import pytest

from repairs.triage.coverage import CASES
from repairs.triage.decide import decide
from repairs.triage.decision import Outcome
from repairs.triage.limits import THE_DEFECT
from repairs.triage.read import RuleError
from repairs.triage.rows import LimitRow
from repairs.triage.rules import FEDERAL, RuleSet, rule_sets, rules_in_force
from repairs.triage.together import PAST
from repairs.triage.worked import WorkedCase, read_worked_cases

SETS = rule_sets()
SHARED = set.intersection(*({row.rule for row in rules.rows()} for rules in SETS.values()))
"""Rows that every set holds are the railway's own; they are worked through under the first."""
WANTED = {(side, unit) for side in ("within", "past") for unit in ("inches", "millimetres")}

LIMITS = [
    (name, row.rule, track_class)
    for name, rules in SETS.items()
    for row in rules.limits
    if name == FEDERAL or row.rule not in SHARED
    for track_class in (row.by_class or [None])
]

Place = tuple[str, str, int | None]


@cache
def worked() -> dict[Place, set[tuple[str, str]]]:
    """For each limit, and class where it has one for each, the sides and units worked through."""
    found: dict[Place, set[tuple[str, str]]] = {}
    for case in read_worked_cases(CASES):
        if not case.is_refused:
            for place, side in _sides(case):
                found.setdefault(place, set()).add(side)
    return found


def _sides(case: WorkedCase) -> list[tuple[Place, tuple[str, str]]]:
    rows = {row.rule: row for row in SETS[case.rules].limits}
    sides = []
    for finding in decide(case.case, SETS[case.rules]).findings:
        row = rows.get(finding.rule_id)
        if row is None or finding.outcome not in (Outcome.WITHIN, *PAST):
            continue
        typed = case.typed.get(_measured(row, finding.reference))
        if typed is not None:
            unit = "inches" if typed.endswith("in") else "millimetres"
            track_class = case.case.track.track_class if row.by_class else None
            side = "past" if finding.outcome in PAST else "within"
            sides.append(((case.rules, row.rule, track_class), (side, unit)))
    return sides


def _measured(row: LimitRow, reference: str) -> str:
    return str(row.defect_part if reference == THE_DEFECT else row.quantity)


@pytest.mark.parametrize("place", LIMITS, ids=str)
def test_each_limit_is_worked_through_on_both_sides_in_inches_and_in_millimetres(
    place: Place,
) -> None:
    assert worked().get(place, set()) == WANTED


def _dates(rules: RuleSet) -> set[date]:
    used = {row.source for row in rules.rows()}
    since = {s.since for s in rules.sources.values() if s.since is not None and s.key in used}
    begun = min(row.start for row in rules.limits if not row.railway_may_set)
    return {day for day in since | {row.start for row in rules.rows()} if day >= begun}


DATES = [(name, day) for name, rules in SETS.items() for day in sorted(_dates(rules))]


@pytest.mark.parametrize(("name", "day"), DATES, ids=str)
def test_rules_are_other_on_a_change_date_than_on_the_day_before(name: str, day: date) -> None:
    """A row begins, or its text is known to have been read; before the first there is no answer."""
    after = _in_force(name, day)
    assert after != _in_force(name, day - timedelta(days=1))


def _in_force(name: str, day: date) -> set[tuple[str, date, str]] | None:
    try:
        rules = rules_in_force(SETS[name], day)
    except RuleError:
        return None
    return {(row.rule, row.start, row.checked) for row in rules.rows()}
