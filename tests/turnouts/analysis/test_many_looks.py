"""Corrections for many looks against those of scipy and statsmodels."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control

from turnouts.analysis.many_looks import benjamini_hochberg, holm

SOME = st.lists(st.floats(0, 1), min_size=1, max_size=30)
FIFTEEN = (
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
    0.5719, 0.6528, 0.7590, 1.0,
)  # fmt: skip
"""The example of Benjamini and Hochberg (1995), section 4, from memory."""


def test_holm_is_that_of_statsmodels() -> None:
    from statsmodels.stats.multitest import multipletests

    tied = [0.01, 0.04, 0.01, 0.5, 0.04, 0.0]
    for p_values in (FIFTEEN, tied, list(np.random.default_rng(1).random(20) ** 3)):
        theirs = multipletests(p_values, method="holm")[1]
        assert holm(p_values) == pytest.approx(tuple(theirs))


@given(SOME)
def test_benjamini_hochberg_is_that_of_scipy(p_values: list[float]) -> None:
    assert benjamini_hochberg(p_values) == pytest.approx(tuple(false_discovery_control(p_values)))


@given(SOME)
def test_holm_never_makes_a_find_likelier_and_is_the_stricter(p_values: list[float]) -> None:
    adjusted = holm(p_values)
    assert all(a >= p for a, p in zip(adjusted, p_values, strict=True))
    pairs = zip(adjusted, benjamini_hochberg(p_values), strict=True)
    assert all(a >= b - 1e-12 for a, b in pairs)


def test_four_of_fifteen_are_found_by_their_share_and_three_by_holm() -> None:
    # as printed there: four by the procedure of the paper, three by Bonferroni's
    assert sum(p <= 0.05 for p in benjamini_hochberg(FIFTEEN)) == 4
    assert sum(p <= 0.05 for p in holm(FIFTEEN)) == 3
