"""Ending a run of the planner early: it keeps the best plan it has by then."""

import time
from collections.abc import Callable, Sequence
from datetime import datetime

from django.db import transaction

from planning.models import PlanningStop
from turnouts.access import Action, require, visible
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Conflict

KIND = "plan"
WHAT_IF = "week what-if"
NETWORK = "network"
LOOK_EVERY_S = 0.5


@transaction.atomic
def stop_planning(*, by: Person, run: LongRun, at: datetime) -> PlanningStop:
    """Ask a planning run to end with the best it has; asking twice changes nothing.

    Any supervisor of the territory may, of the network's whoever plans all its territories: then
    each territory keeps its best. A run that has ended is not there to be stopped.
    """
    if run.kind not in (KIND, WHAT_IF, NETWORK):
        raise Conflict("Only the planning of a week can be stopped here.")
    _require_all(by, run)
    row = LongRun.objects.select_for_update().get(pk=run.pk)
    if row.finished:
        raise Conflict("The planning had ended by itself before; look at what came of it.")
    stop, _ = PlanningStop.objects.get_or_create(run=row, defaults={"by": by, "at": at})
    return stop


def _require_all(by: Person, run: LongRun) -> None:
    if run.kind != NETWORK:
        require(by, Action.PLAN, Territory.objects.get(code=run.asked["territory"]))
        return
    require(by, Action.PLAN)
    rows = Territory.objects.filter(code__in=run.asked["territories"])
    mine = visible(by, rows, Action.PLAN)
    for place in rows.exclude(pk__in=mine.values("pk")):
        require(by, Action.PLAN, place)


def stop_of(run: LongRun) -> PlanningStop | None:
    """The word that ends this run, or the network's run that it is a part of."""
    runs = [pk for pk in (run.pk, run.asked.get("network")) if pk is not None]
    return PlanningStop.objects.select_related("by").filter(run__in=runs).first()


class StoppableClock:
    """The planner's clock. Once the run is stopped it stands past the end of the effort, so that
    the planner ends as it always does when its time is over, with the best it has found.

    Its first answer is always the real time, because the planner counts its seconds from there.
    """

    def __init__(
        self, run: LongRun, seconds: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._run, self._seconds, self._clock = run, seconds, clock
        self._began = self._looked = clock()
        self._first = True
        self._stop = stop_of(run)

    def __call__(self) -> float:
        now = self._clock()
        if self._first:
            self._first, self._looked = False, now
            return now
        if self._stop is None and now - self._looked >= LOOK_EVERY_S:
            self._looked, self._stop = now, stop_of(self._run)
        return now if self._stop is None else now + self._seconds

    def really(self) -> float:
        """Seconds the planning took by the real clock."""
        return self._clock() - self._began

    def stopped_by(self) -> str:
        """Who stopped it; empty where nobody did before it ended."""
        return "" if self._stop is None else str(self._stop.by)

    def notes(self, said: Sequence[str]) -> tuple[str, ...]:
        """The planner's notes, and who stopped it; it ran out of time only because of that."""
        if self._stop is None:
            return tuple(said)
        own = f"Stopped by {self._stop.by} after {self.really():.0f} s; the best so far was kept."
        return (*(note for note in said if "ran out" not in note), own)
