"""What a defect costs for each day it stays: the value that track time is given by.

Prices are rows in ``rules/prices.toml``; money is in the railway's own currency.
"""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from repairs.triage.decision import Traffic, TrafficKind
from repairs.triage.slow_order import Train, lost_seconds
from turnouts.analysis.dated import value_in_force

PRICES = Path(__file__).with_name("rules") / "prices.toml"
TEN_MPH_KMH = 16.09344


@dataclass(frozen=True, slots=True)
class Worth:
    """Money a day, and the sentence that says how it was come by."""

    per_day: float
    reason: str


def price(name: str, on: date) -> float:
    """The railway's price in force on a day; DatedError when there is none."""
    return value_in_force(PRICES, name, on)


def worth_per_day(
    traffic: Traffic, *, line_kmh: float, trains_per_day: float, growing: bool, on: date
) -> Worth:
    """What one day without this defect is worth.

    Under a restriction: the trains' lost time. With traffic stopped: the price of a closed line.
    At class speed, or where the answer is not known: what a 10 mph restriction would cost, times
    the chance that a day brings it; nothing when the defect is not ``growing``.
    """
    if traffic.kind is TrafficKind.STOP:
        return Worth(price("stopped_day", on), "traffic is stopped")
    restricted = traffic.kind is TrafficKind.RESTRICTED and traffic.speed_kmh is not None
    slow_kmh = float(traffic.speed_kmh) if restricted and traffic.speed_kmh else TEN_MPH_KMH
    minutes = lost_minutes(line_kmh, slow_kmh, on)
    cost = minutes / 60 * trains_per_day * price("train_hour", on)
    losing = f"{trains_per_day:g} trains a day lose {minutes:.1f} minutes each"
    if restricted:
        return Worth(cost, losing)
    if not growing:
        return Worth(0.0, "it is not growing and nothing is restricted")
    chance = price("daily_chance_of_restriction", on)
    return Worth(cost * chance, f"if it came to 10 mph {losing}; {chance:.0%} chance a day")


def lost_minutes(line_kmh: float, slow_kmh: float, on: date) -> float:
    """Minutes one train loses to a restriction over one turnout, at the prices' train."""
    train = Train(price("train_length", on), price("braking", on), price("acceleration", on))
    return lost_seconds(line_kmh, slow_kmh, price("restricted_length", on), train) / 60
