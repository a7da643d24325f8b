"""Money at different times made comparable: present worth, and the equal cost a year over a life.

Yearly compounding; amounts fall at the end of the year they name, year 0 is now. Any text on
engineering economics, such as Park, Contemporary Engineering Economics (from memory).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import expm1, log1p


@dataclass(frozen=True, slots=True)
class Flow:
    """An amount paid at the end of a year; what comes back is below zero."""

    year: float
    amount: float


def present_worth(flows: Iterable[Flow], rate: float) -> float:
    """What the amounts are worth now at a yearly rate of interest (0.07 is 7 %), 0 or above."""
    _check_rate(rate)
    return sum(flow.amount / float((1 + rate) ** flow.year) for flow in flows)


def equal_annual_cost(flows: Iterable[Flow], rate: float, years: float) -> float:
    """The amount that, paid at the end of each year of a life, is worth the same as the flows.

    ``years`` need not be whole. ValueError unless it is above zero.
    """
    return present_worth(flows, rate) * recovery_factor(rate, years)


def recovery_factor(rate: float, years: float) -> float:
    """The share of a present worth that falls to each year: i / (1 - (1 + i)^-n), 1 / n at 0 %."""
    _check_rate(rate)
    if years <= 0:
        raise ValueError(f"A life of {years} years cannot carry a cost; give one above zero.")
    recovered = -expm1(-years * log1p(rate))  # exact where the interest is next to nothing
    return rate / recovered if recovered else 1 / years


def years_to_carry(worth: float, annual: float, rate: float) -> float | None:
    """The life over which a present worth comes to an annual cost; ``None`` when none is enough.

    The inverse of ``recovery_factor``: n = -ln(1 - i P / A) / ln(1 + i).
    """
    _check_rate(rate)
    if worth <= 0:
        return 0.0
    if annual <= 0 or rate * worth >= annual:
        return None
    return worth / annual if rate == 0 else -log1p(-rate * worth / annual) / log1p(rate)


def _check_rate(rate: float) -> None:
    if rate < 0:
        raise ValueError(f"Interest of {rate:.1%} a year is below zero. Correct it.")
