"""The drawing of the week: nothing in it hides anything else."""

import pytest

from planning.models import WorkWindow
from planning.pages.picture import BAR, week_picture
from tests import railway, track_time
from tests.planning.conftest import SmallWeek

pytestmark = pytest.mark.django_db


def test_gangs_that_share_a_window_are_drawn_beside_each_other(small_week: SmallWeek) -> None:
    WorkWindow.objects.update(gangs=2)
    track_time.crew(small_week.crew.depot)
    for mile in ("5", "7"):
        track_time.job(railway.turnout(small_week.track, mile=mile), minutes=150)
    placed = list(small_week.plan().placed.select_related("crew", "window"))
    crews = {one.crew_id: n for n, one in enumerate(placed)}
    window = WorkWindow.objects.get()

    [day] = week_picture([window], placed, {}, crews)

    assert len(crews) == 2
    marks = day.marks
    for a in marks:
        assert day.grounds[0].y <= a.y
        assert a.y + a.height <= day.grounds[0].y + BAR
        for b in marks:
            apart_in_time = a.x + a.width <= b.x + 0.2 or b.x + b.width <= a.x + 0.2
            apart_in_lane = a.y + a.height <= b.y or b.y + b.height <= a.y
            assert a is b or apart_in_time or apart_in_lane
