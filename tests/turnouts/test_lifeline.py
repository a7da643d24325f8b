"""The life line: every event in order, from every app, and the picture of it."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest

from tests import railway
from turnouts import lifeline
from turnouts.analysis.terms import Quantity
from turnouts.lifeline import Event, add_provider, life_line
from turnouts.models import Component, DefectStep, ShopVisit, Turnout
from turnouts.pages.pictures import Span, chart, life_picture

NOW = datetime(2026, 3, 2, tzinfo=UTC)


@pytest.fixture
def frog(spot: Turnout) -> Component:
    """A frog with a stay, a shop visit, a stay, an inspection with a defect, and its end."""
    row = railway.component()
    railway.install(row, spot, removed_on=date(2023, 1, 1), reason_removed="Broken")
    ShopVisit.objects.create(
        component=row, shop="Shop", arrived_on=date(2023, 1, 9), left_on=date(2023, 3, 1), work="W"
    )
    railway.install(row, spot, installed_on=date(2023, 4, 1))
    visit = railway.inspection(spot)
    railway.measurement(visit, Quantity.TREAD_WEAR, "2", row)
    defect = railway.defect(row, visit)
    later = railway.VISIT + timedelta(days=9)
    DefectStep.objects.create(defect=defect, state="closed", at=later, by=visit.inspector)
    return row


def test_every_event_is_told_once_the_latest_first(frog: Component) -> None:
    events = life_line(frog, railway.person("engineer"))
    assert [(event.kind, event.words.split(" at ")[0]) for event in events] == [
        ("Defect ended", "Spall, tread: closed"),
        ("Inspection", "Detailed, with gauges"),
        ("Defect", "Spall, tread"),
        ("In track", "Put in"),
        ("Shop", "Left Shop"),
        ("Shop", "Arrived"),
        ("In track", "Taken out"),
        ("In track", "Put in"),
    ]
    assert all(later.at >= earlier.at for later, earlier in pairwise(events))


def test_another_app_adds_its_events(frog: Component, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lifeline, "_providers", [])

    def repairs(component: Component) -> list[Event]:
        return [Event(NOW, "Repair", f"Welded {component}")]

    add_provider(repairs)
    add_provider(repairs)
    assert [e.words for e in life_line(frog, railway.person("engineer"))] == [f"Welded {frog}"]


@pytest.mark.parametrize(("inside", "href"), [(True, "/x/"), (False, "")])
def test_a_link_is_given_only_where_the_reader_may_look(
    frog: Component, monkeypatch: pytest.MonkeyPatch, inside: bool, href: str
) -> None:
    here = railway.territory()
    where = here.pk if inside else railway.territory().pk
    monkeypatch.setattr(
        lifeline, "_providers", [lambda c: [Event(NOW, "Repair", "Welded", "/x/", "", where)]]
    )
    assert [e.href for e in life_line(frog, railway.person("engineer", here))] == [href]


def event(days: int, kind: str = "Defect") -> Event:
    return Event(NOW - timedelta(days=days), kind, f"{kind} {days}")


def test_later_events_stand_further_right_within_the_picture() -> None:
    picture = life_picture([event(days) for days in (2000, 900, 400, 0)], [], NOW)
    places = [mark.x for mark in picture.marks]
    assert places == sorted(set(places))
    assert places[0] > 100
    assert places[-1] <= picture.width


def test_each_kind_has_a_lane_of_its_own_known_ones_first() -> None:
    events = [event(1, "Repair"), event(2, "Defect"), event(3, "Inspection")]
    picture = life_picture(events, [], NOW)
    assert [lane.words for lane in picture.lanes] == ["Inspection", "Defect", "Repair"]
    assert len({lane.y for lane in picture.lanes}) == 3
    assert {mark.y for mark in picture.marks} == {lane.y for lane in picture.lanes}


def test_a_stay_is_a_bar_from_its_first_day_to_its_last() -> None:
    events = [event(1000, "In track"), event(0, "In track")]
    spans = [
        Span("In track", date(2023, 6, 6), date(2024, 6, 6), "S1"),
        Span("In track", date(2024, 6, 6), date(2026, 3, 2), "S2"),
    ]
    first, second = life_picture(events, spans, NOW).bars
    assert first.x + first.width == pytest.approx(second.x, abs=0.2)
    # 366 days against 634: the lengths are as the days are
    assert second.width / first.width == pytest.approx(634 / 366, abs=0.01)


def test_a_component_of_today_has_a_picture_too() -> None:
    picture = life_picture([event(0)], [], NOW)
    assert len(picture.marks) == 1


@pytest.mark.parametrize("years", [1, 5, 30, 80])
def test_there_are_some_ticks_and_never_too_many(years: int) -> None:
    picture = life_picture([event(366 * years)], [], NOW)
    assert 1 <= len(picture.ticks) <= 12


def readings(*values: str) -> list[tuple[datetime, Decimal, str]]:
    return [(NOW + timedelta(days=90 * n), Decimal(v), v) for n, v in enumerate(values)]


def test_a_chart_starts_at_zero_and_a_larger_value_stands_higher() -> None:
    picture = chart(readings("1", "2", "4"))
    one, two, four = (point.y for point in picture.points)
    assert four < two < one < picture.floor
    # from zero up: twice the value is twice the height
    assert (picture.floor - four) == pytest.approx(2 * (picture.floor - two), abs=0.2)


@pytest.mark.parametrize("top", ["0", "0.003", "1", "9.99", "420"])
def test_the_levels_are_few_and_reach_over_every_point(top: str) -> None:
    picture = chart(readings("0", top))
    assert 2 <= len(picture.levels) <= 6
    assert min(level.y for level in picture.levels) <= min(point.y for point in picture.points)


def test_readings_are_joined_in_the_order_of_time() -> None:
    first, second = readings("1", "2")
    assert chart([second, first]).path == chart([first, second]).path
