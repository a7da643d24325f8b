"""Weld again or replace, as a page, as files and for programs."""

import csv
import re
from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from repairs.models import RenewalChoice
from tests import railway
from tests.repairs.services.test_weld_or_replace import frog_welded
from tests.turnouts.test_component_file import night
from turnouts.models import Component

pytestmark = pytest.mark.django_db

GIVEN = {"seen": "", "window_on": "", "way": "weld", "welds": "1", "reason": "It has held before."}


@pytest.fixture
def frog() -> Component:
    return frog_welded(railway.turnout(), (400,))


def as_(role: str, at: object = None) -> Client:
    client = Client()
    client.force_login(railway.person(role, at))  # type: ignore[arg-type]
    return client


def page_of(client: Client, frog: Component, asked: str = "") -> str:
    answer = client.get(f"/components/{frog.serial}/weld-or-replace/{asked}")
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_it_says_the_answer_its_reasons_and_where_it_turns(frog: Component) -> None:
    page = page_of(as_("engineer"), frog)
    assert "The next weld is expected to last" in page
    assert "Welding once more is cheaper than replacing now from" in page
    assert "No renewal window is given" in page
    assert 'class="band"' in page
    assert "Decide under my name" in page


def test_a_window_is_compared_when_its_day_is_given(frog: Component) -> None:
    page = page_of(as_("engineer"), frog, "?window=2099-05-01")
    assert "Replace on 2099-05-01, welding until then" in page


def test_who_may_not_decide_reads_and_has_no_form(frog: Component) -> None:
    assert "Decide under my name" not in page_of(as_("supervisor"), frog)
    answer = as_("supervisor").post(f"/components/{frog.serial}/weld-or-replace/", GIVEN)
    assert not RenewalChoice.objects.exists()
    assert answer.status_code == 403


def test_a_decision_stands_on_the_page_and_on_the_life_line(frog: Component) -> None:
    engineer = as_("engineer")
    address = f"/components/{frog.serial}/weld-or-replace/"
    assert engineer.post(address, GIVEN).status_code == 302
    page = page_of(engineer, frog)
    assert "Decided: Weld 1 more time, then replace." in page
    assert "It has held before." in page
    assert "Weld 1 more time" in engineer.get(f"/components/{frog.serial}/").content.decode()
    late = engineer.post(address, GIVEN)
    assert late.status_code == 409


def test_a_decision_without_its_reason_is_asked_for_again(frog: Component) -> None:
    answer = as_("engineer").post(
        f"/components/{frog.serial}/weld-or-replace/", GIVEN | {"reason": ""}
    )
    assert answer.status_code == 400
    assert not RenewalChoice.objects.exists()


def test_where_there_is_nothing_to_compare_the_reason_stands_there() -> None:
    page = page_of(as_("engineer"), railway.component())
    assert "is not in track" in page


def test_another_territorys_component_is_not_there(frog: Component) -> None:
    stranger = as_("engineer", railway.territory())
    for what in ("", "ways.csv", "break-even.csv"):
        address = f"/components/{frog.serial}/weld-or-replace/{what}"
        assert stranger.get(address).status_code == 404
    assert stranger.get(f"/api/weld-or-replace/{frog.serial}/").status_code == 404


def test_ways_and_break_even_are_tables_for_a_spreadsheet(frog: Component) -> None:
    reader = as_("inspector")
    ways = reader.get(f"/components/{frog.serial}/weld-or-replace/ways.csv").content.decode()
    head, *rows = csv.reader(ways.splitlines())
    assert head[0] == "way"
    assert len(rows) == 7  # replacing now, and welding one to six times
    assert sum(float(row[5]) for row in rows) == pytest.approx(1, abs=0.001)
    curve = reader.get(f"/components/{frog.serial}/weld-or-replace/break-even.csv")
    assert len(curve.content.decode().splitlines()) == 25


def test_a_program_reads_and_decides(frog: Component) -> None:
    engineer, address = as_("engineer"), f"/api/weld-or-replace/{frog.serial}/"
    read = engineer.get(address).json()
    assert read["options"][0]["cost_per_mgt"] <= read["options"][1]["cost_per_mgt"]
    assert read["choices"] == []
    assert engineer.get(address, {"window": "soon"}).status_code == 400
    given = {"way": "replace_now", "reason": "Cracked twice.", "seen": None}
    for _ in range(2):  # asked again with the same key: done once
        made = engineer.post(address, given, "application/json", headers={"Idempotency-Key": "k"})
        assert made.status_code == 201
    assert made.json()["way"] == "replace_now"
    assert engineer.post(address, given, "application/json").status_code == 409
    assert as_("welder").post(address, given, "application/json").status_code == 403
    assert [one["reason"] for one in engineer.get(address).json()["choices"]] == ["Cracked twice."]


def test_the_page_asks_as_often_for_many_rows_as_for_few() -> None:
    engineer, counts = as_("engineer"), []
    for many in (2, 8):
        frog = frog_welded(railway.turnout(), tuple(range(60, 60 + 90 * many, 90)))
        night(date(2026, 11, 25))
        page_of(engineer, frog)
        with CaptureQueriesContext(connection) as asked:
            page_of(engineer, frog)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_every_sum_names_its_currency(frog: Component, settings: Any) -> None:
    settings.CURRENCY = "CHF"
    engineer = as_("engineer")
    address = f"/components/{frog.serial}/weld-or-replace/"
    page = page_of(engineer, frog)
    headline = re.search(r'<p class="radio"><strong>(.*?)</strong>', page)
    assert headline is not None
    assert re.search(r"CHF\s[\d,]+ per MGT", headline[1])
    assert re.search(r"under steady upkeep costs CHF\s[\d,]+ per MGT", page)
    assert "Weld, CHF per MGT it lasts" in page
    assert engineer.get(f"/api/weld-or-replace/{frog.serial}/").json()["currency"] == "CHF"
    for name in ("ways", "break-even"):
        first = engineer.get(f"{address}{name}.csv").content.decode().splitlines()[:2]
        column = first[0].split(",").index("currency")
        assert first[1].split(",")[column] == "CHF"
