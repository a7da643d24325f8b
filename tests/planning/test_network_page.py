"""All territories on one page: plans, throughput, lent crews, and how far the planning is."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planning.models import CrewLoan, WeekPlan
from planning.network_week import network_week
from planning.services.calendar import Week
from planning.services.network import request_network, step
from planning.services.plans import plan_week
from tests import railway
from tests.network import NetworkSize, make_network
from tests.planning.conftest import SmallWeek
from tests.planning.test_network import NOW, asked, parts, work
from tests.track_time import MONDAY
from turnouts.models import LongRun, Person, Territory
from turnouts.services.runs import carry_out

WEEK = Week(MONDAY)
ADDRESS = f"/weeks/{MONDAY}/"


@pytest.fixture
def supervisor(db: None) -> Person:
    """Of a network of three territories, of which the first has crews to lend."""
    return make_network(NetworkSize(territories=3, jobs=26, crews=1))


def test_the_page_shows_every_territory_what_was_lent_and_how_fast_it_went(
    client: Client, supervisor: Person
) -> None:
    run = work(asked(supervisor, seconds=1))
    LongRun.objects.filter(pk=run.pk).update(finished_at=run.started_at + timedelta(seconds=30))
    client.force_login(supervisor)

    page = client.get(ADDRESS).content.decode()

    for place in Territory.objects.all():
        assert f"/week/{place.code}/{MONDAY}/" in page
    newest = WeekPlan.objects.order_by("territory_id", "-number").distinct("territory_id")
    jobs = sum(plan.placed.count() + plan.left_out.count() for plan in newest)
    assert "3 of 3" in page
    assert f"Planned 3 territories in 30 s, {2 * jobs} jobs a minute" in page
    loans = CrewLoan.objects.select_related("shift__crew")
    assert loans
    assert all(loan.shift.crew.name in page for loan in loans)


def test_while_it_goes_on_each_territory_says_how_far_it_is(
    client: Client, supervisor: Person
) -> None:
    run = asked(supervisor, seconds=1)
    step(run_id=run.pk, at=NOW)
    first, second, _ = parts(run)
    carry_out(run_id=first.pk, work=lambda one, tell: plan_week(run=one, progress=tell, at=NOW))
    LongRun.objects.filter(pk=second.pk).update(state="failed", message="No road leads there.")
    step(run_id=run.pk, at=NOW)
    client.force_login(supervisor)

    page = client.get(ADDRESS).content.decode()

    assert "2 of 3. " in page  # the bar of the whole run
    assert "1 of 3" in page  # territories planned
    assert "No road leads there." in page
    assert page.count('data-name="Planning">waiting') == 1


def test_a_click_asks_for_the_whole_network_once(client: Client, supervisor: Person) -> None:
    client.force_login(supervisor)
    for _ in range(2):
        answer = client.post(f"{ADDRESS}plan/", {"request_key": "one"})
        assert answer.headers["Location"] == ADDRESS
    run = LongRun.objects.get(kind="network")
    assert len(run.asked["territories"]) == 3
    assert client.post(f"{ADDRESS}plan/").status_code == 400


@pytest.mark.parametrize(
    ("role", "sees", "asks"),
    [
        ("supervisor", 200, 302),
        ("welder", 200, 403),
        ("engineer", 200, 403),
        ("inspector", 403, 403),
        ("administrator", 403, 403),
    ],
)
def test_who_sees_the_network_and_who_plans_it(
    client: Client, small_week: SmallWeek, role: str, sees: int, asks: int
) -> None:
    client.force_login(railway.person(role, small_week.territory))
    assert client.get(ADDRESS).status_code == sees
    assert client.post(f"{ADDRESS}plan/", {"request_key": "k"}).status_code == asks
    assert client.get(f"/api/network-weeks/{MONDAY}/").status_code == sees


def test_a_territory_the_reader_does_not_see_is_not_on_the_page(
    client: Client, small_week: SmallWeek
) -> None:
    other = railway.territory()
    client.force_login(small_week.supervisor)
    page = client.get(ADDRESS).content.decode()
    assert small_week.territory.name in page
    assert other.name not in page


def test_the_figures_of_a_row_are_those_of_its_newest_plan(small_week: SmallWeek) -> None:
    one = small_week.jobs[0]
    one.due_on = MONDAY - timedelta(days=3)
    one.save()
    small_week.plan("first")
    newest = small_week.plan("second")
    [row] = network_week(small_week.supervisor, WEEK).rows
    time = sum(((p.ends_at - p.leaves_at) for p in newest.placed.all()), timedelta())
    assert (row.plan, row.placed, row.left_out, row.late) == (newest, 2, 0, 1)
    assert row.crew_hours == pytest.approx(time.total_seconds() / 3600)


def test_the_api_tells_the_same(client: Client, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    request_network(by=small_week.supervisor, week=WEEK, request_key="n")
    client.force_login(small_week.supervisor)
    told = client.get(f"/api/network-weeks/{MONDAY}/").json()
    [row] = told["rows"]
    assert (row["plan"], row["placed"], row["value"]) == (plan.pk, 2, plan.value)
    assert (told["run"]["state"], told["seconds"], told["loans"]) == ("queued", None, [])


def test_queries_do_not_grow_with_the_network(client: Client, small_week: SmallWeek) -> None:
    reader = railway.person("supervisor")
    small_week.plan()
    client.force_login(reader)
    few = _queries(client)
    for _ in range(4):
        railway.territory()
    assert _queries(client) == few


def _queries(client: Client) -> int:
    with CaptureQueriesContext(connection) as caught:
        assert client.get(ADDRESS).status_code == 200
    return len(caught)
