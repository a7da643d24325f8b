"""A small week most planning tests begin with: one crew, one window, two repairs."""

from dataclasses import dataclass
from datetime import datetime

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

    def plan(
        self, key: str = "first", base: WeekPlan | None = None, at: datetime | None = None
    ) -> WeekPlan:
        """Plan the week as the queue would, by default before it begins, and give the draft."""
        run, _ = request_plan(
            by=self.supervisor,
            territory=self.territory,
            week=self.week,
            request_key=key,
            base=base,
        )
        answer = plan_week(run=run, progress=lambda *_: None, at=at or track_time.at(-2, 10))
        return WeekPlan.objects.get(pk=answer["plan"])


@pytest.fixture(autouse=True)
def before_the_week(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock of pages and endpoints stands on the Sunday before the invented week."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: track_time.at(-1, 12))


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
