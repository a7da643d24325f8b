"""Forecasts are kept after each reading and held against the next one."""

import csv
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests import railway
from tests.turnouts.test_component_file import night, repaired, worn
from turnouts.analysis.terms import Quantity
from turnouts.models import Component, ForecastRecord, Turnout, WearForecast

pytestmark = pytest.mark.django_db

FIRST = date(2026, 4, 1)
LATER = date(2026, 9, 1)


def read_again(frog: Component, spot: Turnout, value: str, days: int = 91) -> None:
    visit = railway.inspection(spot, inspected_at=railway.VISIT + timedelta(days=days))
    railway.measurement(visit, Quantity.TREAD_WEAR, value, frog)


@pytest.fixture
def frog(spot: Turnout) -> Component:
    """0.3 mm a quarter at 12 MGT a year: 0.1003 mm a MGT."""
    return worn(spot, ["2.0", "2.3", "2.6", "2.9", "3.2"])


def test_one_forecast_is_kept_after_a_reading_however_many_nights_pass(frog: Component) -> None:
    for days in range(3):
        night(FIRST + timedelta(days=days))
    kept = WearForecast.objects.get()
    assert (kept.made_on, kept.state, kept.clause) == (FIRST, "open", "49 CFR 213.137(c)")
    assert kept.rate == pytest.approx(0.1, rel=0.01)
    assert kept.limit_mm == Decimal("9.525")


def test_the_next_reading_is_held_against_the_line_at_its_own_tonnage(
    frog: Component, spot: Turnout
) -> None:
    night(FIRST)
    read_again(frog, spot, "3.5")
    night(LATER)
    met, waiting = WearForecast.objects.order_by("made_on")
    assert (met.state, met.came_mm, met.past) == ("met", Decimal("3.5"), False)
    assert met.low_mm is not None
    assert met.high_mm is not None
    # the line goes on to 3.5 mm; the interval lies evenly about it
    assert (met.low_mm + met.high_mm) / 2 == pytest.approx(3.5, abs=0.01)
    assert met.held
    assert waiting.state == "open"


@pytest.mark.parametrize(("value", "held"), [("3.9", True), ("4.3", False)])
def test_a_reading_far_off_the_line_did_not_hold(
    frog: Component, spot: Turnout, value: str, held: bool
) -> None:
    """Scatter 0.1 mm with 3 degrees of freedom, five readings: 3.5 mm and t 3.18 x 0.1 x about
    1.45 = 0.46 mm to either side."""
    night(FIRST)
    read_again(frog, spot, value)
    night(LATER)
    assert WearForecast.objects.get(state="met").held is held


def test_past_the_limit_is_past_and_on_it_is_not(spot: Turnout) -> None:
    """3/8 in is 9.525 mm, 49 CFR 213.137(c): not more than."""
    on, past = (worn(railway.turnout(spot.track), ["9.0", "9.1", "9.2", "9.3"]) for _ in range(2))
    night(FIRST)
    for frog, value in ((on, "9.525"), (past, "9.526")):
        stay = frog.installations.get()
        read_again(frog, stay.turnout, value)
    night(LATER)
    met = {row.component: row.past for row in WearForecast.objects.filter(state="met")}
    assert met == {on: False, past: True}


def test_a_repair_in_between_settles_nothing(frog: Component, spot: Turnout) -> None:
    night(FIRST)
    repaired(frog, spot, days_ago=-40)
    read_again(frog, spot, "0.3")
    night(LATER)
    first = WearForecast.objects.order_by("made_on")[0]
    assert (first.state, first.low_mm, first.past) == ("reset", None, None)
    whole = ForecastRecord.objects.get(quantity="")
    assert (whole.met, whole.reset) == (0, 1)


def test_one_reckoned_afterwards_is_said_to_be(frog: Component, spot: Turnout) -> None:
    """The day it was worked out is the real one; the day it was made for lies before."""
    read_again(frog, spot, "3.5")
    night(FIRST)
    night(LATER)
    whole = ForecastRecord.objects.get(quantity="")
    assert (whole.met, whole.afterwards) == (1, 1)


@pytest.fixture
def met(spot: Turnout) -> list[Component]:
    frogs = []
    for place in range(6):
        here = railway.turnout(spot.track)
        frogs.append(worn(here, [f"{2 + place / 10 + n * 0.3:.1f}" for n in range(5)]))
    night(FIRST)
    for place, frog in enumerate(frogs):
        read_again(frog, frog.installations.get().turnout, f"{3.5 + place / 10:.1f}")
    night(LATER)
    return frogs


def test_the_page_says_how_it_did(as_engineer: Client, met: list[Component]) -> None:
    page = " ".join(as_engineer.get("/components/forecasts/").content.decode().split())
    assert "6 of 6 intervals of 95% held" in page
    assert "0 of 6 came where 0.0 were expected: no sign that the chances are wrong." in page
    assert "6 met by a reading, 6 waiting for one, 0 started again before" in page
    assert "Tread wear" in page
    assert page.count("<svg") == 1


def test_before_any_night_it_says_so(as_engineer: Client) -> None:
    page = as_engineer.get("/components/forecasts/").content.decode()
    assert "No forecast has been kept yet." in page


def test_it_is_a_table_for_a_spreadsheet(as_engineer: Client, met: list[Component]) -> None:
    answer = as_engineer.get("/components/forecasts/met.csv").content.decode()
    head, *rows = csv.reader(answer.splitlines())
    assert head[0] == "component"
    assert {row[0] for row in rows} == {frog.serial for frog in met}
    assert {row[11] for row in rows} == {"yes"}


def test_a_program_reads_record_and_forecasts(as_engineer: Client, met: list[Component]) -> None:
    whole, tread = as_engineer.get("/api/forecast-record/").json()
    assert (whole["quantity"], tread["quantity"], tread["met"]) == ("", "tread_wear", 6)
    assert as_engineer.get("/api/wear-forecasts/?state=met").json()["count"] == 6


def test_another_territory_reads_the_record_and_no_components(
    client: Client, met: list[Component]
) -> None:
    client.force_login(railway.person("engineer", railway.territory()))
    page = client.get("/components/forecasts/").content.decode()
    assert "6 of 6 intervals" in page
    assert met[0].serial not in page
    assert len(client.get("/components/forecasts/met.csv").content.decode().splitlines()) == 1
    assert client.get("/api/wear-forecasts/").json()["count"] == 0
    client.force_login(railway.person())
    assert client.get("/api/forecast-record/").status_code == 403


def test_the_page_asks_as_often_for_many_rows_as_for_few(
    as_engineer: Client, met: list[Component], spot: Turnout
) -> None:
    def asked() -> int:
        as_engineer.get("/components/forecasts/")
        with CaptureQueriesContext(connection) as queries:
            as_engineer.get("/components/forecasts/")
        return len(queries)

    few = asked()
    for frog in met:
        read_again(frog, frog.installations.get().turnout, "3.8", days=182)
    night(LATER + timedelta(days=60))
    assert WearForecast.objects.filter(state="met").count() == 12
    assert asked() == few
