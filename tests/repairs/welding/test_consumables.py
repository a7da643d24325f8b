"""Load-outs: whole packs, and too few no more often than the railway allows."""

from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.welding.consumables import load_out
from repairs.welding.estimate import estimate
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import OutsideValidity
from repairs.welding.work import Conditions, RepairWork


def test_a_load_out_covers_the_95_per_cent_use_in_whole_packs() -> None:
    # Standard normal table: z(0.95) = 1.645; 5 exp(1.645 x 0.3) = 8.19 kg.
    assert load_out(5, 0.3, 1, 0.05) == 9
    assert load_out(5, 0.3, 8.2, 0.05) == 8.2
    assert load_out(5, 0.3, 8.1, 0.05) == 16.2


def test_a_sure_quantity_that_fills_its_packs_needs_no_more() -> None:
    assert load_out(22.6, 0.0, 11.3, 0.05) == pytest.approx(22.6)


@given(
    st.floats(0.01, 50), st.floats(0, 0.6), st.sampled_from([0.1, 1.0, 4.5]), st.floats(0.01, 0.5)
)
def test_running_out_is_no_likelier_than_allowed(
    quantity: float, sigma: float, pack: float, chance: float
) -> None:
    loaded = load_out(quantity, sigma, pack, chance)
    assert loaded / pack == pytest.approx(round(loaded / pack))
    used = quantity * np.exp(sigma * np.random.default_rng(5).standard_normal(4000))
    # 4,000 draws are uncertain by at most 0.8 % of chance; three times that is left free.
    assert (used > loaded * (1 + 1e-9)).mean() <= chance + 0.024


@given(st.floats(0.01, 50), st.floats(0, 0.6))
def test_a_railway_that_risks_less_loads_no_less(quantity: float, sigma: float) -> None:
    assert load_out(quantity, sigma, 1, 0.01) >= load_out(quantity, sigma, 1, 0.2)


@pytest.mark.parametrize("chance", [0.0, 1.0, -0.1, 2.0])
def test_a_chance_that_is_none_is_refused(chance: float) -> None:
    with pytest.raises(OutsideValidity, match="not between 0 and 1"):
        load_out(5, 0.3, 1, chance)


def test_wire_on_the_truck_covers_the_estimate_with_its_spread(
    wire: Procedure, frog_work: RepairWork, mild: Conditions
) -> None:
    found = estimate(frog_work, wire, mild, 1)
    item = next(item for item in found.materials if item.key == "manganese-wire")
    assert item.quantity == pytest.approx(found.filler_kg)
    assert item.load_out >= found.filler_kg * exp(1.645 * 0.3)
    assert item.load_out % item.pack == 0
    assert item.mass_kg == item.load_out
    assert found.load_kg == pytest.approx(sum(item.mass_kg for item in found.materials))


def test_rail_work_brings_gas_and_a_blanket_and_a_mild_frog_neither(
    wire: Procedure,
    rail_wire: Procedure,
    frog_work: RepairWork,
    point_work: RepairWork,
    mild: Conditions,
) -> None:
    rail = {item.key for item in estimate(point_work, rail_wire, mild, 1).materials}
    frog = {item.key for item in estimate(frog_work, wire, mild, 1).materials}
    assert {"propane", "blanket"} <= rail
    assert not {"propane", "blanket"} & frog
    assert {"carbons", "cavity_wheels", "profile_stones", "penetrant_set", "fuel"} <= rail & frog
