"""A small week most planning tests begin with: one crew, one window, two repairs."""

from dataclasses import dataclass

import pytest

from planning.models import Crew, WeekPlan, WorkWindow
from planning.services.calendar import Week
from planning.services.plans import plan_week, request_plan
from repairs.models import RepairJob
from tests import railway, track_time
from turnouts.models import Person, Territory, Track


@dataclass
class SmallWeek:
    territory: Territory
    track: Track
    crew: Crew
    window: WorkWindow
    jobs: list[RepairJob]
    supervisor: Person
    week: Week

    def plan(self, key: str = "first", base: WeekPlan | None = None) -> WeekPlan:
        """Plan the week as the queue would, and give the draft."""
        run, _ = request_plan(
            by=self.supervisor,
            territory=self.territory,
            week=self.week,
            request_key=key,
            base=base,
        )
        answer = plan_week(run=run, progress=lambda *_: None, at=track_time.at(-2, 10))
        return WeekPlan.objects.get(pk=answer["plan"])


@pytest.fixture
def small_week(db: None) -> SmallWeek:
    track = railway.track()
    territory = track.line.territory
    return SmallWeek(
        territory=territory,
        track=track,
        crew=track_time.crew(track_time.depot(track.line)),
        window=track_time.window(track),
        jobs=[track_time.job(railway.turnout(track, mile=mile)) for mile in ("4", "6")],
        supervisor=railway.person("supervisor", territory),
        week=Week(track_time.MONDAY),
    )
