"""Where welding once more turns from dearer to cheaper than replacing: by the life of the weld."""

from dataclasses import dataclass

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

    def cost(self, mean_mgt: float) -> float:
        """The next weld with its failure as a level payment over its life, which lasts so long on
        average: where it equals that of the chain, welding and replacing cost the same."""
        worth = float(self.welds.lasting(mean_mgt).worth(self.interest).mean())
        spent = self.prices.weld + worth * self.prices.failure
        return self.interest * spent / (1 - worth)

    @property
    def replacing(self) -> float:
        """The level payment of the chain."""
        return self.interest * float(self.chain.mean())

    def break_even(self) -> float | None:
        """The mean life from which welding pays, ``None`` where it is beyond ``LONGEST_MGT``."""
        if self.cost(LONGEST_MGT) > self.replacing:
            return None
        return float(
            brentq(lambda mgt: self.cost(mgt) - self.replacing, 1e-3, LONGEST_MGT, xtol=1e-3)
        )

    def curve(self, up_to_mgt: float) -> tuple[CurvePoint, ...]:
        """Points evenly spaced up to a mean life."""
        lives = (up_to_mgt * nth / CURVE_POINTS for nth in range(1, CURVE_POINTS + 1))
        return tuple(CurvePoint(life, self.cost(life)) for life in lives)
