"""Many comparisons at once: p-values corrected so that chance finds are not taken for findings."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt


def holm(p_values: Sequence[float]) -> tuple[float, ...]:
    """Adjusted p-values that bound the chance of any false finding (Holm, Scand. J. Stat. 6, 1979).

    For few comparisons whose every finding will be acted on. In the order given.
    """
    p = np.asarray(p_values, dtype=np.float64)
    order = np.argsort(p, kind="stable")
    steps = np.maximum.accumulate(p[order] * (len(p) - np.arange(len(p))))
    return _back(np.minimum(steps, 1.0), order)


def benjamini_hochberg(p_values: Sequence[float]) -> tuple[float, ...]:
    """Adjusted p-values that bound the share of false ones among the findings (J. R. Stat. Soc. B
    57, 1995). For long lists of which some will be looked at. In the order given.
    """
    p = np.asarray(p_values, dtype=np.float64)
    order = np.argsort(p, kind="stable")
    steps = p[order] * len(p) / np.arange(1, len(p) + 1)
    down = np.minimum.accumulate(steps[::-1])[::-1]
    return _back(np.minimum(down, 1.0), order)


def _back(adjusted: npt.NDArray[np.float64], order: npt.NDArray[np.int64]) -> tuple[float, ...]:
    placed = np.empty_like(adjusted)
    placed[order] = adjusted
    return tuple(float(value) for value in placed)
