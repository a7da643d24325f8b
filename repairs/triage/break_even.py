"""Where the answer of the costs turns: the life or price at which two ways cost the same a year."""

from dataclasses import dataclass, replace

from repairs.triage.equal_annual import present_worth, recovery_factor, years_to_carry
from repairs.triage.life_cost import LifeCost, Line, OptionCost, Way
from turnouts.analysis.showing import said_money
from turnouts.analysis.terms import Term


class Turning(Term):
    """The figure that is turned until two ways cost the same."""

    LIFE = "life_mgt"
    PRICE = "price"


@dataclass(frozen=True, slots=True)
class BreakEven:
    """A figure of the cheapest way or of the next, and the value at which the two change places.

    ``value`` is ``None`` where no value of the figure would do it.
    """

    figure: Turning
    of: OptionCost
    now: float
    value: float | None
    sentence: str


def break_evens(cost: LifeCost, line: Line, interest: float) -> tuple[BreakEven, ...]:
    """Life and price of the cheapest open way, and the price of the next, where the answer turns.

    Empty where only one way is open. Lives in MGT, prices in the railway's money.
    """
    open_ones = [option for option in cost.options if option.open]
    if len(open_ones) < 2:
        return ()
    best, other = open_ones[0], open_ones[1]
    shortest = life_for(best.way, other.equal_annual, line, interest)
    dearest = price_for(best.way, other.equal_annual, line, interest)
    lowest = price_for(other.way, best.equal_annual, line, interest)
    names = best.way.disposition.label, other.way.disposition.label.lower()
    return (
        BreakEven(
            Turning.LIFE, best, best.way.life_mgt, shortest, _life_said(names, best, shortest)
        ),
        BreakEven(
            Turning.PRICE, best, best.way.price, dearest, _price_said(names, best, dearest, line)
        ),
        BreakEven(
            Turning.PRICE, other, other.way.price, lowest, _other_said(names, other, lowest, line)
        ),
    )


def curve(
    option: OptionCost, line: Line, interest: float, up_to_mgt: float, points: int = 25
) -> tuple[tuple[float, float], ...]:
    """For a small picture: life in MGT and cost a year of one way, from 4 % of the longest life."""
    worth = present_worth(option.way.flows(), interest)
    lives = (up_to_mgt * n / points for n in range(1, points + 1))
    return tuple(
        (life, worth * recovery_factor(interest, life / line.mgt_per_year)) for life in lives
    )


def life_for(way: Way, annual: float, line: Line, interest: float) -> float | None:
    """The life in MGT at which a way costs an amount a year; ``None`` when no life is enough."""
    years = years_to_carry(present_worth(way.flows(), interest), annual, interest)
    return None if years is None else years * line.mgt_per_year


def price_for(way: Way, annual: float, line: Line, interest: float) -> float | None:
    """The price at which a way costs an amount a year; ``None`` when it would be below zero."""
    factor = recovery_factor(interest, way.life_mgt / line.mgt_per_year)
    without = present_worth(replace(way, price=0).flows(), interest)
    each = present_worth(replace(way, price=1).flows(), interest) - without
    wanted = (annual / factor - without) / each
    return wanted if wanted >= 0 else None


def _life_said(names: tuple[str, str], best: OptionCost, life: float | None) -> str:
    if life is None:
        return f"{names[0]} is dearer than to {names[1]} whatever its life."
    return (
        f"{names[0]} stays cheaper than to {names[1]} as long as it lasts more than "
        f"{life:.0f} MGT; {best.way.life_mgt:g} MGT is taken."
    )


def _price_said(names: tuple[str, str], best: OptionCost, price: float | None, line: Line) -> str:
    if price is None:
        return f"{names[0]} is dearer than to {names[1]} even for nothing."
    return (
        f"{names[0]} stays cheaper than to {names[1]} as long as it costs less than "
        f"{said_money(price, line.currency)}; {said_money(best.way.price, line.currency)} is taken."
    )


def _other_said(names: tuple[str, str], other: OptionCost, price: float | None, line: Line) -> str:
    if price is None:
        return f"To {names[1]} stays dearer at any price."
    taken = said_money(other.way.price, line.currency)
    below = said_money(price, line.currency)
    return f"To {names[1]} would be cheaper below {below}; {taken} is taken."
