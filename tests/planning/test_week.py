"""Rows as the solver reads them."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from planning.models import PlannedJob, Stock
from planning.services.calendar import Week
from planning.services.week import week_problem
from planning.solver.faults import demand_sound
from tests import railway, track_time
from tests.track_time import MONDAY, PROCEDURE
from turnouts.models import Territory, Track

pytestmark = pytest.mark.django_db

WEEK = Week(MONDAY)


@pytest.fixture
def track() -> Track:
    return railway.track()


@pytest.fixture
def territory(track: Track) -> Territory:
    return track.line.territory


def test_the_problem_of_an_ordinary_week_is_sound(territory: Territory, track: Track) -> None:
    track_time.crew(track_time.depot(track.line))
    track_time.window(track)
    track_time.job(railway.turnout(track))

    problem = week_problem(territory, WEEK)

    demand_sound(problem)
    assert [len(problem.jobs), len(problem.windows), len(problem.crews)] == [1, 1, 1]


def test_a_window_is_counted_in_minutes_from_monday(territory: Territory, track: Track) -> None:
    track_time.window(track, day=1, hours=(8, 12.5))

    [window] = week_problem(territory, WEEK).windows

    assert (window.start_min, window.end_min) == (1440 + 480, 1440 + 750)


def test_a_window_of_next_week_is_not_of_this_week(territory: Territory, track: Track) -> None:
    track_time.window(track, day=6, hours=(23, 25))
    track_time.window(track, day=7, hours=(0, 4))

    assert len(week_problem(territory, WEEK).windows) == 1


def test_a_certificate_counts_on_its_last_day_and_not_on_the_next(
    territory: Territory, track: Track
) -> None:
    crew = track_time.crew(track_time.depot(track.line), holds=())
    track_time.member(crew, PROCEDURE, expires_on=MONDAY + timedelta(days=2))

    [found] = week_problem(territory, WEEK).crews

    assert found.holds[2] == {PROCEDURE}
    assert found.holds[3] == frozenset()


def test_somebody_who_left_the_crew_no_longer_counts(territory: Territory, track: Track) -> None:
    crew = track_time.crew(track_time.depot(track.line))
    crew.members.update(until=MONDAY + timedelta(days=1))

    [found] = week_problem(territory, WEEK).crews

    assert PROCEDURE in found.holds[0]
    assert found.holds[1] == frozenset()


@pytest.mark.parametrize(
    ("due_on", "minute"),
    [
        (MONDAY, 1440),
        (MONDAY + timedelta(days=6), 7 * 1440),
        (MONDAY - timedelta(days=30), 0),
        (None, None),
    ],
)
def test_a_job_is_due_at_the_end_of_its_day(
    territory: Territory, track: Track, due_on: date | None, minute: int | None
) -> None:
    track_time.job(railway.turnout(track), due_on=due_on)

    [job] = week_problem(territory, WEEK).jobs

    assert job.due_min == minute


def test_each_day_later_saves_one_day_less(territory: Territory, track: Track) -> None:
    track_time.job(railway.turnout(track), per_day="100")

    [job] = week_problem(territory, WEEK).jobs

    assert [a - b for a, b in zip(job.value, job.value[1:], strict=False)] == [100.0] * 6


def test_a_job_that_saves_nothing_yet_is_still_worth_placing(
    territory: Territory, track: Track
) -> None:
    track_time.job(railway.turnout(track), per_day="0")

    [job] = week_problem(territory, WEEK).jobs

    assert min(job.value) > 0


@pytest.mark.parametrize("state", ["in_work", "done", "cancelled"])
def test_a_job_that_is_under_way_or_over_is_not_planned(
    territory: Territory, track: Track, state: str
) -> None:
    track_time.job(railway.turnout(track), state=state)

    assert week_problem(territory, WEEK).jobs == ()


def test_the_wire_is_asked_for_by_the_procedure_it_is_for(
    territory: Territory, track: Track
) -> None:
    estimate = track_time.job(railway.turnout(track)).estimates.get()
    [wire] = [m for m in estimate.detail["materials"] if m["key"] == PROCEDURE]

    problem = week_problem(territory, WEEK)

    assert problem.jobs[0].material[PROCEDURE] == wire["load_out"] >= estimate.filler_kg
    assert problem.item_kg[PROCEDURE] == pytest.approx(1.0)  # wire is counted in kg


def test_stock_of_all_depots_of_the_territory_is_counted_together(
    territory: Territory, track: Track
) -> None:
    for amount in ("10", "2.5"):
        depot = track_time.depot(track.line)
        Stock.objects.create(depot=depot, material=PROCEDURE, quantity=Decimal(amount), unit="kg")

    assert week_problem(territory, WEEK).depot_stock == {PROCEDURE: 12.5}


def test_nothing_of_another_territory_is_in_the_week(territory: Territory) -> None:
    other = railway.track()
    track_time.crew(track_time.depot(other.line))
    track_time.window(other)
    track_time.job(railway.turnout(other))

    problem = week_problem(territory, WEEK)

    assert (problem.jobs, problem.windows, problem.crews, problem.trucks) == ((), (), (), ())
    assert not PlannedJob.objects.exists()
