"""What a repair saves for each day it is done sooner: the value that track time is given by."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

from repairs.models import Decision
from repairs.triage.decision import Traffic, TrafficKind
from repairs.triage.priority import Worth, worth_per_day
from turnouts.models import Traffic as TrafficRow


def worth_of(decisions: Sequence[Decision], trains_per_day: float, on: date) -> Worth:
    """The dearest of a job's defects counts: repairing them together lifts one restriction."""
    line_kmh = float(decisions[0].defect.turnout.speed_through_kmh)
    worths = [
        worth_per_day(
            Traffic(TrafficKind(d.traffic), None, None, d.speed_kmh),
            line_kmh=line_kmh,
            trains_per_day=trains_per_day,
            growing=True,  # metal once broken open goes on breaking under every wheel
            on=on,
        )
        for d in decisions
    ]
    return max(worths, key=lambda worth: worth.per_day)


def trains_by_turnout(turnouts: Iterable[int], on: date) -> dict[int, float]:
    """Trains a day over both routes of each turnout, by the newest count of each; 0 if none."""
    rows = TrafficRow.objects.filter(turnout__in=turnouts, since__lte=on).order_by("since")
    newest: dict[tuple[int, str], float] = {}
    for row in rows:
        newest[(row.turnout_id, row.route)] = float(row.trains_per_day)
    total: dict[int, float] = defaultdict(float)
    for (turnout, _), trains in newest.items():
        total[turnout] += trains
    return total
