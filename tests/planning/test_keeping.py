"""Planning again over a published plan: kept as far as it pays, with the price of keeping it."""

from collections.abc import Callable

import pytest
from django.test import Client

from planning.models import PlannedJob, WeekPlan
from planning.services.keeping import prices
from planning.services.plans import plan_week, request_plan
from planning.services.publish import publish_plan
from repairs.models import RepairJob
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.planning.test_network import work
from tests.track_time import MONDAY, at
from turnouts.models import LongRun
from turnouts.services.errors import Refused

NOW = at(-1, 12)
Again = Callable[..., WeekPlan]


@pytest.fixture
def published(small_week: SmallWeek) -> WeekPlan:
    """Both repairs in Monday's track time."""
    plan = small_week.plan()
    return publish_plan(by=small_week.supervisor, plan=plan, expected_version=1, at=NOW)


@pytest.fixture
def again(small_week: SmallWeek) -> Again:
    def planned(*, keep: bool, key: str = "") -> WeekPlan:
        run, _ = request_plan(
            by=small_week.supervisor,
            territory=small_week.territory,
            week=small_week.week,
            request_key=key or f"again {keep}",
            keep=keep,
        )
        answer = plan_week(run=run, progress=lambda *_: None, at=NOW)
        return WeekPlan.objects.get(pk=answer["plan"])

    return planned


def places(plan: WeekPlan) -> dict[str, object]:
    return {one.job.reference: one.starts_at for one in plan.placed.select_related("job")}


def test_without_any_news_the_kept_plan_is_the_published_one_and_costs_nothing(
    published: WeekPlan, again: Again
) -> None:
    kept = again(keep=True)

    assert places(kept) == places(published)
    assert kept.detail["stability"]["kept"] == {"moved": 0, "out": 0, "new": 0}
    assert kept.detail["stability"]["plan"] == published.number
    assert kept.value == pytest.approx(kept.detail["stability"]["free_value"])


def test_better_work_takes_the_place_freely_and_finds_room_beside_it_when_kept(
    small_week: SmallWeek, published: WeekPlan, again: Again
) -> None:
    # 300 a day on Monday are 300 * 28 days; a day later 300 less. Each of the two jobs that would
    # have to make room counts 2,000 for another day, which is more than it gains.
    track_time.window(small_week.track, day=1)
    new = track_time.job(railway.turnout(small_week.track, mile="5"), minutes=300, per_day="300")

    free, kept = again(keep=False), again(keep=True)

    assert places(free)[new.reference] < at(1, 0)
    assert places(kept)[new.reference] >= at(1, 0)
    assert {job: places(kept)[job] for job in places(published)} == places(published)
    said = kept.detail["stability"]
    assert said["free_value"] == pytest.approx(free.value)
    assert free.value - kept.value == pytest.approx(300 - 100 - 100)  # both make room freely
    assert (said["kept"]["moved"], said["kept"]["new"]) == (0, 1)
    assert said["free"]["moved"] == 2


@pytest.mark.parametrize(("over", "moved"), [(100, 2), (-100, 0)])
def test_jobs_make_room_once_what_is_gained_is_more_than_the_price_of_their_changes(
    small_week: SmallWeek, published: WeekPlan, again: Again, over: int, moved: int
) -> None:
    track_time.window(small_week.track, day=1)
    # Each of the two would change day, window and begin, and lose its 100 of Monday.
    price = prices(MONDAY)
    makes_room = price["day"] + price["window"] + price["begin"] + 100
    per_day = str(round(2 * makes_room + over))
    track_time.job(railway.turnout(small_week.track, mile="5"), minutes=300, per_day=per_day)

    kept = again(keep=True)

    assert kept.detail["stability"]["kept"] == {"moved": moved, "out": 0, "new": 1}


def test_the_bound_of_a_kept_plan_is_the_one_of_all_plans_of_the_week(
    small_week: SmallWeek, published: WeekPlan, again: Again
) -> None:
    track_time.window(small_week.track, day=1)
    track_time.job(railway.turnout(small_week.track, mile="5"), minutes=300, per_day="300")
    kept = again(keep=True)
    assert kept.bound is not None
    assert kept.bound >= kept.detail["stability"]["free_value"] - 1e-6
    assert kept.detail["gap"] == pytest.approx((kept.bound - kept.value) / kept.bound)


def test_a_job_that_has_begun_stays_both_ways(
    small_week: SmallWeek, published: WeekPlan, again: Again
) -> None:
    begun = PlannedJob.objects.filter(plan=published).latest("starts_at")
    RepairJob.objects.filter(pk=begun.job_id).update(state="in_work")
    track_time.job(railway.turnout(small_week.track, mile="5"), minutes=300, per_day="900")
    for keep in (True, False):
        plan = again(keep=keep)
        assert places(plan)[begun.job.reference] == begun.starts_at


def test_keeping_is_refused_while_there_is_nothing_to_keep(small_week: SmallWeek) -> None:
    asked = {"by": small_week.supervisor, "territory": small_week.territory}
    with pytest.raises(Refused, match="no plan of this week yet that could be kept"):
        request_plan(**asked, week=small_week.week, request_key="k", keep=True)
    assert request_plan(**asked, week=small_week.week, request_key="k", keep=False)[1]


def test_the_week_page_offers_the_choice_over_a_published_plan_and_says_the_price(
    client: Client, small_week: SmallWeek, published: WeekPlan, again: Again
) -> None:
    client.force_login(small_week.supervisor)
    address = f"/week/{small_week.territory.code}/{MONDAY}/"
    assert "Keep plan 1 as far as it goes" in client.get(address).content.decode()
    client.post(f"{address}plan/", {"request_key": "free", "keep": "0"})
    client.post(f"{address}plan/", {"request_key": "kept", "keep": "1"})
    asked = LongRun.objects.filter(request_key__in=["free", "kept"]).order_by("request_key")
    assert [run.asked["keep"] for run in asked] == [False, True]

    track_time.window(small_week.track, day=1)
    track_time.job(railway.turnout(small_week.track, mile="5"), minutes=300, per_day="300")
    plan = again(keep=True)
    page = client.get(f"{address}?plan={plan.number}").content.decode()
    assert "Keeping to plan 1 costs <b>" in page
    assert "Here 0 jobs of it move, 0 go out and 1 is new" in page


def test_no_choice_is_offered_where_nothing_is_published(
    client: Client, small_week: SmallWeek
) -> None:
    small_week.plan()
    client.force_login(small_week.supervisor)
    page = client.get(f"/week/{small_week.territory.code}/{MONDAY}/").content.decode()
    assert "as far as it goes" not in page


def test_the_network_keeps_each_published_plan_and_plans_the_others_freely(
    small_week: SmallWeek, published: WeekPlan, client: Client
) -> None:
    # As above: freely the better job takes the place of both, and keeping to them costs 100.
    track_time.window(small_week.track, day=1)
    new = track_time.job(railway.turnout(small_week.track, mile="5"), minutes=300, per_day="300")
    other = railway.territory()
    everywhere = railway.person("supervisor")
    client.force_login(everywhere)
    page = client.get(f"/weeks/{MONDAY}/").content.decode()
    assert "Keep the 1 published plan as far as it goes" in page
    assert "Keeping costs" not in page

    client.post(f"/weeks/{MONDAY}/plan/", {"request_key": "n", "keep": "1"})
    done = work(LongRun.objects.get(kind="network"))

    kept = WeekPlan.objects.get(pk=done.result["plans"][small_week.territory.code])
    assert {job: places(kept)[job] for job in places(published)} == places(published)
    assert places(kept)[new.reference] >= at(1, 0)
    assert WeekPlan.objects.get(pk=done.result["plans"][other.code]).detail["stability"] is None
    told = client.get(f"/api/network-weeks/{MONDAY}/").json()["rows"]
    costs = {row["territory"]: row["keeping_costs"] for row in told}
    assert costs == {small_week.territory.code: pytest.approx(100), other.code: None}
    page = client.get(f"/weeks/{MONDAY}/").content.decode()
    assert "is what keeping to 1 published plan costs" in page
    assert page.count("planned freely") == 1


@pytest.mark.parametrize("keep", [True, False])
def test_a_program_chooses_whether_the_network_keeps_to_its_plans(
    published: WeekPlan, small_week: SmallWeek, client: Client, keep: bool
) -> None:
    client.force_login(small_week.supervisor)
    given = {"week": str(MONDAY), "request_key": "n", "keep": keep}
    run = client.post("/api/network-plans/", given, content_type="application/json").json()["id"]
    done = work(LongRun.objects.get(pk=run))
    plan = WeekPlan.objects.get(pk=done.result["plans"][small_week.territory.code])
    assert (plan.detail["stability"] is not None) is keep


def test_without_a_published_plan_the_network_page_offers_nothing_to_keep(
    small_week: SmallWeek, client: Client
) -> None:
    small_week.plan()
    client.force_login(small_week.supervisor)
    assert 'name="keep"' not in client.get(f"/weeks/{MONDAY}/").content.decode()
