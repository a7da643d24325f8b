"""Lives drawn from a posterior, and what money at their end is worth at their start."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gamma

from turnouts.analysis.renewal.posterior import WeldLife
from turnouts.analysis.renewal.ways import Renewal
from turnouts.analysis.wear.runs import Floats

DRAWS = 2000
_NODES, _WEIGHTS = np.polynomial.laguerre.laggauss(32)


@dataclass(frozen=True, slots=True)
class Drawn:
    """Weibull lives, one distribution a draw: characteristic lives in MGT, shapes, and the nodes
    of the integral over a life, as multiples of the characteristic life."""

    scales: Floats
    shapes: Floats
    nodes: Floats

    @property
    def means(self) -> Floats:
        """Mean lives in MGT."""
        return np.asarray(self.scales * gamma(1 + 1 / self.shapes))

    def worth(self, interest: float, times: float = 1.0) -> Floats:
        """What 1 at the end of a life ``times`` as long is worth at its start, in each draw.

        The Laplace transform of the life at the interest for 1 MGT, by Gauss and Laguerre.
        """
        lasts = (times * self.scales)[:, None] * self.nodes
        return np.asarray(np.exp(-interest * lasts) @ _WEIGHTS)

    def lasting(self, mean_mgt: float) -> "Drawn":
        """The same shapes, all with one mean life."""
        scales = mean_mgt / gamma(1 + 1 / self.shapes)
        return Drawn(np.asarray(scales), self.shapes, self.nodes)


def drawn(scales: Floats, shapes: Floats) -> Drawn:
    """Lives of these characteristic lives and shapes."""
    return Drawn(scales, shapes, np.asarray(_NODES ** (1 / shapes[:, None])))


def weld_lives(life: WeldLife, seed: int) -> Drawn:
    """Lives of welds from a posterior."""
    return drawn(*life.draws(DRAWS, seed))


def new_lives(renewal: Renewal, seed: int) -> Drawn:
    """Lives of new components to their first weld; the mean is drawn log-normal, so above zero."""
    ratio = renewal.new_life_sd_mgt / renewal.new_life_mgt
    spread = np.sqrt(np.log1p(ratio**2))
    noise = np.random.default_rng([seed, 1]).standard_normal(DRAWS)
    means = renewal.new_life_mgt * np.exp(spread * noise - spread**2 / 2)
    shapes = np.full(DRAWS, renewal.new_shape)
    return drawn(np.asarray(means / gamma(1 + 1 / shapes)), shapes)
