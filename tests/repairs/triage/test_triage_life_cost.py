"""Weld in track, weld in the shop or replace: what each costs a year, and where that turns."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy_financial as npf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.triage.break_even import Turning, break_evens, curve, life_for, price_for
from repairs.triage.decide import decide
from repairs.triage.decision import Decision
from repairs.triage.facts import Case, ComponentFacts, DefectFacts, Reading, TrackFacts
from repairs.triage.life_cost import GROUPS, LifeCost, Line, Way, cost_of, life_cost
from repairs.triage.priority import PRICES, price
from repairs.triage.rules import federal_rules
from turnouts.analysis.dated import read_dated
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    Disposition,
    FrogDesign,
    Quantity,
    Steel,
    Zone,
)

DAY = date(2026, 11, 20)
BUSY = Line(mgt_per_year=20, line_kmh=96.56, trains_per_day=20, currency="USD")


rates = st.just(0.0) | st.floats(1e-6, 0.3)
"""No interest, or some: between lie numbers with too few digits to divide by."""


def way(price_: float, life: float, chance: float = 0.0, **more: float) -> Way:
    days = {"wait_days": 0.0, "waiting": 0.0, "failing": 0.0, "grinding": 0.0} | more
    return Way(Disposition.WELD_IN_TRACK, price_, life, chance, **days)


def test_a_way_without_failures_or_waiting_is_its_price_spread_over_its_life() -> None:
    # 40 MGT at 20 MGT a year are two years; at 0 % that is half the price a year
    cost = cost_of(way(5_000, 40), BUSY, 0.0)
    assert (cost.years, cost.equal_annual) == (2, 2_500)


def test_an_even_chance_of_failing_doubles_price_and_waiting() -> None:
    # p / (1 - p) is 1 at one half: everything is done once more, under a restriction again
    sure = cost_of(way(5_000, 40, wait_days=7, waiting=100, failing=100), BUSY, 0.0)
    even = cost_of(way(5_000, 40, 0.5, wait_days=7, waiting=100, failing=100), BUSY, 0.0)
    assert sure.equal_annual == (5_000 + 700) / 2
    assert even.equal_annual == 2 * sure.equal_annual


@given(
    st.floats(100, 1e5),
    st.floats(1, 400),
    st.floats(0, 0.9),
    rates,
    st.floats(1.01, 3),
)
def test_dearer_shorter_lived_and_less_sure_never_cost_less(
    price_: float, life: float, chance: float, interest: float, more: float
) -> None:
    base = way(price_, life, chance, wait_days=7, waiting=50, failing=200, grinding=400)

    def annual(changed: Way) -> float:
        return cost_of(changed, BUSY, interest).equal_annual

    assert annual(replace(base, price=price_ * more)) > annual(base)
    assert annual(replace(base, life_mgt=life * more)) < annual(base)
    assert annual(replace(base, failure_chance=min(chance + 0.05, 0.95))) > annual(base)
    assert annual(replace(base, wait_days=14)) > annual(base)


def test_a_certain_failure_is_no_way() -> None:
    with pytest.raises(ValueError, match="0 to under 1"):
        way(1, 1, 1.0)


def decided(
    design: FrogDesign = FrogDesign.RAIL_BOUND_MANGANESE,
    kind: DefectKind = DefectKind.SPALL,
    earlier_welds: int = 0,
    depth: str = "8",
) -> Decision:
    steel = Steel.CARBON if design is FrogDesign.SPRING else Steel.MANGANESE
    frog = ComponentFacts(ComponentKind.FROG, design, steel, earlier_welds_here=earlier_welds)
    readings = {
        Quantity.FLANGEWAY_DEPTH: "47",
        Quantity.GUARD_CHECK_GAGE: "1387.475",
        Quantity.GUARD_FACE_GAGE: "1339.85",
        Quantity.HORN_CLEARANCE: "3",
    }
    taken = tuple(Reading(q, Decimal(mm), DAY, "R") for q, mm in readings.items())
    defect = DefectFacts(kind, Zone.TREAD, Decimal(60), depth_mm=Decimal(depth), reaches_base=False)
    return decide(Case(frog, defect, taken, TrackFacts(4), DAY, DAY), federal_rules())


def test_the_ways_are_told_cheapest_first_with_their_reasons() -> None:
    cost = life_cost(decided(), ComponentKind.FROG, BUSY, DAY)
    assert [o.equal_annual for o in cost.options] == sorted(o.equal_annual for o in cost.options)
    assert {o.way.disposition for o in cost.options} == set(GROUPS[ComponentKind.FROG][1])
    assert cost.agrees is (cost.cheapest is Disposition.WELD_IN_TRACK)
    assert all(re.search(r": USD\s[\d,]+ a year over", o.reason) for o in cost.options)


def test_the_cost_of_each_way_is_that_of_the_reference_library() -> None:
    cost = life_cost(decided(), ComponentKind.FROG, BUSY, DAY)
    interest = price("interest", DAY)
    for option in cost.options:
        worth = sum(f.amount / (1 + interest) ** f.year for f in option.way.flows())
        assert option.present_worth == pytest.approx(worth)
        assert option.equal_annual == pytest.approx(-npf.pmt(interest, option.years, worth))


def test_a_rule_that_goes_against_the_money_stands_and_says_so() -> None:
    # seven welds at the place: the railway's own rule says replace; a weld would be cheaper still
    decision = decided(earlier_welds=7)
    assert decision.disposition is Disposition.REPLACE
    quiet = Line(mgt_per_year=2, line_kmh=40, trains_per_day=1, currency="USD")
    cost = life_cost(decision, ComponentKind.FROG, quiet, DAY)
    assert not cost.agrees
    assert cost.saving > 0
    assert cost.sentence.startswith("By the rules: replace, welded at this place more than five")
    assert cost.sentence.endswith("The rules stand; the engineer decides.")


def test_where_the_law_wants_replacement_no_weld_is_open_however_cheap() -> None:
    # 49 CFR 213.139(c): a spring frog with a bolt-hole defect is replaced
    decision = decided(FrogDesign.SPRING, DefectKind.BOLT_HOLE_CRACK, depth="1")
    cost = life_cost(decision, ComponentKind.FROG, BUSY, DAY)
    assert cost.cheapest is Disposition.REPLACE
    assert cost.agrees
    closed = [o for o in cost.options if not o.open]
    assert len(closed) == 2
    assert all("213.139(c)" in o.reason for o in closed)
    assert break_evens(cost, BUSY, 0.07) == ()


def test_with_no_access_no_weld_in_track_is_open_and_with_none_recorded_it_is() -> None:
    blocked = life_cost(decided(), ComponentKind.FROG, BUSY, DAY, access=False)
    track = next(o for o in blocked.options if o.way.disposition is Disposition.WELD_IN_TRACK)
    assert not track.open
    assert "cannot get at the place" in track.reason
    assert blocked.cheapest is not Disposition.WELD_IN_TRACK
    for access in (True, None):
        free = life_cost(decided(), ComponentKind.FROG, BUSY, DAY, access=access)
        assert all(option.open for option in free.options)


@pytest.mark.parametrize("kind", [ComponentKind.GUARD_RAIL, ComponentKind.PLATE])
def test_a_part_that_is_set_or_changed_has_nothing_to_compare(kind: ComponentKind) -> None:
    with pytest.raises(ValueError, match="nothing to compare"):
        life_cost(decided(), kind, BUSY, DAY)


def test_a_decision_to_watch_has_nothing_to_compare() -> None:
    with pytest.raises(ValueError, match="decision is to watch"):
        life_cost(decided(depth="1"), ComponentKind.FROG, BUSY, DAY)


def test_a_line_without_tonnage_is_refused() -> None:
    with pytest.raises(ValueError, match="tonnage above zero"):
        Line(0, 60, 10, "USD")


# --- where the answer turns -------------------------------------------------------------------


def costs(line: Line = BUSY) -> LifeCost:
    return life_cost(decided(), ComponentKind.FROG, line, DAY)


@given(st.floats(1, 60), st.floats(0, 60), rates)
def test_at_a_break_even_the_two_ways_cost_the_same(
    mgt: float, trains: float, interest: float
) -> None:
    line = Line(mgt, 96.56, trains, "USD")
    options = sorted(
        (cost_of(o.way, line, interest) for o in costs(line).options),
        key=lambda o: o.equal_annual,
    )
    best, other = options[0], options[1]
    life = life_for(best.way, other.equal_annual, line, interest)
    assert life is not None
    assert life <= best.way.life_mgt * (1 + 1e-9)
    at_life = cost_of(replace(best.way, life_mgt=life), line, interest)
    assert at_life.equal_annual == pytest.approx(other.equal_annual, rel=1e-6)
    for way_, target in ((best.way, other.equal_annual), (other.way, best.equal_annual)):
        at = price_for(way_, target, line, interest)
        if at is not None:
            turned = cost_of(replace(way_, price=at), line, interest)
            assert turned.equal_annual == pytest.approx(target, rel=1e-6)


def test_the_break_evens_say_the_figure_and_what_is_taken_now() -> None:
    life, dearest, lowest = break_evens(costs(), BUSY, price("interest", DAY))
    assert (life.figure, dearest.figure, lowest.figure) == (
        Turning.LIFE,
        Turning.PRICE,
        Turning.PRICE,
    )
    assert life.value is not None
    assert life.value < life.now
    assert f"more than {life.value:.0f} MGT" in life.sentence
    assert dearest.value is not None
    assert dearest.value > dearest.now
    assert f"less than USD\N{NO-BREAK SPACE}{dearest.value:,.0f}" in dearest.sentence
    assert "would be cheaper below" in lowest.sentence or "dearer at any price" in lowest.sentence


def test_no_life_and_no_price_are_said_as_such() -> None:
    dear = way(10_000, 40, wait_days=10, waiting=1_000)
    assert life_for(dear, 100, BUSY, 0.07) is None
    assert price_for(dear, 100, BUSY, 0.07) is None


def test_the_curve_falls_and_passes_through_the_way_itself() -> None:
    option = costs().options[0]
    interest = price("interest", DAY)
    points = curve(option, BUSY, interest, up_to_mgt=option.way.life_mgt, points=10)
    assert [life for life, _ in points] == sorted(life for life, _ in points)
    assert [cost for _, cost in points] == sorted((cost for _, cost in points), reverse=True)
    assert points[-1] == pytest.approx((option.way.life_mgt, option.equal_annual))


def test_every_price_of_a_life_says_where_it_comes_from() -> None:
    rows = {row.name: row for row in read_dated(PRICES)}
    for group, ways in GROUPS.values():
        for one in ways:
            for name in (f"{group}_{one.value}_price", f"{group}_{one.value}_life"):
                assert rows[name].why
                assert rows[name].source in federal_rules().sources
