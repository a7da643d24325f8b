"""Why does it come back: the page of one component, its files, and the same for programs."""

import csv
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests import railway
from tests.turnouts.test_component_file import night, records_since, repaired, worn
from turnouts.analysis.terms import Quantity
from turnouts.models import Component, Person, Turnout

pytestmark = pytest.mark.django_db


@pytest.fixture
def frog(spot: Turnout) -> Component:
    """Class 3; a tread at 0.1 mm a MGT, four repairs, a chip beside a tight guard."""
    railway.track_class(spot.track, 3)
    records_since(spot)
    row = worn(spot, ["2.0", "2.3", "2.6", "2.9", "3.2"])
    for days in (500, 700, 900, 1100):
        repaired(row, spot, days_ago=days)
    visit = railway.inspection(spot, inspected_at=railway.VISIT + timedelta(days=1))
    railway.defect(row, visit, kind="chip", zone="point")
    railway.measurement(visit, Quantity.GUARD_CHECK_GAGE, "1380", route="through")
    return row


def shown(client: Client, frog: Component) -> str:
    answer = client.get(f"/components/{frog.serial}/why/")
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_it_says_rate_limit_recurrence_and_cause(
    as_engineer: Client, engineer: Person, frog: Component
) -> None:
    engineer.length_unit = "mm"
    engineer.save()
    page = shown(as_engineer, frog)
    assert "Tread wear grows by 0.1 mm a MGT" in page
    assert "Limit not more than 9.525 mm (49 CFR 213.137(c)). As likely as not" in page
    assert "5 defects on this component" in page
    assert "The guard rail lets wheels strike the point" in page
    assert "Look at next:" in page


def test_a_reader_of_inches_reads_inches(as_engineer: Client, frog: Component) -> None:
    page = shown(as_engineer, frog)
    assert "Tread wear grows by 0.004 in a MGT" in page  # 0.1003 mm / 25.4 = 0.00395
    assert "Limit not more than 3/8 in" in page


def test_a_limit_near_the_readings_is_drawn(as_engineer: Client, spot: Turnout) -> None:
    railway.track_class(spot.track, 3)
    near = worn(spot, ["7.0", "7.5", "8.0", "8.5", "9.0"])
    assert 'class="limit"' in shown(as_engineer, near)


def test_a_limit_far_off_them_is_left_to_the_words(as_engineer: Client, spot: Turnout) -> None:
    railway.track_class(spot.track, 3)
    page = shown(as_engineer, worn(spot, ["0.10", "0.11", "0.12", "0.13", "0.14"]))
    assert 'class="limit"' not in page
    assert "(49 CFR 213.137(c))" in page


def test_too_few_readings_are_said_to_be_too_few(as_engineer: Client, spot: Turnout) -> None:
    page = shown(as_engineer, worn(spot, ["2.0", "2.3"]))
    assert "Not enough data: 2 readings since the last repair" in page
    assert "Not enough data: 0 events, at least 4 are needed." in page


def test_without_known_tonnage_the_reason_stands_there(as_engineer: Client) -> None:
    page = shown(as_engineer, railway.component())
    assert "no tonnage is known; it needs a stay and its traffic." in page


def test_the_component_page_leads_there(as_engineer: Client, frog: Component) -> None:
    page = as_engineer.get(f"/components/{frog.serial}/").content.decode()
    assert f'href="/components/{frog.serial}/why/"' in page


def rows(client: Client, address: str) -> list[list[str]]:
    answer = client.get(address)
    assert answer.status_code == 200
    return list(csv.reader(answer.content.decode().splitlines()))


def test_the_readings_are_a_table_for_a_spreadsheet(as_engineer: Client, frog: Component) -> None:
    head, *read = rows(as_engineer, f"/components/{frog.serial}/why/wear.csv")
    assert head[0] == "quantity"
    assert [row[6] for row in read] == ["2", "2.3", "2.6", "2.9", "3.2"]
    assert {row[7] for row in read} == {"yes"}


def test_so_are_the_defects(as_engineer: Client, frog: Component) -> None:
    _, *found = rows(as_engineer, f"/components/{frog.serial}/why/defects.csv")
    assert len(found) == 5
    assert [bool(row[5]) for row in found] == [True] * 4 + [False]


def test_a_program_gets_the_same(as_engineer: Client, frog: Component) -> None:
    answer = as_engineer.get(f"/api/components/{frog.serial}/why/").json()
    (tread,) = answer["wear"]
    assert tread["mm_a_mgt"] == pytest.approx(0.1, rel=0.01)
    assert tread["limits"][0]["clause"] == "49 CFR 213.137(c)"
    assert len(answer["recurrence"]["defects_mgt"]) == 5
    assert [hint["rule"] for hint in answer["hints"]] == ["chip-tight-guard"]


def test_a_program_is_told_when_no_tonnage_is_known(as_engineer: Client) -> None:
    answer = as_engineer.get(f"/api/components/{railway.component().serial}/why/")
    assert answer.status_code == 400
    assert "no tonnage is known" in answer.content.decode()


def test_another_territorys_component_is_not_there(client: Client, frog: Component) -> None:
    client.force_login(railway.person("engineer", railway.territory()))
    assert client.get(f"/components/{frog.serial}/why/").status_code == 404
    assert client.get(f"/api/components/{frog.serial}/why/").status_code == 404


def test_the_page_asks_as_often_for_many_rows_as_for_few(
    as_engineer: Client, spot: Turnout
) -> None:
    worn(railway.turnout(spot.track), ["1.0", "1.2", "1.4"])  # there is always one like it
    counts = []
    for many in (4, 12):
        here = railway.turnout(spot.track)
        frog = worn(here, [f"{n / 5:.1f}" for n in range(many)])
        for place in range(many):
            repaired(frog, here, days_ago=50 * place + 20)
        night()
        shown(as_engineer, frog)
        with CaptureQueriesContext(connection) as asked:
            shown(as_engineer, frog)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_before_the_first_night_it_says_so_and_offers_to_work_it_out(
    as_engineer: Client, frog: Component
) -> None:
    assert "has not been worked out yet" in shown(as_engineer, frog)
    assert "Work it out now" in shown(as_engineer, frog)
    night(date(2026, 11, 20))
    page = shown(as_engineer, frog)
    assert "was worked out for 2026-11-20; its own record is of today" in page
    assert "Work it out now" not in page


def test_who_may_not_estimate_is_not_offered_to_work_it_out(
    client: Client, frog: Component
) -> None:
    client.force_login(railway.person("welder"))
    assert "Work it out now" not in shown(client, frog)


def test_its_rank_among_its_like_stands_there(as_engineer: Client, spot: Turnout) -> None:
    records_since(spot)
    bad = railway.component()
    for frog in (bad, *(railway.component() for _ in range(11))):
        here = railway.turnout(spot.track)
        railway.install(frog, here)
        for place in range(15 if frog == bad else 1):
            repaired(frog, here, days_ago=60 + 80 * place)
    night()
    page = shown(as_engineer, bad)
    assert "Place 1 of 12 of its like" in page
    assert "15 defects where 2." in page
    assert "A repeat offender." in page
    rank = as_engineer.get(f"/api/components/{bad.serial}/why/").json()["rank"]
    assert (rank["place"], rank["of"]) == (1, 12)
    assert rank["relative_rate"] > 1


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        ("mm", "Guard check gage 1380 mm on {day}"),
        ("in", "Guard check gage just over 4 ft 6 21/64 in on {day}"),
    ],
)
def test_a_hint_speaks_in_the_readers_units(
    as_engineer: Client, engineer: Person, frog: Component, unit: str, words: str
) -> None:
    """1380 mm is 54.33071 in: 54 21/64 in is 54.328125, 54 22/64 in is 54.34375."""
    engineer.length_unit = unit
    engineer.save()
    day = f"{(railway.VISIT + timedelta(days=1)).date()}"
    assert words.format(day=day) in shown(as_engineer, frog)


def test_the_life_line_has_an_axis_of_tonnage_and_its_table_the_tonnage(
    as_engineer: Client, frog: Component
) -> None:
    page = " ".join(as_engineer.get(f"/components/{frog.serial}/").content.decode().split())
    assert ">Tonnage</text>" in page
    assert ">40 MGT</text>" in page
    assert 'data-name="MGT"' in page


def test_the_life_line_shows_only_what_is_chosen(as_engineer: Client, frog: Component) -> None:
    address = f"/components/{frog.serial}/"
    every = " ".join(as_engineer.get(address).content.decode().split())
    some = " ".join(as_engineer.get(address, {"what": ["Defect"]}).content.decode().split())
    assert "All 5 events as a table" in some
    assert 'value="Defect" checked' in some
    assert 'value="Inspection" checked' not in some
    assert 'value="Inspection" checked' in every
    assert as_engineer.get(address, {"what": ["Nonsense"]}).status_code == 200
