"""What would let a left-out job in is said with the names and times people know."""

import pytest

from planning.models import Stock, Truck
from planning.services.changes_said import names_of, said_change
from planning.services.week import week_problem
from planning.solver.plan import Change
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import PROCEDURE


def test_a_longer_window_is_said_with_its_hours_its_track_and_the_crew(
    small_week: SmallWeek,
) -> None:
    track_time.job(railway.turnout(small_week.track, mile="5"), minutes=440)
    for job in small_week.jobs:
        job.state = "cancelled"
        job.save()

    [left] = small_week.plan().left_out.all()

    track = small_week.track
    assert left.change.startswith(
        f"Track time Mon 2 Mar 08:00 to 16:00 on {track.line.name}, {track.name} longer by "
    )
    assert left.change.endswith(
        f" min; {small_week.crew.name} would do it ({small_week.window.reference})."
    )


def test_one_more_welder_is_said_with_the_day_of_the_week(small_week: SmallWeek) -> None:
    small_week.crew.members.get().person.qualifications.filter(procedure=PROCEDURE).delete()
    changes = {left.change for left in small_week.plan().left_out.all()}
    crew = small_week.crew.name
    assert changes == {f"One more person qualified for {PROCEDURE} in {crew} on Monday."}


def test_overtime_is_said_with_the_shift_it_lengthens(small_week: SmallWeek) -> None:
    small_week.crew.shifts.exclude(starts_at__day=2).delete()
    shift = small_week.crew.shifts.get()
    shift.ends_at = track_time.at(0, 11)
    shift.save()
    changes = [left.change for left in small_week.plan().left_out.all()]
    assert len(changes) == 1
    assert changes[0].startswith(f"{small_week.crew.name} working ")
    assert changes[0].endswith(" min longer in the shift of Monday.")


def test_stock_is_said_with_how_much_of_what(small_week: SmallWeek) -> None:
    truck = Truck.objects.get(pk=small_week.crew.truck_id)
    Stock.objects.filter(truck=truck, material="carbons").update(quantity=0)
    changes = {left.change for left in small_week.plan().left_out.all()}
    assert len(changes) == 1
    [change] = changes
    assert " more of carbons at the depot by Monday; " in change
    assert change.endswith(f"{small_week.crew.name} would do it.")


@pytest.mark.parametrize("kind", ["window", "none"])
def test_what_names_no_crew_or_window_is_said_as_the_planner_says_it(
    small_week: SmallWeek, kind: str
) -> None:
    names = names_of(week_problem(small_week.territory, small_week.week), small_week.week)
    assert said_change(Change(kind, "As it stands."), names) == "As it stands."
