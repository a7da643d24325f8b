"""Groups of families side by side: worked out at night, shown as a page, as CSV and to programs."""

import csv
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests import railway
from tests.turnouts.test_component_file import records_since, repaired
from turnouts.analysis.ranking.comparison import Measure
from turnouts.analysis.recurrence.log_rank import By
from turnouts.analysis.terms import Quantity
from turnouts.models import Component, FamilyComparison, LongRun, Turnout
from turnouts.services.family_comparisons import (
    carry_out_comparisons,
    compare_tonight,
    comparison_for,
    findings_for,
    renew_comparisons,
)
from turnouts.services.runs import carry_out

pytestmark = pytest.mark.django_db

TODAY = date(2026, 4, 1)
FROGS = "frog.."
BAD, GOOD = date(2019, 3, 1), date(2019, 9, 1)


def silent(done: int, total: int, words: str) -> None:
    """Progress nobody reads."""


def night() -> dict[str, int]:
    return renew_comparisons(on=TODAY, progress=silent)


def batch(spot: Turnout, made_on: date, frogs: int, defects: int) -> list[Component]:
    """Frogs made on a day with so many defects each, give or take one, each repaired."""
    rows = []
    for place in range(frogs):
        here = railway.turnout(spot.track)
        frog = railway.component(made_on=made_on)
        railway.install(frog, here)
        rows.append(frog)
        for number in range(defects + place % 3 - 1):
            repaired(frog, here, days_ago=60 + 80 * number + place)
    return rows


@pytest.fixture
def bad_batch(spot: Turnout) -> list[Component]:
    """Eight frogs of the first half of 2019 with nine defects each; twelve others with two."""
    records_since(spot)
    bad = batch(spot, BAD, 8, 9)
    batch(spot, GOOD, 12, 2)
    night()
    return bad


def test_a_bad_batch_stands_out_over_the_whole_night(bad_batch: list[Component]) -> None:
    reader = railway.person("engineer")
    found = [(row.by, look.group) for row, look in findings_for(reader)]
    assert ("batch", "2019 January to June") in found
    row = FamilyComparison.objects.get(kind="frog", by=By.BATCH.value)
    looks = comparison_for(reader, row).looks
    worst = next(x for x in looks if (x.measure, x.group) == (Measure.DEFECTS, found[0][1]))
    # nine a frog against two
    assert worst.low < 9 / 2 < worst.high
    # of two groups the better one says the same again and is not listed
    assert ("batch", "2019 July to December") not in found
    assert row.family == "Frog, all"
    assert row.components == 20


def test_where_batches_are_alike_nothing_stands_out(spot: Turnout) -> None:
    records_since(spot)
    batch(spot, BAD, 10, 3)
    batch(spot, GOOD, 10, 3)
    night()
    # their last repairs were all made in one season and still hold, which the season's split shows
    assert {row.by for row, _ in findings_for(railway.person("engineer"))} <= {By.SEASON.value}
    row = FamilyComparison.objects.get(by=By.BATCH.value)
    looks = comparison_for(railway.person("engineer"), row).looks
    assert looks
    assert not any(look.differs for look in looks)


def test_facts_that_are_the_same_on_all_are_not_compared(bad_batch: list[Component]) -> None:
    """All are of one design and steel, on one line, and never seen for a heavy point."""
    compared = set(FamilyComparison.objects.values_list("by", flat=True))
    assert compared == {By.BATCH.value, By.SEASON.value}


def test_repairs_that_failed_are_those_whose_zone_broke_again(bad_batch: list[Component]) -> None:
    row = FamilyComparison.objects.get(by=By.BATCH.value)
    part = next(p for p in row.content["parts"] if p["name"].startswith("2019 January"))
    # frogs with 8, 9, 10, 8, 9, 10, 8, 9 defects, repaired each time; the last one still holds
    assert (part["repairs"], part["failed"]) == (71, 71 - 8)
    assert part["defects"] == 71


def test_wear_is_compared_in_mm_a_mgt(spot: Turnout) -> None:
    records_since(spot)
    for made_on, rate in ((BAD, 0.2), (GOOD, 0.1)):
        for frog in batch(spot, made_on, 7, 0):
            here = frog.installations.get().turnout
            for step in range(5):
                at = railway.VISIT - timedelta(days=365 * step)
                visit = railway.inspection(here, inspected_at=at)
                # 12 MGT a year pass over the frog, 10 through and 2 diverging
                worn = 12 * rate * (5 - step) + 0.01 * (frog.pk % 3) * step
                railway.measurement(visit, Quantity.TREAD_WEAR, f"{worn:.4f}", frog)
    night()
    row = FamilyComparison.objects.get(by=By.BATCH.value)
    looks = [x for x in comparison_for(railway.person("engineer"), row).looks if x.quantity]
    by_group = {x.group: x for x in looks}
    bad = by_group["2019 January to June"]
    assert bad.value == pytest.approx(0.2, rel=0.02)
    assert bad.others == pytest.approx(0.1, rel=0.02)
    assert bad.differs


def test_the_night_is_a_run_once_a_day(bad_batch: list[Component]) -> None:
    by, now = railway.person(), timezone.now()
    run = compare_tonight(at=now, by=by)
    assert compare_tonight(at=now, by=by) == run
    carry_out(run_id=run.pk, work=carry_out_comparisons)
    assert LongRun.objects.get(pk=run.pk).result["comparisons"] == 2
    assert FamilyComparison.objects.count() == 2


def address(by: str = "batch") -> str:
    return f"/components/families/?family={FROGS}&by={by}"


def text(client: Client, where: str) -> str:
    return " ".join(client.get(where).content.decode().split())


def test_the_page_says_first_what_it_shows_and_how_sure(
    as_engineer: Client, bad_batch: list[Component]
) -> None:
    page = text(as_engineer, address())
    assert "2019 January to June: " in page
    assert "times the defects of the others (95 % confidence" in page
    assert "corrected for all" in page
    assert "never people" in page
    assert page.count("<svg") == page.count("<figcaption") >= 3
    assert page.count("<table") > page.count("<svg")


def test_without_a_choice_it_lists_what_stands_out(
    as_engineer: Client, bad_batch: list[Component]
) -> None:
    page = text(as_engineer, "/components/families/")
    assert "What is worse than the others, over all families" in page
    assert "2019 January to June" in page


@pytest.mark.parametrize(
    ("where", "said"),
    [
        ("/components/families/", "every night"),
        ("/components/families/?family=frog..&by=line", "Not enough data"),
        (address("steel"), "Not enough data"),
    ],
)
def test_where_there_is_nothing_it_says_so(as_engineer: Client, where: str, said: str) -> None:
    assert said in text(as_engineer, where)


@pytest.mark.parametrize(("name", "first"), [("looks", "measure"), ("defects", "group")])
def test_they_are_tables_for_a_spreadsheet(
    as_engineer: Client, bad_batch: list[Component], name: str, first: str
) -> None:
    where = f"/components/families/{name}.csv?family={FROGS}&by=batch"
    head, *rows = csv.reader(as_engineer.get(where).content.decode().splitlines())
    assert head[0] == first
    assert len(rows) >= 4
    assert all(len(row) == len(head) for row in rows)


@pytest.fixture
def two_territories(spot: Turnout) -> Turnout:
    """Frogs on two lines of two territories; those of the other break more often."""
    records_since(spot)
    other = railway.turnout()
    batch(spot, GOOD, 8, 2)
    batch(other, GOOD, 8, 9)
    night()
    return other


def test_lines_and_territories_of_others_are_not_shown(
    client: Client, spot: Turnout, two_territories: Turnout
) -> None:
    own, other = spot.track.line, two_territories.track.line
    reader = railway.person("engineer", spot.territory)
    client.force_login(reader)
    for by in ("line", "territory"):
        page = text(client, address(by))
        assert (own if by == "line" else own.territory).name in page
        assert (other if by == "line" else other.territory).name not in page
    assert all(
        (other.name not in look.group, other.territory.name not in look.group) == (True, True)
        for _, look in findings_for(reader)
    )
    client.force_login(railway.person("engineer"))
    assert other.name in text(client, address("line"))


def test_a_program_reads_the_same(client: Client, spot: Turnout, two_territories: Turnout) -> None:
    client.force_login(railway.person("engineer", spot.territory))
    listed = client.get("/api/family-comparisons/?by=line").json()
    assert listed["count"] == 1
    assert "comparison" not in listed["results"][0]
    detail = client.get(f"/api/family-comparisons/{listed['results'][0]['id']}/").json()
    names = {part["name"] for part in detail["comparison"]["parts"]}
    assert names == {f"{spot.track.line.code} {spot.track.line.name}"}
    assert "corrected" in detail["comparison"]["sentence"]
    client.force_login(railway.person())
    assert client.get("/api/family-comparisons/").status_code == 403


def test_the_page_asks_as_often_for_many_groups_as_for_few(
    as_engineer: Client, spot: Turnout
) -> None:
    records_since(spot)
    counts = []
    for first in (2010, 2014):
        for year in range(first, first + 4):
            batch(spot, date(year, 2, 1), 5, 3)
        night()
        as_engineer.get(address())
        with CaptureQueriesContext(connection) as asked:
            assert as_engineer.get(address()).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_the_night_takes_as_many_queries_for_many_as_for_few(spot: Turnout) -> None:
    records_since(spot)
    counts = []
    for more in (6, 12):
        batch(spot, GOOD, more, 2)
        batch(spot, BAD, more, 2)
        with CaptureQueriesContext(connection) as asked:
            night()
        counts.append(len(asked))
    assert counts[0] == counts[1]
