"""One set-up for several jobs: how long it is, and which turnouts lie near enough to share it."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from planning.solver.choices import choice
from planning.solver.faults import MOST_SHARED
from planning.solver.problem import Duration
from planning.solver.set_up import log_normal
from repairs.models import Estimate
from repairs.welding.stages import spread
from turnouts.models import Territory, Turnout

SET_UP_STAGE = "briefing"
"""Job briefing, protection in place and machines off the truck: what one visit needs but once."""


def working_time(estimate: Estimate) -> Duration:
    """The whole job, its set-up in it."""
    # All but the last fiftieth shared is as good as all, and is what the solver can weigh.
    return Duration(estimate.mean_min, estimate.sd_min, min(estimate.shared, MOST_SHARED))


def set_up_of(estimates: Sequence[Estimate]) -> Duration | None:
    """The set-up that the jobs of a week share: the shortest that any of them is estimated with.

    Records move the stages of each procedure by themselves; by the shortest no job is promised to
    be done earlier than its own estimate says.
    """
    found = [_set_up(estimate) for estimate in estimates]
    return min(found, key=lambda one: (one.mean_min, one.sd_min), default=None)


def _set_up(estimate: Estimate) -> Duration:
    [stage] = [one for one in estimate.detail["stages"] if one["key"] == SET_UP_STAGE]
    return log_normal(stage["work_min"], stage["work_sigma"], min(spread().shared, MOST_SHARED))


def sites_in(territory: Territory, on: date) -> dict[str, str]:
    """The site of each turnout: one track's turnouts within ``one_set_up_m`` of its first.

    All turnouts count and not only those with work, so that a job that is done moves no other from
    one site to another.
    """
    far = choice("one_set_up_m", on)
    rows = Turnout.objects.filter(track__line__territory=territory).order_by("chainage_m", "code")
    first: dict[int, tuple[float, str]] = {}
    found: dict[str, str] = {}
    together: dict[str, int] = defaultdict(int)
    for track, at, code in rows.values_list("track", "chainage_m", "code"):
        if track not in first or float(at) - first[track][0] > far:
            first[track] = (float(at), code)
        found[code] = first[track][1]
        together[found[code]] += 1
    return {code: site for code, site in found.items() if together[site] > 1}
