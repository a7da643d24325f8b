"""Weld again, weld so many times more, or replace: expected cost per MGT of each.

Replacing starts a new component, and another after that for ever; what the chain is worth today
follows from one cycle, a new component welded a number of times and then replaced, the cheapest
such number (renewal theory with discounting: Ross, Stochastic Processes). Every way ends in that
chain. Money later counts less, by the interest of the tonnage that passes until then. A cost per
MGT is the level payment for each MGT, for ever, that is worth the same; without interest it would
be a cycle's cost over its tonnage. Uncertainty of lives is carried through by drawing them.
"""

import numpy as np

from turnouts.analysis.evidence import said_chance
from turnouts.analysis.renewal.discounting import DRAWS, Drawn, new_lives, weld_lives
from turnouts.analysis.renewal.posterior import WeldLife
from turnouts.analysis.renewal.turning import Turning
from turnouts.analysis.renewal.ways import Advice, Option, Prices, Renewal, Way
from turnouts.analysis.showing import said_money
from turnouts.analysis.wear.runs import Floats

MOST_WELDS = 6
"""Further welds looked at (assumed: castings are hardly welded more often in one place)."""

CLEAR = 0.8
"""Chance of being cheapest from which a way is recommended outright (assumed)."""

COPIES, MOST_FAILURES = 16, 200
"""Lives drawn beside each draw of the posterior up to a window, and failures followed there."""


def weld_or_replace(
    life: WeldLife, like: WeldLife, prices: Prices, renewal: Renewal, seed: int
) -> Advice:
    """The ways compared for a component that needs a weld now. The engineer decides.

    ``life`` is of this component's welds; ``like`` of those a new one will get (the family's, or
    this one's again where the place and not the casting is to blame).
    """
    interest = renewal.interest_per_mgt
    welds = weld_lives(life, seed)
    new = new_lives(renewal, seed).worth(interest)
    chain = _chain(_passing(weld_lives(like, seed + 1), renewal), new, prices)
    named, costs = _costs(welds, chain, prices, renewal, seed)
    cheapest = np.argmin(costs, axis=0)
    options = [
        _option(way, times, interest * costs[n], float((cheapest == n).mean()), prices.currency)
        for n, (way, times) in enumerate(named)
    ]
    options.sort(key=lambda o: o.cost_per_mgt)
    pays = float((costs[1] < costs[0]).mean())
    return _advice(options, pays, Turning(chain, prices, interest, welds), life, prices.currency)


def _passing(welds: Drawn, renewal: Renewal) -> Floats:
    """What 1 at the end of the next, second next ... weld is worth at its start, in each draw."""
    sizes = [renewal.shrink**nth for nth in range(MOST_WELDS)]
    return np.stack([welds.worth(renewal.interest_per_mgt, size) for size in sizes], axis=-1)


def _chain(passing: Floats, new: Floats, prices: Prices) -> Floats:
    """What a new component now and its successors for ever cost today, in each draw, under the
    number of welds that is cheapest on average."""
    worth = []
    for welds in range(MOST_WELDS + 1):
        spent, until = _spent(passing, welds, prices)
        cycle = prices.replace_now + new * (prices.failure + spent)
        worth.append(cycle / (1 - new * until))
    chains = np.stack(worth)
    return np.asarray(chains[np.argmin(chains.mean(axis=1))])


def _spent(passing: Floats, welds: int, prices: Prices) -> tuple[Floats, Floats]:
    """What so many welds with their failures cost today, and what 1 after the last is worth."""
    spent, until = np.zeros(len(passing)), np.ones(len(passing))
    for nth in range(welds):
        spent = spent + until * (prices.weld + passing[:, nth] * prices.failure)
        until = until * passing[:, nth]
    return spent, until


def _costs(
    lives: Drawn, chain: Floats, prices: Prices, renewal: Renewal, seed: int
) -> tuple[list[tuple[Way, int]], Floats]:
    """What each way costs today, a row for each and a column for each draw.

    Replacing now is first and welding once more second.
    """
    passing = _passing(lives, renewal)
    named: list[tuple[Way, int]] = [(Way.REPLACE_NOW, 0)]
    rows = [chain]
    for welds in range(1, MOST_WELDS + 1):
        spent, until = _spent(passing, welds, prices)
        named.append((Way.WELD, welds))
        rows.append(spent + until * chain)
    if renewal.window_mgt is not None:
        count, spent = _until_window(renewal.window_mgt, prices, lives, renewal, seed)
        saved = prices.replace_now - prices.replace_in_window
        until_then = np.exp(-renewal.interest_per_mgt * renewal.window_mgt)
        named.append((Way.REPLACE_IN_WINDOW, 1 + round(count)))
        rows.append(prices.weld + spent + until_then * (chain - saved))
    return named, np.stack(rows)


def _until_window(
    window: float, prices: Prices, lives: Drawn, renewal: Renewal, seed: int
) -> tuple[float, Floats]:
    """Welds that fail before the window on average, and what they and the next ones cost today."""
    rng = np.random.default_rng([seed, 2])
    scales, shapes = lives.scales, lives.shapes
    passed, spent = np.zeros((DRAWS, COPIES)), np.zeros((DRAWS, COPIES))
    count = 0.0
    for nth in range(MOST_FAILURES):
        lasts = scales[:, None] * rng.weibull(shapes[:, None], (DRAWS, COPIES))
        passed += lasts * renewal.shrink ** min(nth, MOST_WELDS)
        early = passed < window
        if not early.any():
            break
        count += float(early.mean())
        spent += early * np.exp(-renewal.interest_per_mgt * passed)
    return count, np.asarray(spent.mean(axis=1) * (prices.weld + prices.failure))


def _option(way: Way, welds: int, costs: Floats, chance: float, currency: str) -> Option:
    low, high = _nine_in_ten(costs)
    cost = float(costs.mean())
    said = {
        Way.REPLACE_NOW: "Replace now",
        Way.WELD: f"Weld {welds} more time{'s' if welds > 1 else ''}, then replace",
        Way.REPLACE_IN_WINDOW: f"Weld ({welds} in all, as needed) and replace in the window",
    }[way]
    sentence = (
        f"{said}: {said_money(cost, currency)} per MGT ({low:,.0f} to {high:,.0f}), the "
        f"cheapest with a chance of {said_chance(chance)}."
    )
    return Option(way, welds, cost, low, high, chance, sentence)


def _nine_in_ten(draws: Floats) -> tuple[float, float]:
    low, high = (float(p) for p in np.percentile(draws, [5, 95]))
    return low, high


def _advice(
    options: list[Option], pays: float, turning: Turning, life: WeldLife, currency: str
) -> Advice:
    best, mean = options[0], float(turning.welds.means.mean())
    rate = turning.replacing
    even = turning.break_even()
    by_way: dict[bool, float] = {True: 0.0, False: 0.0}
    for option in options:
        by_way[option.way is Way.REPLACE_NOW] += option.chance_cheapest
    clear = by_way[best.way is Way.REPLACE_NOW] >= CLEAR
    turns = "no life makes it pay" if even is None else f"it pays from {even:.0f} MGT on"
    reasons = (
        f"The next weld is expected to last {mean:.0f} MGT; {turns}, which it does with a chance "
        f"of {said_chance(pays)}.",
        f"A new component under steady upkeep costs {said_money(rate, currency)} per MGT.",
        f"Weld lives rest on {life.own_welds} weld{'' if life.own_welds == 1 else 's'} of this "
        f"component, {life.own_failures} of them failed, and {life.family_failures} that failed on "
        "its like.",
    )
    said = best.sentence if clear else f"Not clear-cut: {best.sentence}"
    return Advice(
        options=tuple(options),
        recommended=best,
        clear=clear,
        steady_cost_per_mgt=rate,
        steady_90=_nine_in_ten(turning.interest * turning.chain),
        break_even_mgt=even,
        mean_weld_life_mgt=mean,
        life_90=_nine_in_ten(turning.welds.means),
        chance_weld_pays=pays,
        curve=turning.curve(2 * max(mean, even or 0.0)),
        reasons=reasons,
        sentence=f"{said} The engineer decides.",
    )
