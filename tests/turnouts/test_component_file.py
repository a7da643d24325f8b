"""The file of one component: from rows to what the analysis says of them."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import railway
from turnouts.analysis import tonnage
from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.hints.hints import Hint
from turnouts.analysis.recurrence.mean_cumulative import MeanCumulative
from turnouts.analysis.terms import Position, Quantity, Route
from turnouts.analysis.wear.wear import Wear
from turnouts.models import Component, DefectStep, Turnout
from turnouts.services.component_file import ComponentFile, Recurrence, component_file, with_history
from turnouts.services.errors import Refused
from turnouts.services.outlook import renew_outlook
from turnouts.services.tonnage_clock import clock_of

pytestmark = pytest.mark.django_db

TODAY = date(2026, 11, 25)
YEAR = timedelta(days=365)


def read(component: Component) -> Component:
    return with_history(Component.objects.all()).get(pk=component.pk)


def file_of(component: Component) -> ComponentFile:
    return component_file(read(component), TODAY)


def night(on: date = TODAY) -> None:
    """What the timetable does every night."""
    renew_outlook(on=on, progress=lambda done, total, words: None)


def worn(spot: Turnout, readings: list[str], every_days: int = 91) -> Component:
    """A frog whose tread was read so, the last time on the usual day."""
    frog = railway.component()
    railway.install(frog, spot)
    first = railway.VISIT - timedelta(days=every_days * (len(readings) - 1))
    for place, value in enumerate(readings):
        visit = railway.inspection(spot, inspected_at=first + place * timedelta(days=every_days))
        railway.measurement(visit, Quantity.TREAD_WEAR, value, frog)
    return frog


def records_since(spot: Turnout, days_ago: int = 1500) -> None:
    """The first inspection of the railway, so long before the usual day."""
    railway.inspection(spot, inspected_at=railway.VISIT - timedelta(days=days_ago))


def repaired(component: Component, spot: Turnout, days_ago: int, **values: str) -> None:
    """A spall on the tread found so long before the usual day and repaired a week later."""
    at = railway.VISIT - timedelta(days=days_ago)
    visit = railway.inspection(spot, inspected_at=at)
    found = railway.defect(component, visit, state="closed", **values)
    DefectStep.objects.create(
        defect=found, state="repaired", at=at + timedelta(days=7), by=visit.inspector
    )


def test_the_clock_says_what_the_exact_tonnage_says(spot: Turnout) -> None:
    railway.traffic(spot, Route.THROUGH, "16.5", since=date(2023, 5, 5))
    frog = railway.component()
    railway.install(frog, spot)
    clock = clock_of(read(frog))
    rows = [
        tonnage.Traffic(Route(row.route), row.since, row.annual_mgt) for row in spot.traffic.all()
    ]
    for day in (date(2020, 1, 1), date(2023, 5, 4), date(2023, 5, 6), TODAY):
        exact = tonnage.passed_mgt(rows, railway.SINCE, day)
        assert clock.at(day) == pytest.approx(float(exact), abs=1e-6)
    assert clock.mgt_a_year == 18.5


def test_the_clock_knows_nothing_before_the_traffic_is_known(spot: Turnout) -> None:
    frog = railway.component()
    railway.install(frog, spot, installed_on=date(2015, 1, 1))
    clock = clock_of(read(frog))
    assert clock.known_from == railway.SINCE
    assert clock.at(date(2019, 12, 31)) is None
    assert clock.at(railway.SINCE) == 0


def test_the_clock_stands_still_in_the_shop_and_goes_by_what_was_noted(spot: Turnout) -> None:
    frog = railway.component()
    railway.install(frog, spot, removed_on=date(2021, 1, 1), mgt_at_removal=Decimal(30))
    railway.install(frog, spot, installed_on=date(2022, 1, 1), mgt_at_installation=Decimal(30))
    clock = clock_of(read(frog))
    assert clock.at(date(2020, 7, 2)) == pytest.approx(15)  # the middle of 366 days
    assert clock.at(date(2021, 6, 1)) == clock.at(date(2022, 1, 1)) == 30
    assert clock.at(date(2023, 1, 1)) == pytest.approx(30 + 12 * 365 / 365.25)


def test_a_switch_point_counts_the_route_it_is_closed_for(spot: Turnout) -> None:
    point = railway.component()
    railway.install(point, spot, Position.LEFT_SWITCH_POINT)
    assert clock_of(read(point)).mgt_a_year == 2  # right hand: closed for the diverging route


def test_tonnage_that_falls_is_refused(spot: Turnout) -> None:
    frog = railway.component()
    railway.install(frog, spot, removed_on=date(2021, 1, 1), mgt_at_removal=Decimal(30))
    railway.install(frog, spot, installed_on=date(2022, 1, 1))
    with pytest.raises(Refused, match="its tonnage falls"):
        clock_of(read(frog))


def test_a_component_that_never_stood_in_track_is_refused() -> None:
    with pytest.raises(Refused, match="no tonnage is known"):
        file_of(railway.component())


def test_wear_runs_at_the_rate_of_its_readings(spot: Turnout) -> None:
    """12 MGT a year and 1.2 mm a year: 0.1 mm a MGT."""
    frog = worn(spot, ["2.0", "2.3", "2.6", "2.9", "3.2"])
    (one,) = file_of(frog).measured
    assert isinstance(one.wear, Wear)
    assert one.wear.line.rate == pytest.approx(0.1, rel=0.01)
    assert one.wear.used == 5


def test_three_readings_without_like_components_are_not_enough(spot: Turnout) -> None:
    (one,) = file_of(worn(spot, ["2.0", "2.3", "2.6"])).measured
    assert isinstance(one.wear, NotEnough)
    assert (one.wear.have, one.wear.need) == (3, 4)


def test_three_readings_beside_six_like_components_are(spot: Turnout) -> None:
    for place in range(6):
        start = place / 10
        worn(railway.turnout(spot.track), [f"{start + step * 0.3:.2f}" for step in range(5)])
    frog = worn(spot, ["2.0", "2.3", "2.6"])
    assert isinstance(file_of(frog).measured[0].wear, NotEnough)
    night()
    (one,) = file_of(frog).measured
    assert isinstance(one.wear, Wear)
    assert one.wear.like_runs == 6
    assert one.wear.line.rate == pytest.approx(0.1, rel=0.05)


def test_a_repair_of_the_tread_starts_its_wear_again(spot: Turnout) -> None:
    frog = worn(spot, ["7.0", "7.3", "7.6", "7.9", "0.2", "0.5", "0.8", "1.1"])
    repaired(frog, spot, days_ago=91 * 4 - 30)
    (one,) = file_of(frog).measured
    assert isinstance(one.wear, Wear)
    assert [taken.value for taken in one.readings] == [
        Decimal(v) for v in ("0.2", "0.5", "0.8", "1.1")
    ]
    assert one.earlier_runs == 1


@pytest.mark.parametrize("values", [{"kind": "metal_flow"}, {"zone": "point"}])
def test_grinding_flow_or_work_elsewhere_does_not(spot: Turnout, values: dict[str, str]) -> None:
    frog = worn(spot, ["2.0", "2.3", "2.6", "2.9", "3.2"])
    repaired(frog, spot, days_ago=200, **values)
    (one,) = file_of(frog).measured
    assert len(one.readings) == 5


def test_the_limit_is_the_one_of_the_rules_where_it_stands(spot: Turnout) -> None:
    """3/8 in on the tread of a casting: 49 CFR 213.137(c)."""
    railway.track_class(spot.track, 3)
    (one,) = file_of(worn(spot, ["2.0", "2.3", "2.6", "2.9", "3.2"])).measured
    assert [(limit.mm, limit.clause) for limit in one.limits] == [
        (Decimal("9.525"), "49 CFR 213.137(c)")
    ]
    assert isinstance(one.wear, Wear)
    (reach,) = one.wear.reaches
    middle = reach.crossings[1].on
    # 2.0 mm was read on the first day; (9.525 - 2.0) / 1.2 mm a year is 6.27 years after it
    expected = (railway.VISIT - 4 * timedelta(days=91)).date() + timedelta(days=6.27 * 365.25)
    assert middle is not None
    assert abs(middle - expected) < timedelta(days=15)


def test_out_of_track_there_is_no_limit(spot: Turnout) -> None:
    frog = worn(spot, ["2.0", "2.3", "2.6", "2.9", "3.2"])
    frog.installations.update(removed_on=date(2026, 6, 1), mgt_at_removal=Decimal(80))
    found = file_of(frog)
    assert found.turnout is None
    assert found.measured[0].limits == []


def test_defects_are_counted_against_those_of_like_components(spot: Turnout) -> None:
    records_since(spot)
    frog = worn(spot, ["2.0"])
    for days in (100, 400, 700, 1000):
        repaired(frog, spot, days_ago=days)
    for _ in range(3):
        other = railway.turnout(spot.track)
        repaired(worn(other, ["2.0"]), other, days_ago=300)
    before = file_of(frog).recurrence
    assert isinstance(before, Recurrence)
    assert before.family is None
    night()
    found = file_of(frog).recurrence
    assert isinstance(found, Recurrence)
    assert len(found.own_history.events_mgt) == 4
    assert isinstance(found.family, MeanCumulative)
    assert (found.family.components, found.family.events) == (4, 7)
    assert [life.failed for life in found.own_repairs] == [True, True, True, False]


def test_three_events_make_no_power_law_and_four_do(spot: Turnout) -> None:
    records_since(spot)
    frog = worn(spot, ["2.0"])
    for days in (100, 400, 700):
        repaired(frog, spot, days_ago=days)
    three = file_of(frog).recurrence
    repaired(frog, spot, days_ago=1000)
    four = file_of(frog).recurrence
    assert isinstance(three, Recurrence)
    assert isinstance(four, Recurrence)
    assert isinstance(three.law, NotEnough)
    assert not isinstance(four.law, NotEnough)


def test_what_the_first_inspection_finds_had_come_before(spot: Turnout) -> None:
    frog = worn(spot, ["2.0"])
    repaired(frog, spot, days_ago=300)
    repaired(frog, spot, days_ago=200)
    found = file_of(frog).recurrence
    assert isinstance(found, Recurrence)
    assert len(found.own_history.events_mgt) == 1


def hints(spot: Turnout, gage_mm: str) -> tuple[Hint, ...]:
    railway.track_class(spot.track, 3)
    frog = worn(spot, ["2.0"])
    visit = railway.inspection(spot)
    railway.defect(frog, visit, kind="chip", zone="point")
    railway.measurement(visit, Quantity.GUARD_CHECK_GAGE, gage_mm, route="through")
    return file_of(frog).hints.hints


@pytest.mark.parametrize(("gage_mm", "speaks"), [("1384.3", True), ("1384.301", False)])
def test_a_chip_beside_a_tight_guard_is_a_hint(spot: Turnout, gage_mm: str, speaks: bool) -> None:
    """Class 3: least 54 3/8 in (1381.125 mm), 49 CFR 213.143; within 1/8 in the hint speaks."""
    said = [hint.rule.rule for hint in hints(spot, gage_mm)]
    assert ("chip-tight-guard" in said) is speaks


def test_the_file_takes_as_many_queries_for_many_rows_as_for_few(spot: Turnout) -> None:
    counts = []
    for rows in (4, 12):
        here = railway.turnout(spot.track)
        frog = worn(here, [f"{n / 5:.1f}" for n in range(rows)])
        for place in range(rows):
            repaired(frog, here, days_ago=50 * place + 20)
            worn(railway.turnout(spot.track), ["1.0", "1.2", "1.4"])
        night()
        row = read(frog)
        with CaptureQueriesContext(connection) as asked:
            component_file(row, TODAY)
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert counts[1] < 20


def test_the_clock_says_when_a_tonnage_had_passed(spot: Turnout) -> None:
    """12 MGT a year from 2020 on, nothing while in the shop; 30 MGT at removal."""
    frog = railway.component()
    railway.install(frog, spot, removed_on=date(2021, 1, 1), mgt_at_removal=Decimal(30))
    railway.install(frog, spot, installed_on=date(2022, 1, 1), mgt_at_installation=Decimal(30))
    clock = clock_of(read(frog))
    middle = clock.when(15)
    assert middle is not None
    assert middle.date() == date(2020, 7, 2)
    later = clock.when(36)
    assert later is not None
    assert clock.at(later) == pytest.approx(36, abs=1e-6)
    assert later.year == 2022
    assert clock.when(-1) is None
    assert clock.when(1e9) is None
