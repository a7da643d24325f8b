"""Weld again or replace: from a component's record and the prices to the engineer's word."""

from datetime import date, timedelta
from decimal import Decimal
from math import log1p

import pytest
from django.db import DatabaseError, transaction

from repairs.models import Decision, RenewalChoice
from repairs.services.renewal_choices import Chosen, choices_of, choose_renewal
from repairs.services.weld_or_replace import Costs, weld_or_replace_costs
from tests import railway
from tests.repairs import rows
from tests.repairs.rows import NOW
from tests.turnouts.test_component_file import night, records_since, repaired
from turnouts.access import Forbidden
from turnouts.analysis.renewal.ways import Way
from turnouts.analysis.terms import ComponentKind, Position
from turnouts.lifeline import life_line
from turnouts.models import Component, Person, Turnout
from turnouts.services.component_file import with_history
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db

TODAY = date(2026, 11, 25)
WELD_AGAIN = Chosen(Way.WELD, 2, None, "The last two welds held for three years.")


@pytest.fixture
def spot() -> Turnout:
    return railway.turnout()


def frog_welded(spot: Turnout, days_ago: tuple[int, ...]) -> Component:
    frog = railway.component()
    railway.install(frog, spot)
    for days in days_ago:
        repaired(frog, spot, days_ago=days)
    return frog


def costs(component: Component, window_on: date | None = None) -> Costs:
    row = with_history(Component.objects.all()).get(pk=component.pk)
    return weld_or_replace_costs(row, TODAY, window_on)


def test_prices_are_the_railways_rows(spot: Turnout) -> None:
    """prices.toml: 5,000 and 32,000 with 2 x 400 of grinding; 0.8 of the price in a window."""
    found = costs(frog_welded(spot, (400,)))
    assert found.prices.weld == 5_800
    assert found.prices.replace_now == 32_800
    assert found.prices.replace_in_window == pytest.approx(0.8 * 32_000 + 800)
    assert found.mgt_a_year == 12
    assert found.renewal.interest_per_mgt == pytest.approx(log1p(0.07) / 12)
    assert {row.row.name for row in found.assumed} >= {"interest", "frog_replace_price"}


def test_without_its_like_the_lives_are_those_of_the_price_rows_and_it_says_so(
    spot: Turnout,
) -> None:
    found = costs(frog_welded(spot, ()))
    assert "So 35 MGT of the price row is taken" in found.grounds[0]
    assert "100 MGT of the price row are taken" in found.grounds[1]
    assert found.family_on is None


def test_welds_that_fail_soon_make_replacing_cheaper_than_where_they_last(spot: Turnout) -> None:
    records_since(spot, 2500)
    for place in range(8):
        frog_welded(railway.turnout(spot.track), (1400 - place, 900, 300))
    bad = frog_welded(railway.turnout(spot.track), tuple(range(60, 1400, 40)))
    good = frog_welded(railway.turnout(spot.track), (1400,))
    night()
    short, long = costs(bad), costs(good)
    assert short.family_on == TODAY
    assert short.advice.mean_weld_life_mgt < long.advice.mean_weld_life_mgt
    assert short.advice.chance_weld_pays < long.advice.chance_weld_pays
    assert short.advice.recommended.way is Way.REPLACE_NOW
    assert "34 welds of this component, 33 of them failed" in short.advice.reasons[2]


def test_a_window_adds_a_way_and_one_that_has_passed_is_refused(spot: Turnout) -> None:
    frog = frog_welded(spot, (400,))
    assert Way.REPLACE_IN_WINDOW not in {one.way for one in costs(frog).advice.options}
    then = costs(frog, TODAY + timedelta(days=1))
    assert Way.REPLACE_IN_WINDOW in {one.way for one in then.advice.options}
    assert then.renewal.window_mgt == pytest.approx(12 / 365.25, rel=1e-3)
    with pytest.raises(Refused, match="is not ahead"):
        costs(frog, TODAY)


def test_parts_nobody_welds_and_parts_out_of_track_are_refused(spot: Turnout) -> None:
    guard = railway.component(ComponentKind.GUARD_RAIL)
    railway.install(guard, spot, Position.THROUGH_GUARD_RAIL)
    with pytest.raises(Refused, match="is set or changed"):
        costs(guard)
    frog = frog_welded(spot, ())
    frog.installations.update(removed_on=date(2026, 6, 1), mgt_at_removal=Decimal(80))
    with pytest.raises(Refused, match="is not in track"):
        costs(frog)


def decide(
    by: Person, frog: Component, seen: int | None = None, chosen: Chosen = WELD_AGAIN
) -> RenewalChoice:
    return choose_renewal(by=by, component=frog, chosen=chosen, seen=seen, on=TODAY, at=NOW)


def test_the_decision_is_kept_with_what_the_costs_said(spot: Turnout) -> None:
    frog, engineer = frog_welded(spot, (400,)), railway.person("engineer")
    row = decide(engineer, frog)
    said = costs(frog).advice
    assert (row.by, row.role, row.words) == (
        engineer,
        "engineer",
        "Weld 2 more times, then replace",
    )
    assert row.detail["sentence"] == said.sentence
    assert row.detail["break_even_mgt"] == said.break_even_mgt
    assert row.advised_way == said.recommended.way.value
    events = [event for event in life_line(frog, engineer) if event.kind == "Weld or replace"]
    assert [event.words for event in events] == ["Weld 2 more times, then replace"]
    assert "held for three years" in events[0].detail


def test_a_later_decision_takes_its_place_and_both_stand(spot: Turnout) -> None:
    frog, engineer = frog_welded(spot, ()), railway.person("engineer")
    first = decide(engineer, frog)
    window = Chosen(Way.REPLACE_IN_WINDOW, 0, date(2027, 6, 1), "Renewed then anyway.")
    second = decide(engineer, frog, first.pk, window)
    assert choices_of(frog) == [second, first]
    assert second.takes_place_of == first
    assert second.words == "Replace in the renewal window of 2027-06-01"


def test_of_two_engineers_the_second_is_told(spot: Turnout) -> None:
    frog = frog_welded(spot, ())
    decide(railway.person("engineer"), frog)
    with pytest.raises(Conflict, match="Somebody else has decided"):
        decide(railway.person("engineer"), frog)
    assert RenewalChoice.objects.count() == 1


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "administrator"])
def test_only_an_engineer_decides(spot: Turnout, role: str) -> None:
    with pytest.raises(Forbidden, match="You may not decide whether to weld again or replace"):
        decide(railway.person(role), frog_welded(spot, ()))


def test_an_engineer_of_another_territory_does_not(spot: Turnout) -> None:
    with pytest.raises(Forbidden):
        decide(railway.person("engineer", railway.territory()), frog_welded(spot, ()))


@pytest.mark.parametrize(
    ("chosen", "said"),
    [
        (Chosen(Way.WELD, 1, None, "  "), "Say why"),
        (Chosen(Way.WELD, 1, None, "x" * 501), "too long"),
        (Chosen(Way.WELD, 0, None, "r"), "how many more times"),
        (Chosen(Way.WELD, 21, None, "r"), "how many more times"),
        (Chosen(Way.REPLACE_IN_WINDOW, 0, None, "r"), "day of the renewal window"),
    ],
)
def test_a_decision_that_says_too_little_is_refused(
    spot: Turnout, chosen: Chosen, said: str
) -> None:
    with pytest.raises(Refused, match=said):
        decide(railway.person("engineer"), frog_welded(spot, ()), chosen=chosen)


def test_a_decision_is_never_altered_or_deleted(spot: Turnout) -> None:
    row = decide(railway.person("engineer"), frog_welded(spot, ()))
    with pytest.raises(DatabaseError, match="Cannot delete or update"), transaction.atomic():
        RenewalChoice.objects.update(reason="Something else")
    with pytest.raises(DatabaseError, match="Cannot delete or update"), transaction.atomic():
        row.delete()


def test_slow_orders_stand_on_the_life_line() -> None:
    """Past 5/8 in over 6 in, 49 CFR 213.137(b): 10 mph until it is repaired."""
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    rows.judged(railway.person("engineer"))
    decision = Decision.objects.get(defect=defect)
    assert decision.traffic == "restricted"
    events = life_line(defect.component, railway.person("engineer"))
    (slow,) = [event for event in events if event.kind == "Slow order"]
    assert slow.detail == decision.sentence
