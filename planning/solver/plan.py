"""The answer: who does what, where and when; what is left out and why; how far from best."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Placement:
    """One job in the plan. Times are whole minutes from the start of the plan.

    `start_min` is when the crew takes the job up, set-up included; `end_min` is the planned end:
    start plus the mean set-up and working time, rounded up. `chance` is a lower estimate of the
    chance that this job, and so all before it in the crew's day, is finished when its work window
    ends. `travel_from` is the job before it in the crew's day, None when the crew comes from base.
    """

    job: str
    crew: str
    truck: str | None
    window: str
    day: int
    start_min: int
    end_min: int
    setup: bool
    travel_from: str | None
    travel_min: int
    chance: float
    value: float
    late: bool


@dataclass(frozen=True, slots=True)
class Change:
    """The single change that would let a job in.

    kind: `window` (longer by `amount` minutes), `overtime` (shift longer by `amount` minutes),
    `qualified` (one more qualified person that day), `stock` (`amount` units of `item`),
    `place` (room taken by other work), `none` (no single change of these kinds would do). `window`
    names the window that would be longer; a new one has no name.
    """

    kind: str
    what: str
    amount: float = 0
    crew: str | None = None
    day: int | None = None
    item: str | None = None
    window: str | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A job not in the plan, the reason in a sentence, and the change that would let it in."""

    job: str
    reason: str
    change: Change


@dataclass(frozen=True, slots=True)
class Load:
    """What one truck uses of one item over the week, and how much of it comes from the depot.

    `ordered` is the part of `from_depot` that an order brings in time, so that no stock limits it.
    """

    truck: str
    item: str
    used: float
    from_depot: float
    ordered: float = 0.0


@dataclass(frozen=True, slots=True)
class Plan:
    """A week's plan.

    `value` is the money saved, `changed` the price of what differs from the former plan (see
    `problem.Keep`; 0 without one) and `net` the one less the other, which is what planning makes
    as large as it can. `bound` is what no plan's `net` can exceed, None when it was not proved;
    `gap` is (bound - net) over the larger of the two, taken without its sign. `window_chance` is
    the chance that every crew in a work window has finished at its end (crews independent of one
    another). `seconds` is by the caller's clock.
    """

    placements: tuple[Placement, ...]
    left_out: tuple[LeftOut, ...]
    loads: tuple[Load, ...]
    value: float
    bound: float | None
    gap: float | None
    seconds: float
    window_chance: Mapping[str, float]
    notes: tuple[str, ...]
    changed: float = 0.0

    @property
    def net(self) -> float:
        """The money saved less the price of the changes."""
        return self.value - self.changed


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the planning is: the stage in words, the best net value, the bound if proved."""

    stage: str
    value: float
    bound: float | None
    seconds: float
