"""One planning under way: its clock, what it has reached, and telling how far it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from planning.solver.plan import Progress
from planning.solver.ready import Ready
from planning.solver.rows import Rows

_EXPLAIN_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Effort:
    """How long and how hard to try: seconds by the caller's clock, most routes listed, seed."""

    seconds: float = 10.0
    routes: int = 200_000
    seed: int = 0


@dataclass
class Run:
    """A planning under way; `value` and `bound` count the changes not paid for (`Ready.kept`)."""

    ready: Ready
    rows: Rows
    effort: Effort
    now: Callable[[], float]
    progress: Callable[[Progress], None] | None
    began: float
    notes: list[str] = field(default_factory=list)
    value: float = 0.0
    bound: float | None = None

    def spent(self) -> float:
        """Seconds since the planning began."""
        return self.now() - self.began

    def left(self) -> float:
        """Seconds of the time given that are left."""
        return self.effort.seconds - self.spent()

    def left_to_choose(self) -> float:
        """What is left of the time when some is kept for the explanations."""
        return self.left() - _EXPLAIN_SHARE * self.effort.seconds

    def past(self, share: float) -> bool:
        """Whether this share of the time given is spent."""
        return self.spent() > share * self.effort.seconds

    def tell(self, stage: str) -> None:
        """Say how far the planning is."""
        if self.progress is not None:
            none = self.ready.all_changed
            bound = None if self.bound is None else self.bound - none
            self.progress(Progress(stage, self.value - none, bound, self.spent()))
