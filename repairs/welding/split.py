"""Splitting a repair: which zones can be done in windows of their own, and what each split costs.

A zone is the least that can be split off: once gouged it is filled before the track is handed
back, so no part ever ends with an open cavity. Parts keep the order the law sets, and each brings
its own briefing, measuring, proof and clearing. A patch not yet welded stays as found, under the
speed its own decision gives, until its part is done.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

from repairs.welding.estimate import estimate
from repairs.welding.learning import NO_EXPERIENCE, Experience
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import WeldingRefusal
from repairs.welding.result import Estimate
from repairs.welding.timeline import HandBack
from repairs.welding.work import Conditions, RepairWork
from repairs.welding.zoneplan import ordered_zones
from turnouts.analysis.terms import Zone

# More zones than this on one part is a replacement, not a repair; and splits grow as 2 to the n.
MOST_ZONES = 6


@dataclass(frozen=True, slots=True)
class Part:
    """One window's share: its zones, its time, and how the track is handed back after it."""

    zones: tuple[Zone, ...]
    median_min: float
    p95_min: float
    chance_in_time: float | None
    hand_back: HandBack
    left_as_found: tuple[Zone, ...]


@dataclass(frozen=True, slots=True)
class Split:
    """One way to share a repair out over windows, and what it costs over doing all in one.

    ``extra_set_up_min`` is what is repeated in each window: protection, set-up, measuring, proof
    and clearing. ``extra_min`` is all of it, with what is saved where a zone starts cold.
    """

    parts: tuple[Part, ...]
    extra_set_up_min: float
    extra_min: float

    @property
    def longest_p95_min(self) -> float:
        """The 95 % time of its longest part: the track time every window must have."""
        return max(part.p95_min for part in self.parts)


def splits(
    work: RepairWork,
    procedure: Procedure,
    conditions: Conditions,
    seed: int,
    known: Experience = NO_EXPERIENCE,
) -> tuple[Split, ...]:
    """Every way to share the zones out in their order, fewest windows first.

    The first is the whole job in one window. Raises WeldingRefusal for more than six zones, and
    whatever ``estimate`` raises.
    """
    zones = ordered_zones(work)
    if len(zones) > MOST_ZONES:
        raise WeldingRefusal(
            f"{len(zones)} zones are more than {MOST_ZONES}; split the job by hand or replace."
        )
    found: dict[tuple[int, int], Estimate] = {}
    for low in range(len(zones)):
        for high in range(low + 1, len(zones) + 1):
            some = replace(work, zones=zones[low:high])
            found[low, high] = estimate(some, procedure, conditions, seed, known)
    whole = found[0, len(zones)]
    ways = [_split(cuts, found, whole) for cuts in _cuts(len(zones))]
    return tuple(sorted(ways, key=lambda way: (len(way.parts), way.longest_p95_min)))


def _cuts(zones: int) -> Iterator[tuple[int, ...]]:
    for count in range(zones):
        for inner in combinations(range(1, zones), count):
            yield (0, *inner, zones)


def _split(cuts: tuple[int, ...], found: dict[tuple[int, int], Estimate], whole: Estimate) -> Split:
    parts = [found[pair] for pair in pairwise(cuts)]
    zones = [zone.zone for zone in whole.zones]
    return Split(
        parts=tuple(
            _part(part, tuple(zones[end:])) for part, end in zip(parts, cuts[1:], strict=True)
        ),
        extra_set_up_min=sum(map(_set_up_min, parts)) - _set_up_min(whole),
        extra_min=sum(part.p50_min for part in parts) - whole.p50_min,
    )


def _part(part: Estimate, left: tuple[Zone, ...]) -> Part:
    last = part.stages[-1].hand_back
    if last is HandBack.NEVER:
        raise WeldingRefusal(
            f"After {part.stages[-1].name} the track cannot be handed back; do not split here."
        )
    return Part(
        zones=tuple(zone.zone for zone in part.zones),
        median_min=part.p50_min,
        p95_min=part.p95_min,
        chance_in_time=part.chance_in_time,
        hand_back=last,
        left_as_found=left,
    )


def _set_up_min(part: Estimate) -> float:
    """Median minutes of the stages that belong to the window, not to a zone."""
    return sum(stage.median_min for stage in part.stages if "." not in stage.key)
