"""When a wear line reaches a limit: the chance by a tonnage, and the tonnage and day by a chance.

It is the level that is asked about, without the scatter of the next reading. The tonnage at which
a line crosses a level, with its confidence limits, is Fieller's (J. R. Stat. Soc. B 16, 1954): the
chance function below, inverted. A line whose rate may well be zero or backward never becomes sure
to cross; then there is no tonnage for a high chance, and that is said.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from scipy.optimize import brentq

from turnouts.analysis.evidence import said_chance
from turnouts.analysis.wear.line import Line

CHANCES = (0.1, 0.5, 0.9)
LONGEST_MGT = 5_000.0
"""Tonnage after which nothing is looked for: more than a turnout carries in its life (assumed)."""

DAYS_IN_YEAR = 365.25


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit a quantity must not pass: ``rising`` when wear brings it up to the limit."""

    value: float
    rising: bool
    name: str = ""


@dataclass(frozen=True, slots=True)
class Crossing:
    """Tonnage since the reset, and day, by which the limit is reached with a chance; or never."""

    chance: float
    since_mgt: float | None
    on: date | None


@dataclass(frozen=True, slots=True)
class Reach:
    """When one limit is reached. ``chance_now`` that the level is past it already."""

    limit: Limit
    chance_now: float
    crossings: tuple[Crossing, ...]
    sentence: str


def chance_by(line: Line, limit: Limit, now_mgt: float, mgt: float) -> float:
    """The chance that the level has reached the limit by a tonnage since the reset, not before now.

    Never less than the chance that it has been reached now. ValueError for a tonnage before now.
    """
    if mgt < now_mgt:
        raise ValueError(f"{mgt:g} MGT lies before the present {now_mgt:g} MGT; ask for later.")
    return max(_past(line, limit, now_mgt), _past(line, limit, mgt))


def mgt_by(line: Line, limit: Limit, now_mgt: float, chance: float) -> float | None:
    """The tonnage since the reset by which the limit is reached with a chance (now, if it is).

    ``None`` when no tonnage up to ``LONGEST_MGT`` makes it so likely.
    """
    if _past(line, limit, now_mgt) >= chance:
        return now_mgt
    end = now_mgt + LONGEST_MGT
    if chance_by(line, limit, now_mgt, end) < chance:
        return None
    # below the wanted chance now and above it at the end; between, it has no second turning point
    return float(brentq(lambda x: _past(line, limit, x) - chance, now_mgt, end, xtol=1e-6))


def reach(line: Line, limit: Limit, *, now_mgt: float, today: date, mgt_a_year: float) -> Reach:
    """When a limit is reached, by chances of 10, 50 and 90 %; days at the present yearly tonnage.

    ValueError when no tonnage passes: then no day follows.
    """
    if mgt_a_year <= 0:
        raise ValueError("A day follows from tonnage only where tonnage passes; give MGT a year.")
    crossings = tuple(
        _crossing(line, limit, now_mgt, chance, today, mgt_a_year) for chance in CHANCES
    )
    now = _past(line, limit, now_mgt)
    return Reach(limit, now, crossings, _sentence(now, crossings))


def day_at(since_mgt: float, now_mgt: float, today: date, mgt_a_year: float) -> date | None:
    """The day on which a tonnage will have passed; ``None`` beyond the calendar."""
    days = (since_mgt - now_mgt) / mgt_a_year * DAYS_IN_YEAR
    if days > (date.max - today).days - 1:
        return None
    return today + timedelta(days=int(days))


def _past(line: Line, limit: Limit, mgt: float) -> float:
    above = line.chance_above(mgt, limit.value)
    return above if limit.rising else 1 - above


def _crossing(
    line: Line, limit: Limit, now_mgt: float, chance: float, today: date, mgt_a_year: float
) -> Crossing:
    since = mgt_by(line, limit, now_mgt, chance)
    on = None if since is None else day_at(since, now_mgt, today, mgt_a_year)
    return Crossing(chance, since, on)


def _sentence(now: float, crossings: tuple[Crossing, ...]) -> str:
    if now >= 0.5:
        return f"The level is past the limit already with a chance of {said_chance(now)}."
    first, middle, _ = crossings
    if first.since_mgt is None or first.on is None:
        return "No sign that the limit will be reached: the readings show no sure wear towards it."
    if middle.since_mgt is None or middle.on is None:
        return (
            f"The limit may be reached from {first.on} on ({first.since_mgt:.0f} MGT since the "
            "reset, one chance in ten); the readings do not say when it is as likely as not."
        )
    return (
        f"As likely as not the limit is reached by {middle.on} ({middle.since_mgt:.0f} MGT since "
        f"the reset), with one chance in ten by {first.on} already."
    )
