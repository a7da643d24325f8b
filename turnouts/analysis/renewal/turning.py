"""Where welding once more turns from dearer to cheaper than replacing: by the life of the weld."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from turnouts.analysis.renewal.discounting import Drawn
from turnouts.analysis.renewal.ways import CurvePoint, Prices
from turnouts.analysis.wear.runs import Floats

LONGEST_MGT = 2000.0
"""Mean life up to which a break-even is looked for: no weld lasts so long."""

CURVE_POINTS = 24


@dataclass(frozen=True, slots=True)
class Turning:
    """``chain`` is what a new component and its successors cost today, in each draw."""

    chain: Floats
    prices: Prices
    interest: float
    welds: Drawn

    def costs(self, mean_mgt: float) -> Floats:
        """Per MGT in each draw, if the next weld lasts so long on average."""
        worth = self.welds.lasting(mean_mgt).worth(self.interest)
        spent = self.prices.weld + worth * (self.prices.failure + self.chain)
        return np.asarray(self.interest * spent)

    def break_even(self) -> float | None:
        """The mean life from which welding pays, ``None`` where it is beyond ``LONGEST_MGT``."""
        rate = self.interest * float(self.chain.mean())

        def dearer(mean_mgt: float) -> float:
            return float(self.costs(mean_mgt).mean()) - rate

        if dearer(LONGEST_MGT) > 0:
            return None
        return float(brentq(dearer, 1e-3, LONGEST_MGT, xtol=1e-3))

    def curve(self, up_to_mgt: float) -> tuple[CurvePoint, ...]:
        """Points evenly spaced up to a mean life, with 90 % intervals."""
        points = []
        for nth in range(1, CURVE_POINTS + 1):
            costs = self.costs(up_to_mgt * nth / CURVE_POINTS)
            low, high = (float(p) for p in np.percentile(costs, [5, 95]))
            points.append(
                CurvePoint(up_to_mgt * nth / CURVE_POINTS, float(costs.mean()), low, high)
            )
        return tuple(points)
