"""Two plans of one week side by side: what moved, came in and fell out, and what it costs."""

from dataclasses import dataclass

from planning.models import PlannedJob, WeekPlan
from planning.reading import PlanRead, read_plan


@dataclass(frozen=True)
class Moved:
    """One job with its place in the old plan and in the new one."""

    old: PlannedJob
    new: PlannedJob

    @property
    def what(self) -> str:
        """What of the place is another: start, crew, window."""
        changed = [
            word
            for word, name in (("start", "starts_at"), ("crew", "crew_id"), ("window", "window_id"))
            if getattr(self.old, name) != getattr(self.new, name)
        ]
        return ", ".join(changed)


@dataclass(frozen=True)
class Comparison:
    """An old plan, a new one, and what lies between them."""

    old: PlanRead
    new: PlanRead
    moved: list[Moved]
    came_in: list[PlannedJob]
    fell_out: list[PlannedJob]
    same: int

    @property
    def price(self) -> float:
        """What the new plan saves less than the old one; negative where it saves more."""
        return self.old.plan.value - self.new.plan.value


def compare(old: WeekPlan, new: WeekPlan) -> Comparison:
    """The difference of two plans, in a number of queries that no plan's size changes."""
    before, after = read_plan(old), read_plan(new)
    was = {one.job_id: one for one in before.placed}
    now = {one.job_id: one for one in after.placed}
    both = [Moved(was[job], one) for job, one in now.items() if job in was]
    moved = [pair for pair in both if pair.what]
    return Comparison(
        old=before,
        new=after,
        moved=moved,
        came_in=[one for job, one in now.items() if job not in was],
        fell_out=[one for job, one in was.items() if job not in now],
        same=len(both) - len(moved),
    )
