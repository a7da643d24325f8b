"""A week solved within its time, for a run that says how far it is and may be stopped."""

from collections.abc import Callable
from dataclasses import replace

from planning.services.stopping import StoppableClock
from planning.solver.plan import Plan
from planning.solver.plan import Progress as Stage
from planning.solver.problem import Problem
from planning.solver.solve import Effort, solve
from turnouts.models import LongRun
from turnouts.services.runs import Progress

SEED = 7
"""Planning the same week twice gives the same plan, as long as the time does not run out."""


def solved(
    problem: Problem,
    *,
    run: LongRun,
    seconds: float,
    progress: Progress,
    words: Callable[[Stage], str],
    part: tuple[int, int] = (0, 100),
) -> tuple[Plan, str]:
    """The plan made in so many seconds, and who stopped it before; empty where nobody did.

    ``part`` are the percents of the whole run that this planning is, ``words`` what is said of each
    stage. The plan's seconds and notes are those of the real clock.
    """
    begin, end = part
    clock = StoppableClock(run, seconds)

    def tell(stage: Stage) -> None:
        done = begin + (end - begin) * min(stage.seconds / seconds, 0.99)
        progress(round(done), 100, words(stage))

    plan = solve(problem, now=clock, effort=Effort(seconds=seconds, seed=SEED), progress=tell)
    plan = replace(plan, seconds=clock.really(), notes=clock.notes(plan.notes))
    return plan, clock.stopped_by()
