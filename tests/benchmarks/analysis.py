"""What looking through a whole railway takes: ``python -m tests.benchmarks.analysis``.

Prints seconds of the early warning over 2,000 turnouts (three components each, three quantities a
component), its parts, and, as a measure of the machine, statsmodels' ordinary least squares on the
same series in the same run. ``--turnouts`` sets the size.
"""

import argparse
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from turnouts.analysis.early_warning import Watched, look_ahead
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.runs import Reading, Run

KINDS, QUANTITIES = ("manganese frog", "carbon frog", "switch point"), ("point", "tread", "guard")
VISITS = 12
"""Readings a series: three years of quarterly visits."""
LIMIT = Limit(9.525, rising=True, name="3/8 in")


def railway(turnouts: int, seed: int = 1) -> list[Watched]:
    """Runs of a railway that wears at rates of its own; one reading in a hundred is wrong."""
    rng = np.random.default_rng(seed)
    watched = []
    for turnout in range(turnouts):
        for kind in KINDS:
            for quantity in QUANTITIES:
                name = f"T{turnout} {kind} {quantity}"
                watched.append(_watched(name, f"{kind}, {quantity}", rng))
    return watched


def _watched(name: str, family: str, rng: np.random.Generator) -> Watched:
    a_year = float(rng.uniform(5, 40))
    at = np.sort(rng.uniform(0, 3 * a_year, VISITS))
    rate, level = 0.05 * rng.lognormal(0, 0.35), 0.4 + 0.3 * rng.normal()
    values = level + rate * at + rng.normal(0, 0.25, VISITS)
    values += np.where(rng.random(VISITS) < 0.01, rng.choice([-6.35, 6.35], VISITS), 0)
    readings = tuple(Reading(float(x), float(y)) for x, y in zip(at, values, strict=True))
    run = Run(name, 0.0, readings)
    return Watched(run, family, LIMIT, 3 * a_year, 3.25 * a_year)


def timed(what: str, work: Callable[[], Any]) -> Any:
    """Does the work and prints what it took."""
    started = time.perf_counter()
    answer = work()
    print(f"{what:<58}{time.perf_counter() - started:8.2f} s")
    return answer


def reference(watched: list[Watched]) -> None:
    """Ordinary least squares of each series by statsmodels, one after the other."""
    import statsmodels.api as sm

    for one in watched:
        x = np.array([r.mgt for r in one.run.readings])
        y = np.array([r.value for r in one.run.readings])
        sm.OLS(y, sm.add_constant(x)).fit().bse  # noqa: B018 - worked out when asked for


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description="What the early warning takes.")
    parser.add_argument("--turnouts", type=int, default=2000)
    asked = parser.parse_args()
    watched = timed(f"Made {asked.turnouts} turnouts", lambda: railway(asked.turnouts))
    night = timed(
        f"Early warning, {len(watched)} series", lambda: look_ahead(watched, least_sd=0.1)
    )
    timed(
        f"Reference: statsmodels OLS, {len(watched)} series",
        lambda: reference(watched),
    )
    print(night.sentence)
    print(f"Expected to reach their limit: {night.expected:.0f}")


if __name__ == "__main__":
    main()
