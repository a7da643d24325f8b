"""Whether a route is handed back in time with the chance asked for: `durations`, in compiled form.

The same model and the same fit (see `durations` and `timing`), so that what the search takes for
in time is in time; where several starts may decide the end, only two of the estimates of `timing`
are tried, so that the search may turn down a route that is just in time, never the other way.
"""

from __future__ import annotations

import math

from planning.solver.compiled import compiled
from planning.solver.visits import Floats, Standing, Visits

_LEAST_SKEW = 1e-4
_ROUNDING = 1e-9
_MOST_MERGED = 5
_SURE = 0.02  # how far a two-moment estimate must be from the chance asked for to be believed


@compiled
def _given(total: Floats, z: int, minutes: float) -> float:
    """Chance of a sum with these cumulants of at most so many minutes, the shared part given."""
    mean, variance, third = total[0, z], total[1, z], total[2, z]
    if variance <= 0:
        return 1.0 if mean <= minutes else 0.0
    scale = math.sqrt(variance)
    skew = max(third / (variance * scale), _LEAST_SKEW)
    root = ((skew + math.sqrt(skew * skew + 4)) / 2) ** (1 / 3)
    eta = root - 1 / root
    above = 1 + eta * (minutes - mean) / scale
    if above <= 0:
        return 0.0
    sigma = math.sqrt(math.log1p(eta * eta))
    return 0.5 * math.erfc(-(math.log(above) / sigma + sigma / 2) / math.sqrt(2.0))


@compiled
def _roughly(d: Visits, total: Floats, minutes: float) -> float:
    """The same chance over all values of the shared part, by mean and variance only."""
    mean = 0.0
    square = 0.0
    for z in range(len(d.weight)):
        mean += d.weight[z] * total[0, z]
        square += d.weight[z] * (total[1, z] + total[0, z] ** 2)
    spread = math.log1p(max(0.0, square / mean**2 - 1)) if mean > 0 else 0.0
    if spread <= 0 or minutes <= 0:
        return 1.0 if mean <= minutes else 0.0
    x = (math.log(minutes / mean) + spread / 2) / math.sqrt(spread)
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


@compiled
def _enough_time(d: Visits, totals: Floats, minutes: Floats, count: int) -> bool:
    """Whether all these sums together stay within their minutes with the chance asked for.

    Of one sum a clear answer by mean and variance is believed.
    """
    if count == 1:
        rough = _roughly(d, totals[0], minutes[0])
        if abs(rough - d.chance) > _SURE:
            return rough > d.chance
    chance = 0.0
    for z in range(len(d.weight)):
        product = 1.0
        for i in range(count):
            product *= _given(totals[i], z, minutes[i])
        chance += d.weight[z] * product
    return chance >= d.chance


@compiled
def finished_in_time(  # noqa: C901 - one pass over the route, without a list of its visits
    d: Visits, s: Standing, v: int, at: int, new: int
) -> bool:
    """Whether every visit of the route with `new` put in at `at` is surely done by its deadline."""
    totals, fixed, minutes = s.totals, s.fixed, s.minutes
    count, before = 0, -1
    setup = len(d.given) - 1
    n = s.size[v] + 1
    for p in range(n):
        way = new if p == at else s.ways[v, p if p < at else p - 1]
        j = d.job[way]
        begin = d.leaves[v] + d.out[way] if before < 0 else 0.0
        for i in range(count):
            fixed[i] += d.travel[d.job[before], j]
        if count == 0 or d.held[way] > fixed[count - 1]:
            if count == len(fixed):
                return False
            fixed[count] = max(begin, d.release[way] if count == 0 else d.held[way])
            for c in range(3):
                for z in range(len(d.weight)):
                    totals[count, c, z] = 0.0
            count += 1
        own = int(before < 0 or d.mark[way] < 0 or d.mark[before] != d.mark[way])
        for i in range(count):
            for c in range(3):
                for z in range(len(d.weight)):
                    totals[i, c, z] += d.given[j, c, z] + own * d.given[setup, c, z]
        before = way
        # What is in time at the end of a window was so at each earlier visit in that window.
        after = -1
        if p + 1 < n:
            after = new if p + 1 == at else s.ways[v, p + 1 if p + 1 < at else p]
        if p >= at and (after < 0 or d.deadline[after] != d.deadline[way]):
            for i in range(count):
                minutes[i] = d.deadline[way] - fixed[i]
            if not _in_time(d, totals, minutes, count):
                return False
    return True


@compiled
def _in_time(d: Visits, totals: Floats, minutes: Floats, count: int) -> bool:
    for i in range(count):
        if not _enough_time(d, totals[i : i + 1], minutes[i : i + 1], 1):
            return False
    # All work as if it followed the last of the starts: never less than what it takes.
    if count == 1 or _enough_time(d, totals[:1], minutes[count - 1 : count], 1):
        return True
    return _enough_time(d, totals, minutes, count)


@compiled
def alone_in_time(d: Visits, total: Floats, minutes: float) -> bool:
    """Whether one sum stays within its minutes, long days looked at first; never no where it does.

    Nothing rough is believed here: of widely spread times it may be off by more than `_SURE`.
    """
    lost = 0.0
    for z in range(len(d.weight) - 1, -1, -1):
        lost += d.weight[z] * (1.0 - _given(total, z, minutes))
        if lost > 1.0 - d.chance + _ROUNDING:
            return False
    return True


@compiled
def any_merged_in_time(d: Visits, totals: Floats, minutes: Floats, count: int) -> bool:
    """Whether one of the estimates of `timing` for several starts is enough; see there.

    Past `_MOST_MERGED` starts the answer is yes without looking.
    """
    if count > _MOST_MERGED:
        return True
    for merged in range(1 << (count - 1)):
        chance = 0.0
        for z in range(len(d.weight)):
            product, first = 1.0, 0
            for i in range(count):
                # A start that is merged has its work counted from the next one's minutes on.
                if i == count - 1 or not merged >> i & 1:
                    product *= _given(totals[first], z, minutes[i])
                    first = i + 1
            chance += d.weight[z] * product
        if chance >= d.chance - _ROUNDING:
            return True
    return False
