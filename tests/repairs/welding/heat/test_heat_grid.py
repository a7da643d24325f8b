"""Cells, shares and the compiled kernel's place on disk."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numba.core.caching import CacheImpl

from repairs.welding.heat.axes import Fine, graded_edges, spread_weights
from repairs.welding.heat.box import Block, Box, Spot, shares_of
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


@given(st.floats(0, 0.3), st.floats(0, 0.3))
def test_shares_add_up_to_one_and_lie_where_the_span_lies(one: float, other: float) -> None:
    low, high = min(one, other), max(one, other)
    first, weights = spread_weights(EDGES, low, high)
    assert weights.sum() == pytest.approx(1)
    middles = (np.array(EDGES)[1:] + np.array(EDGES)[:-1]) / 2
    if low > 0.03 and high < 0.2:
        centre = weights @ middles[first : first + len(weights)]
        assert centre == pytest.approx((low + high) / 2, abs=1e-6)


def test_a_torch_warms_its_stretch_and_only_that() -> None:
    box = Box((0.0, 0.01, 0.02, 0.03), (0.0, 0.01, 0.02, 0.03), EDGES)
    body = casting(box, steel_curves("carbon"), Surroundings(5.0), 5.0)
    body.warm((0.1, 0.2), 260.0)
    assert body.degc_at(Spot(0.015, 0.15)) > 240
    assert body.degc_at(Spot(0.015, 0.02)) == pytest.approx(5, abs=0.5)
    heat = body.heat_in_j
    body.warm((0.1, 0.2), 200.0)
    assert body.heat_in_j == heat
    body.check_balance()


def test_heat_put_in_is_heat_held() -> None:
    box = Box((0.0, 0.01, 0.02, 0.03), (0.0, 0.01, 0.02, 0.03), EDGES)
    body = casting(box, steel_curves("manganese"), Surroundings(15.0), 15.0)
    body.put(shares_of(box, Block((0.0, 0.003), (0.0, 0.007), (0.05, 0.12))), 5000.0)
    assert body.stored_j == pytest.approx(5000)


def _twice(value: float) -> float:
    return 2 * value


def test_where_no_place_can_be_written_the_kernel_still_compiles(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(CacheImpl, "_locator_classes", [])
    assert compiled(_twice)(2.5) == 5.0
