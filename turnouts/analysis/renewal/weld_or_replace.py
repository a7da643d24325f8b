"""Weld again, weld so many times more, or replace: expected cost per MGT of each.

Replacing starts a new component, which under steady upkeep costs a rate g per MGT for ever after;
g is worked out from a new component welded a number of times and then replaced, the cheapest such
number (renewal reward theorem: cost of a cycle over its tonnage, Ross, Stochastic Processes). Every
way is then charged over one span of tonnage: what it costs until the replacement, and g from there
on. Uncertainty of weld lives is carried through by drawing them with a seed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.special import gamma

from turnouts.analysis.evidence import said_chance
from turnouts.analysis.renewal.posterior import WeldLife
from turnouts.analysis.wear.runs import Floats

DRAWS = 4000
MOST_WELDS = 6
"""Further welds looked at (assumed: castings are hardly welded more often in one place)."""

CLEAR = 0.8
"""Chance of being cheapest from which a way is recommended outright (assumed)."""


class Way(StrEnum):
    """What may be done with a component that needs a weld."""

    WELD = "weld"
    REPLACE_NOW = "replace_now"
    REPLACE_IN_WINDOW = "replace_in_window"


@dataclass(frozen=True, slots=True)
class Prices:
    """In the railway's money: a weld, a replacement now, one in the planned window, and what a weld
    that fails costs beside the next one (slow order, call-out)."""

    weld: float
    replace_now: float
    replace_in_window: float
    failure: float

    def __post_init__(self) -> None:
        if min(self.weld, self.replace_now, self.replace_in_window) <= 0 or self.failure < 0:
            raise ValueError("Prices are above zero, and what a failure costs is not below it.")


@dataclass(frozen=True, slots=True)
class Renewal:
    """``new_life_mgt``: of a new component to its first weld. ``window_mgt`` from now to the next
    renewal window, ``None`` without one. ``shrink``: what a weld lasts against the one before."""

    new_life_mgt: float
    new_life_sd_mgt: float
    window_mgt: float | None = None
    shrink: float = 1.0

    def __post_init__(self) -> None:
        if self.new_life_mgt <= 0 or self.new_life_sd_mgt < 0 or not 0 < self.shrink <= 1:
            raise ValueError("A new life is above zero, and welds last no longer than before.")
        if self.window_mgt is not None and self.window_mgt <= 0:
            raise ValueError("A renewal window lies ahead; give the tonnage until it.")


@dataclass(frozen=True, slots=True)
class Option:
    """One way: ``welds`` is how many more before the replacement. Cost per MGT over the span, with
    its 90 % interval, and the chance that it is the cheapest of all."""

    way: Way
    welds: int
    cost_per_mgt: float
    low: float
    high: float
    chance_cheapest: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Advice:
    """All ways, cheapest first. ``break_even_mgt``: the mean life of the next weld above which
    welding once more is cheaper than replacing now; ``mean_weld_life_mgt`` is what is expected."""

    options: tuple[Option, ...]
    recommended: Option
    clear: bool
    steady_cost_per_mgt: float
    break_even_mgt: float
    mean_weld_life_mgt: float
    chance_weld_pays: float
    span_mgt: float
    reasons: tuple[str, ...]
    sentence: str


def weld_or_replace(
    life: WeldLife, like: WeldLife, prices: Prices, renewal: Renewal, seed: int
) -> Advice:
    """The ways compared for a component that needs a weld now. The engineer decides.

    ``life`` is of this component's welds; ``like`` of those a new one will get (the family's, or
    this one's again where the place and not the casting is to blame).
    """
    means = _mean_lives(life, renewal, seed)
    steady = _steady(_mean_lives(like, renewal, seed + 1), _new_lives(renewal, seed), prices)
    span = max(float(means.sum(axis=1).mean()), renewal.window_mgt or 0.0) + renewal.new_life_mgt
    named, costs = _costs(means, steady, prices, renewal, span, life, seed)
    cheapest = np.argmin(costs, axis=0)
    options = [
        _option(way, welds, costs[n], float((cheapest == n).mean()))
        for n, (way, welds) in enumerate(named)
    ]
    options.sort(key=lambda o: o.cost_per_mgt)
    return _advice(options, steady, means, prices, span, life)


def break_even_curve(prices: Prices, lives_mgt: Sequence[float]) -> tuple[tuple[float, float], ...]:
    """For a picture: mean life of the next weld in MGT, and what welding once more costs per MGT of
    it, its failure with it; welding pays where that lies below the steady cost."""
    return tuple((life, (prices.weld + prices.failure) / life) for life in lives_mgt)


def _mean_lives(life: WeldLife, renewal: Renewal, seed: int) -> Floats:
    """Mean life of the next, second next ... weld, a row for each draw of the posterior."""
    scales, shapes = life.draws(DRAWS, seed)
    first = scales * gamma(1 + 1 / shapes)
    return np.asarray(first[:, None] * renewal.shrink ** np.arange(MOST_WELDS)[None, :])


def _new_lives(renewal: Renewal, seed: int) -> Floats:
    """Mean lives of a new component to its first weld; drawn log-normal, so above zero."""
    ratio = renewal.new_life_sd_mgt / renewal.new_life_mgt
    spread = np.sqrt(np.log1p(ratio**2))
    noise = np.random.default_rng([seed, 1]).standard_normal(DRAWS)
    return np.asarray(renewal.new_life_mgt * np.exp(spread * noise - spread**2 / 2))


def _steady(means: Floats, new: Floats, prices: Prices) -> Floats:
    """The cost per MGT of a new component for ever after, in each draw, under the number of welds
    that is cheapest on average."""
    each = prices.weld + prices.failure
    rates = np.stack(
        [
            (prices.replace_now + prices.failure + n * each) / (new + means[:, :n].sum(axis=1))
            for n in range(MOST_WELDS + 1)
        ]
    )
    return np.asarray(rates[np.argmin(rates.mean(axis=1))])


def _costs(
    means: Floats,
    steady: Floats,
    prices: Prices,
    renewal: Renewal,
    span: float,
    life: WeldLife,
    seed: int,
) -> tuple[list[tuple[Way, int]], Floats]:
    """Cost per MGT over the span, a row for each way and a column for each draw.

    Replacing now begins a cycle that is charged at g from now on; g holds the replacement.
    """
    each = prices.weld + prices.failure
    named: list[tuple[Way, int]] = [(Way.REPLACE_NOW, 0)]
    rows = [steady]
    for welds in range(1, MOST_WELDS + 1):
        lasts = means[:, :welds].sum(axis=1)
        named.append((Way.WELD, welds))
        rows.append((welds * each + steady * (span - lasts)) / span)
    if renewal.window_mgt is not None:
        failures = _failures_before(renewal.window_mgt, life, renewal, seed)
        saved = prices.replace_now - prices.replace_in_window
        until = prices.weld + failures * each - saved
        named.append((Way.REPLACE_IN_WINDOW, 1 + round(float(failures.mean()))))
        rows.append((until + steady * (span - renewal.window_mgt)) / span)
    return named, np.stack(rows)


def _failures_before(window: float, life: WeldLife, renewal: Renewal, seed: int) -> Floats:
    """Expected welds that fail before the window in each draw, by drawing their lives."""
    rng = np.random.default_rng([seed, 2])
    scales, shapes = life.draws(DRAWS, seed)
    copies = 16
    passed, failures = np.zeros((DRAWS, copies)), np.zeros((DRAWS, copies))
    for nth in range(200):
        lasts = scales[:, None] * rng.weibull(shapes[:, None], (DRAWS, copies))
        passed += lasts * renewal.shrink ** min(nth, MOST_WELDS)
        if (passed >= window).all():
            break
        failures += passed < window
    return np.asarray(failures.mean(axis=1))


def _option(way: Way, welds: int, costs: Floats, chance: float) -> Option:
    low, high = (float(p) for p in np.percentile(costs, [5, 95]))
    cost = float(costs.mean())
    said = {
        Way.REPLACE_NOW: "Replace now",
        Way.WELD: f"Weld {welds} more time{'s' if welds > 1 else ''}, then replace",
        Way.REPLACE_IN_WINDOW: f"Weld ({welds} in all, as needed) and replace in the window",
    }[way]
    sentence = (
        f"{said}: {cost:,.0f} per MGT ({low:,.0f} to {high:,.0f}), the cheapest with a chance of "
        f"{said_chance(chance)}."
    )
    return Option(way, welds, cost, low, high, chance, sentence)


def _advice(
    options: list[Option],
    steady: Floats,
    means: Floats,
    prices: Prices,
    span: float,
    life: WeldLife,
) -> Advice:
    each = prices.weld + prices.failure
    rate = float(steady.mean())
    pays = float((means[:, 0] * steady > each).mean())
    best = options[0]
    by_way: dict[bool, float] = {True: 0.0, False: 0.0}
    for option in options:
        by_way[option.way is Way.REPLACE_NOW] += option.chance_cheapest
    clear = by_way[best.way is Way.REPLACE_NOW] >= CLEAR
    mean = float(means[:, 0].mean())
    reasons = (
        f"The next weld is expected to last {mean:.0f} MGT; it pays from {each / rate:.0f} MGT on.",
        f"A new component under steady upkeep costs {rate:,.0f} per MGT.",
        f"Weld lives rest on {life.own_failures} of this component's {life.own_welds} welds and "
        f"{life.family_failures} of its like.",
        "Prices stay as they are and money has no interest: spans are short against a component.",
    )
    said = best.sentence if clear else f"Not clear-cut: {best.sentence}"
    return Advice(
        options=tuple(options),
        recommended=best,
        clear=clear,
        steady_cost_per_mgt=rate,
        break_even_mgt=each / rate,
        mean_weld_life_mgt=mean,
        chance_weld_pays=pays,
        span_mgt=span,
        reasons=reasons,
        sentence=f"{said} The engineer decides.",
    )
