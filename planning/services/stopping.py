"""Ending a planning run early: it keeps the best plan it has by then."""

import time
from collections.abc import Callable, Sequence
from datetime import datetime

from django.db import transaction

from planning.models import PlanningStop
from turnouts.access import Action, require
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Conflict

KIND = "plan"
LOOK_EVERY_S = 0.5


@transaction.atomic
def stop_planning(*, by: Person, run: LongRun, at: datetime) -> PlanningStop:
    """Ask a planning run to end with the best it has; asking twice changes nothing.

    Any supervisor of the territory may. A run that has ended is not there to be stopped.
    """
    if run.kind != KIND:
        raise Conflict("Only the planning of a week can be stopped here.")
    require(by, Action.PLAN, Territory.objects.get(code=run.asked["territory"]))
    row = LongRun.objects.select_for_update().get(pk=run.pk)
    if row.finished:
        raise Conflict("The planning had ended by itself before; look at the plan it made.")
    stop, _ = PlanningStop.objects.get_or_create(run=row, defaults={"by": by, "at": at})
    return stop


class StoppableClock:
    """The planner's clock. Once the run is stopped it stands past the end of the effort, so that
    the planner ends as it always does when its time is over, with the best it has found."""

    def __init__(
        self, run: LongRun, seconds: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._run, self._seconds, self._clock = run, seconds, clock
        self._began = self._looked = clock()
        self._stop: PlanningStop | None = self._asked()

    def __call__(self) -> float:
        now = self._clock()
        if self._stop is None and now - self._looked >= LOOK_EVERY_S:
            self._looked, self._stop = now, self._asked()
        return now if self._stop is None else now + self._seconds

    def really(self) -> float:
        """Seconds the planning took by the real clock."""
        return self._clock() - self._began

    def notes(self, said: Sequence[str]) -> tuple[str, ...]:
        """The planner's notes, and who stopped it; it ran out of time only because of that."""
        if self._stop is None:
            return tuple(said)
        own = f"Stopped by {self._stop.by} after {self.really():.0f} s; the best so far was kept."
        return (*(note for note in said if "ran out" not in note), own)

    def _asked(self) -> PlanningStop | None:
        return PlanningStop.objects.select_related("by").filter(run=self._run).first()
