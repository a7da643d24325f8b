"""The night's look ahead: repeat offenders, early warnings, their pages and their API."""

import csv
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests import railway
from tests.turnouts.test_component_file import records_since, repaired, worn
from turnouts.analysis.terms import Quantity
from turnouts.models import Component, ComponentRank, EarlyWarning, LongRun, Person, Turnout
from turnouts.services.outlook import (
    Tally,
    carry_out_outlook,
    look_ahead_tonight,
    renew_outlook,
)
from turnouts.services.runs import carry_out

pytestmark = pytest.mark.django_db

TODAY = date(2026, 4, 1)


def silent(done: int, total: int, words: str) -> None:
    """Progress nobody reads."""


def night(on: date = TODAY) -> Tally:
    return renew_outlook(on=on, progress=silent)


def frogs(spot: Turnout, defects: list[int]) -> list[Component]:
    """Frogs of one family with so many defects each, on one track."""
    records_since(spot)
    rows = []
    for count in defects:
        here = railway.turnout(spot.track)
        frog = railway.component()
        railway.install(frog, here)
        rows.append(frog)
        for place in range(count):
            repaired(frog, here, days_ago=60 + 80 * place)
    return rows


def test_one_bad_frog_among_eleven_good_ones_is_the_only_repeat_offender(spot: Turnout) -> None:
    bad, *_ = frogs(spot, [15] + [1] * 11)
    assert night().ranked == 12
    assert [row.component for row in ComponentRank.objects.filter(repeat_offender=True)] == [bad]
    first = ComponentRank.objects.all()[0]
    assert (first.component, first.events) == (bad, 15)
    # like frogs at like tonnage: 26 defects on 12 of them
    assert first.expected == pytest.approx(26 / 12, rel=0.05)
    assert 1 < first.low < first.relative < 15 / first.expected  # drawn toward its family


def test_where_all_are_alike_none_stands_out(spot: Turnout) -> None:
    frogs(spot, [1] * 12)
    assert night().ranked == 12
    assert not ComponentRank.objects.filter(repeat_offender=True).exists()


@pytest.mark.parametrize(("components", "ranked"), [(9, 0), (10, 10)])
def test_ten_components_make_a_family(spot: Turnout, components: int, ranked: int) -> None:
    frogs(spot, [2] * components)
    tally = night()
    assert tally.ranked == ComponentRank.objects.count() == ranked
    assert bool(tally.families_too_small) is (ranked == 0)


def test_a_night_writes_the_ranks_anew(spot: Turnout) -> None:
    frogs(spot, [2] * 10)
    night()
    night(TODAY + timedelta(days=1))
    assert set(ComponentRank.objects.values_list("made_on", flat=True)) == {
        TODAY + timedelta(days=1)
    }
    assert ComponentRank.objects.count() == 10


def near_its_limit(spot: Turnout, last: str = "9.2") -> Component:
    """A tread worn by 0.3 mm a quarter; the limit is 3/8 in, 9.525 mm, 49 CFR 213.137(c)."""
    return worn(spot, [f"{float(last) - 0.3 * step:.2f}" for step in range(7, -1, -1)])


def test_a_tread_that_reaches_its_limit_before_the_next_look_is_warned_of(spot: Turnout) -> None:
    frog = near_its_limit(spot, "9.4")
    assert night().warned == 1
    warned = EarlyWarning.objects.get()
    assert warned.component == frog
    assert warned.clause == "49 CFR 213.137(c)"
    assert warned.next_look_on == date(2026, 4, 2)  # a month after the visit, 213.235(a)
    assert warned.look_by.startswith("49 CFR 213.235")
    assert 0.1 < warned.chance_now < warned.chance < 0.9


def test_an_inspection_that_is_overdue_makes_no_new_warning_every_night(spot: Turnout) -> None:
    near_its_limit(spot, "9.4")
    for days in (5, 6, 7):
        night(TODAY + timedelta(days=days))
    warned = EarlyWarning.objects.get()
    assert (warned.made_on, warned.stands_on) == (
        TODAY + timedelta(days=5),
        TODAY + timedelta(days=7),
    )


def test_where_no_rule_asks_for_an_inspection_it_is_the_usual_gap(
    spot: Turnout, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("turnouts.inspections_wanted._providers", [])
    near_its_limit(spot, "9.3")
    night()
    warned = EarlyWarning.objects.get()
    assert warned.next_look_on == (railway.VISIT + timedelta(days=91)).date()
    assert warned.look_by == ""
    assert warned.chance > 0.5 > warned.chance_now


def test_one_that_will_not_is_not(spot: Turnout) -> None:
    near_its_limit(spot, "6.0")
    tally = night()
    assert (tally.looked_at, tally.warned) == (1, 0)


def test_a_forecast_is_kept_as_it_was_first_made(spot: Turnout) -> None:
    near_its_limit(spot, "9.4")
    night()
    first = EarlyWarning.objects.get()
    night(TODAY + timedelta(days=3))
    again = EarlyWarning.objects.get()
    assert (again.pk, again.made_on, again.chance) == (first.pk, TODAY, first.chance)
    assert again.stands_on == TODAY + timedelta(days=3)


def test_a_new_reading_makes_a_new_forecast_and_the_old_one_stays(spot: Turnout) -> None:
    frog = near_its_limit(spot, "9.4")
    night()
    visit = railway.inspection(spot, inspected_at=railway.VISIT + timedelta(days=60))
    railway.measurement(visit, Quantity.TREAD_WEAR, "9.5", frog)
    night(TODAY + timedelta(days=40))
    assert EarlyWarning.objects.count() == 2
    assert EarlyWarning.objects.filter(stands_on=TODAY).count() == 1


def test_the_night_is_a_run_once_a_day_by_somebody_without_rights(spot: Turnout) -> None:
    near_its_limit(spot, "9.4")
    run = look_ahead_tonight(at=timezone.now())
    assert look_ahead_tonight(at=timezone.now()) == run
    carry_out(run_id=run.pk, work=carry_out_outlook)
    done = LongRun.objects.get(pk=run.pk)
    assert done.state == "done"
    assert done.result["warned"] == 1
    assert not done.requested_by.has_usable_password()


@pytest.fixture
def looked(spot: Turnout) -> Component:
    """A bad frog among good ones, and a tread near its limit, after a night."""
    bad, *_ = frogs(spot, [15] + [1] * 11)
    near_its_limit(spot, "9.4")
    night()
    return bad


def test_the_page_of_repeat_offenders(as_engineer: Client, looked: Component) -> None:
    page = " ".join(as_engineer.get("/components/repeat/").content.decode().split())
    assert "Of 13 components 1 is worse than its like" in page
    assert f"{looked.serial}: 15 defects" in page
    assert "people" in page


def test_counts_are_drawn_from_the_largest_with_the_share_so_far(
    as_engineer: Client, looked: Component
) -> None:
    """15 defects on one frog, one on each of eleven others, none on the last of thirteen."""
    page = " ".join(as_engineer.get("/components/repeat/").content.decode().split())
    assert "1 of 12 components with defects hold half of all 26" in page
    assert "1 of 1 sorts with defects hold half of all 26" in page  # all are spalls of the point
    assert page.count("<svg") == 3
    assert page.count("<table") == 3


def test_counts_are_a_table_for_a_spreadsheet(as_engineer: Client, looked: Component) -> None:
    answer = as_engineer.get("/components/repeat/pareto.csv").content.decode()
    head, *rows = csv.reader(answer.splitlines())
    assert head == ["of", "name", "defects", "share", "share_so_far"]
    # 15 of 26 is 0.5769; the sorts end with all of them
    assert rows[0] == ["component", looked.serial, "15", "0.5769", "0.5769"]
    assert rows[-1][-1] == "1.0000"
    assert sum(int(row[2]) for row in rows if row[0] == "component") == 26


def test_the_page_of_early_warnings(
    as_engineer: Client, engineer: Person, looked: Component
) -> None:
    engineer.length_unit = "mm"
    engineer.save()
    page = " ".join(as_engineer.get("/components/warnings/").content.decode().split())
    assert "not more than 9.525 mm (49 CFR 213.137(c))" in page
    assert "1 warning as of 2026-04-01" in page


@pytest.mark.parametrize("name", ["repeat", "warnings"])
def test_without_a_night_the_page_says_so(as_engineer: Client, name: str) -> None:
    page = as_engineer.get(f"/components/{name}/").content.decode()
    assert "every night" in page


@pytest.mark.parametrize(("name", "lines"), [("repeat", 13), ("warnings", 1)])
def test_they_are_tables_for_a_spreadsheet(
    as_engineer: Client, looked: Component, name: str, lines: int
) -> None:
    answer = as_engineer.get(f"/components/{name}/table.csv").content.decode()
    head, *rows = csv.reader(answer.splitlines())
    assert head[0] == "component"
    assert len(rows) == lines


@pytest.mark.parametrize(("name", "lines"), [("repeat-offenders", 13), ("early-warnings", 1)])
def test_a_program_reads_those_of_its_territory(
    client: Client, engineer: Person, looked: Component, name: str, lines: int
) -> None:
    client.force_login(engineer)
    assert client.get(f"/api/{name}/?current=true").json()["count"] == lines
    client.force_login(railway.person("engineer", railway.territory()))
    assert client.get(f"/api/{name}/").json()["count"] == 0
    client.force_login(railway.person())
    assert client.get(f"/api/{name}/").status_code == 403


@pytest.mark.parametrize("name", ["repeat", "warnings"])
def test_another_territory_reads_none_of_it(client: Client, looked: Component, name: str) -> None:
    client.force_login(railway.person("engineer", railway.territory()))
    assert looked.serial not in client.get(f"/components/{name}/").content.decode()


def test_a_filter_by_territory_leaves_the_others_out(
    client: Client, spot: Turnout, looked: Component
) -> None:
    other = railway.territory()
    client.force_login(railway.person("engineer"))
    here = client.get(f"/components/repeat/?territory={spot.territory.code}").content.decode()
    there = client.get(f"/components/repeat/?territory={other.code}").content.decode()
    assert looked.serial in here
    assert looked.serial not in there


@pytest.mark.parametrize("name", ["repeat", "warnings"])
def test_a_page_asks_as_often_for_many_as_for_few(
    as_engineer: Client, spot: Turnout, name: str
) -> None:
    counts = []
    for more in (10, 15):
        frogs(spot, [2] * more)
        near_its_limit(railway.turnout(spot.track), "9.3")
        night()
        as_engineer.get(f"/components/{name}/")
        with CaptureQueriesContext(connection) as asked:
            assert as_engineer.get(f"/components/{name}/").status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_the_night_takes_as_many_queries_for_many_as_for_few(spot: Turnout) -> None:
    counts = []
    for more in (10, 15):
        frogs(spot, [2] * more)
        near_its_limit(railway.turnout(spot.track), "9.3")
        with CaptureQueriesContext(connection) as asked:
            night()
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_supervisor_may_have_it_worked_out_before_the_night_and_once_by_a_key(
    client: Client,
) -> None:
    asker = railway.person("supervisor")
    client.force_login(asker)
    for _ in range(2):
        answer = client.post("/components/look-ahead/", {"key": "k"})
    run = LongRun.objects.get()
    assert (run.kind, run.requested_by) == ("look ahead", asker)
    assert answer.headers["Location"] == f"/components/warnings/?run={run.pk}"
    assert (
        "It goes on if you leave this page"
        in client.get(answer.headers["Location"]).content.decode()
    )
    client.force_login(railway.person("supervisor"))
    assert client.get(answer.headers["Location"]).status_code == 404
