"""Cells, shares and the compiled kernel's place on disk."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numba.core.caching import CacheImpl

from repairs.welding.heat.axes import Fine, graded_edges, reading_weights, spread_weights
from repairs.welding.heat.box import Block, Box, Spot
from repairs.welding.heat.casting import casting
from repairs.welding.heat.kernel import compiled
from repairs.welding.heat.steel import steel_curves
from repairs.welding.heat.surroundings import Surroundings

EDGES = tuple(float(e) for e in graded_edges(0, 0.3, (Fine(0.05, 0.15, 0.007),), 0.3))


def test_cells_are_as_fine_as_asked_and_grow_away_from_there() -> None:
    widths = np.diff(EDGES)
    inside = [w for w, low in zip(widths, EDGES, strict=False) if 0.05 <= low <= 0.14]
    assert max(inside) <= 0.0071
    assert EDGES[0] == 0
    assert EDGES[-1] == 0.3
    assert widths[-1] > 3 * min(inside)


MIDDLES = (np.array(EDGES)[1:] + np.array(EDGES)[:-1]) / 2


@given(st.floats(0, 0.3), st.floats(0, 0.3), st.floats(3e-5, 4e-4))
def test_shares_add_up_to_one_and_lie_where_the_span_lies(
    one: float, other: float, variance: float
) -> None:
    low, high = min(one, other), max(one, other)
    first, weights = spread_weights(EDGES, low, high, variance)
    assert weights.sum() == pytest.approx(1)
    assert weights.min() >= 0
    if low > 0.06 and high < 0.14:
        centre = weights @ MIDDLES[first : first + len(weights)]
        assert centre == pytest.approx((low + high) / 2, abs=1e-3)


@pytest.mark.parametrize("low", [0.08, 0.0813, 0.0847])
def test_heat_that_has_spread_lies_in_the_cells_as_wide_as_it_has_spread(low: float) -> None:
    # Variances add up: that of an even span is its length squared over 12, of spreading 2 a t.
    variance, high = 1e-4, low + 0.02
    first, weights = spread_weights(EDGES, low, high, variance)
    at = MIDDLES[first : first + len(weights)]
    centre = weights @ at
    assert centre == pytest.approx(low + 0.01, abs=2e-4)
    assert weights @ (at - centre) ** 2 == pytest.approx(variance + 0.02**2 / 12, rel=0.03)


@given(st.floats(0, 0.3))
def test_a_place_is_read_exactly_where_temperature_is_a_straight_line(at: float) -> None:
    first, weights = reading_weights(EDGES, at)
    assert weights.sum() == pytest.approx(1)
    if 0.06 < at < 0.2:
        assert weights @ MIDDLES[first : first + len(weights)] == pytest.approx(at, abs=1e-9)


def test_a_torch_warms_its_stretch_and_only_that() -> None:
    box = Box((0.0, 0.01, 0.02, 0.03), (0.0, 0.01, 0.02, 0.03), EDGES)
    body = casting(box, steel_curves("carbon"), Surroundings(5.0), 5.0, 0.007)
    body.warm((0.1, 0.2), 260.0)
    assert body.degc_at(Spot(0.015, 0.15)) > 240
    assert body.degc_at(Spot(0.015, 0.02)) == pytest.approx(5, abs=0.5)
    heat = body.heat_in_j
    body.warm((0.1, 0.2), 200.0)
    assert body.heat_in_j == heat
    body.check_balance()


def test_heat_put_in_is_heat_held() -> None:
    box = Box((0.0, 0.01, 0.02, 0.03), (0.0, 0.01, 0.02, 0.03), EDGES)
    body = casting(box, steel_curves("manganese"), Surroundings(15.0), 15.0, 0.007)
    body.let_go(Block((0.0, 0.003), (0.0, 0.007), (0.05, 0.12)), 5000.0, 1.0)
    assert body.stored_j == pytest.approx(5000)
    body.rest(100.0)
    assert not body.young
    assert body.stored_j + body.lost_j == pytest.approx(5000)
    assert body.lost_j > 0


def _twice(value: float) -> float:
    return 2 * value


def test_where_no_place_can_be_written_the_kernel_still_compiles(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(CacheImpl, "_locator_classes", [])
    assert compiled(_twice)(2.5) == 5.0
