"""One set-up for the jobs of one visit, and what track time asks of a gang."""

from decimal import Decimal

import pytest

from planning.services.calendar import Week
from planning.services.set_ups import set_up_of, sites_in, working_time
from planning.services.week import week_problem
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import MONDAY
from turnouts.models import Territory, Track

pytestmark = pytest.mark.django_db

WEEK = Week(MONDAY)


@pytest.fixture
def track() -> Track:
    return railway.track()


@pytest.fixture
def territory(track: Track) -> Territory:
    return track.line.territory


def at_metres(track: Track, metres: str) -> str:
    return railway.turnout(track, mile=str(Decimal(metres) / railway.MILE_M)).code


def test_a_job_and_its_set_up_together_take_what_was_estimated(
    territory: Territory, track: Track
) -> None:
    estimate = track_time.job(railway.turnout(track)).estimates.get()

    problem = week_problem(territory, WEEK)

    assert problem.setup is not None
    assert problem.setup == set_up_of([estimate])
    together = problem.jobs[0].work.mean_min + problem.setup.mean_min
    assert together == pytest.approx(working_time(estimate).mean_min)
    # The stage "briefing": median 15 min, sigma 0.3, so a mean of 15 * exp(0.045).
    assert problem.setup.mean_min == pytest.approx(15.690, abs=1e-3)


def test_turnouts_400_m_apart_on_one_track_share_a_set_up_and_a_metre_more_do_not(
    territory: Territory, track: Track
) -> None:
    first, last = at_metres(track, "1000"), at_metres(track, "1400")
    beyond = at_metres(track, "1401")

    sites = sites_in(territory, MONDAY)

    assert sites[first] == sites[last] == first
    assert beyond not in sites


def test_two_jobs_at_neighbouring_turnouts_are_planned_with_one_set_up(
    small_week: SmallWeek,
) -> None:
    plan = small_week.plan()
    apart = [row.ends_at - row.starts_at for row in plan.placed.order_by("starts_at")]
    one, two = (job.turnout for job in small_week.jobs)
    two.chainage_m = one.chainage_m + 300
    two.save()

    near = small_week.plan(key="again")

    minutes = [row.ends_at - row.starts_at for row in near.placed.order_by("starts_at")]
    assert len(minutes) == 2
    saved = (sum(d.total_seconds() for d in apart) - sum(d.total_seconds() for d in minutes)) / 60
    assert saved == pytest.approx(15.69, abs=1)  # the mean of one briefing, in whole minutes


def test_track_time_that_lookouts_protect_asks_for_one_and_is_not_for_welding(
    territory: Territory, track: Track
) -> None:
    guarded = track_time.window(track, protection="train_approach_warning")
    closed = track_time.window(track, day=1)
    track_time.job(railway.turnout(track))

    problem = week_problem(territory, WEEK)

    needs = {window.id: window.needs for window in problem.windows}
    assert needs == {guarded.reference: {"lookout"}, closed.reference: frozenset()}
    assert problem.jobs[0].windows == {closed.reference}
