"""When a turnout is inspected next: 49 CFR 213.235, 213.233 and Quebec's section 59."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.triage.facts import InspectionFacts
from repairs.triage.inspection import InspectionDue, inspections_due
from repairs.triage.inspection_rows import InspectionKind
from repairs.triage.rules import federal_rules, rule_sets

TODAY = date(2026, 11, 20)
US = federal_rules()


def one(kind: InspectionKind, facts: InspectionFacts, track_class: int | None) -> InspectionDue:
    (found,) = (d for d in inspections_due(facts, track_class, US, TODAY) if d.kind is kind)
    return found


@pytest.mark.parametrize(
    ("walked", "due"),
    [
        (date(2026, 10, 20), date(2026, 11, 20)),
        (date(2026, 1, 31), date(2026, 2, 28)),  # February has no 31st; the last day counts
        (date(2027, 12, 31), date(2028, 1, 31)),
        (date(2028, 1, 30), date(2028, 2, 29)),
    ],
)
def test_monthly_is_the_same_day_of_the_next_month(walked: date, due: date) -> None:
    found = one(InspectionKind.ON_FOOT, InspectionFacts(walked_on=walked, used_monthly=True), 1)
    assert (found.due_on, found.clause) == (due, "49 CFR 213.235(a)")


def test_the_throw_test_is_asked_of_class_3_to_5_with_one_rod_every_three_months() -> None:
    facts = InspectionFacts(thrown_on=date(2026, 8, 31), held_by_one_rod=True)
    for track_class in (3, 4, 5):
        found = one(InspectionKind.THROW, facts, track_class)
        assert (found.due_on, found.overdue) == (date(2026, 11, 30), False)
    kinds = {d.kind for d in inspections_due(facts, 2, US, TODAY)}
    assert InspectionKind.THROW not in kinds


def test_a_throw_test_that_nobody_recorded_is_overdue() -> None:
    found = one(InspectionKind.THROW, InspectionFacts(held_by_one_rod=True), 3)
    assert (found.overdue, found.due_on, found.last) == (True, None, None)
    assert "None is on record" in found.sentence


def test_facts_nobody_recorded_do_not_excuse_and_are_named() -> None:
    facts = InspectionFacts(walked_on=TODAY - timedelta(days=5))
    found = one(InspectionKind.THROW, facts, None)
    assert found.overdue
    assert found.unrecorded == ("held by one rod",)
    track = one(InspectionKind.TRACK, facts, 2)
    assert track.due_on == TODAY - timedelta(days=1)
    assert "passengers or over 10 mgt" in track.unrecorded


def test_seldom_used_track_is_walked_on_the_day_it_is_used() -> None:
    facts = InspectionFacts(walked_on=TODAY - timedelta(days=1), used_monthly=False)
    assert one(InspectionKind.ON_FOOT, facts, 1).overdue
    walked = InspectionFacts(walked_on=TODAY, used_monthly=False)
    assert not one(InspectionKind.ON_FOOT, walked, 1).overdue


def test_quebec_asks_for_a_walk_each_half_year() -> None:
    rules = rule_sets()["ca-qc-s33r2"]
    (found,) = inspections_due(InspectionFacts(walked_on=date(2026, 8, 31)), None, rules, TODAY)
    assert (found.due_on, found.overdue) == (date(2027, 2, 28), False)


days = st.none() | st.integers(0, 400).map(lambda n: TODAY - timedelta(days=n))
truth = st.none() | st.booleans()
facts = st.builds(InspectionFacts, days, days, days, truth, truth, truth, truth)


@given(facts, st.none() | st.integers(0, 5), st.integers(0, 300))
def test_waiting_longer_never_makes_an_overdue_inspection_good(
    given_facts: InspectionFacts, track_class: int | None, more: int
) -> None:
    now = {d.kind for d in inspections_due(given_facts, track_class, US, TODAY) if d.overdue}
    later = inspections_due(given_facts, track_class, US, TODAY + timedelta(days=more))
    assert now <= {d.kind for d in later if d.overdue}


@given(facts, st.integers(0, 5))
def test_a_fact_left_out_never_puts_an_inspection_off(
    given_facts: InspectionFacts, track_class: int
) -> None:
    known = {d.kind: d for d in inspections_due(given_facts, track_class, US, TODAY)}
    blank = replace(
        given_facts,
        held_by_one_rod=None,
        used_monthly=None,
        main_or_siding=None,
        passengers_or_over_10_mgt=None,
    )
    unknown = {d.kind: d for d in inspections_due(blank, track_class, US, TODAY)}
    assert set(known) <= set(unknown)
    for kind, due in known.items():
        assert not due.overdue or unknown[kind].overdue
