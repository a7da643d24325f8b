"""Properties by temperature, and the tables made of them."""

import numpy as np
import pytest

from repairs.welding.heat import steel
from repairs.welding.heat.kernel import read_at
from repairs.welding.heat.steel import constant_curves, heat_table, steel_curves
from repairs.welding.refusals import RowRefusal
from repairs.welding.rows_toml import read_rows


def test_manganese_steel_conducts_and_holds_what_handbooks_say() -> None:
    # From memory of handbooks, good to 10 %: 13 W/mK at 20 degC, near 20 at 500; 7870 kg/m3 and
    # 0.50 to 0.54 kJ/kgK near room temperature.
    table = heat_table(steel_curves("manganese"))
    assert table.conductivity_at(20) == pytest.approx(13, rel=0.05)
    assert table.conductivity_at(500) == pytest.approx(20, rel=0.05)
    mean = (table.enthalpy_at(300) - table.enthalpy_at(20)) / 280
    assert mean == pytest.approx(7870 * 520, rel=0.05)


@pytest.mark.parametrize("degc", [100, 200, 300, 400, 500, 600])
def test_rail_steel_is_near_the_fire_design_formulas(degc: float) -> None:
    # EN 1993-1-2, from memory: k = 54 - 0.0333 T, c = 425 + 0.773 T - 1.69e-3 T2 + 2.22e-6 T3.
    # Rail steel with its 0.8 % carbon conducts up to an eighth less.
    table = heat_table(steel_curves("carbon"))
    formula = 54 - 0.0333 * degc
    assert 0.87 * formula < table.conductivity_at(degc) < formula
    heat = 7850 * (425 + 0.773 * degc - 1.69e-3 * degc**2 + 2.22e-6 * degc**3)
    around = (table.enthalpy_at(degc + 5) - table.enthalpy_at(degc - 5)) / 10
    assert around == pytest.approx(heat, rel=0.02)


@pytest.mark.parametrize("metal", ["manganese", "carbon"])
def test_temperature_comes_back_from_its_own_enthalpy(metal: str) -> None:
    table = heat_table(steel_curves(metal))
    degc = np.array([-40.0, 0.0, 15.0, 260.0, 735.0, 1500.0])
    enthalpy = np.array([table.enthalpy_at(float(each)) for each in degc])
    cells, whole = np.arange(len(degc)), np.vstack([table.degc, table.potential, table.degc])
    for n in cells:
        both = np.array([n, n])
        read = read_at(enthalpy, both, np.ones(2), whole, table.low, table.pitch)
        assert read == pytest.approx((degc[n], degc[n]), abs=0.01)
    assert table.enthalpy_at(0) == pytest.approx(0, abs=table.pitch / 1e3)


def test_a_steel_that_does_not_change_has_straight_tables() -> None:
    table = heat_table(constant_curves(16.0, 4.2e6))
    assert table.enthalpy_at(100) == pytest.approx(4.2e8)
    assert table.conductivity_at(700) == pytest.approx(16)
    assert table.diffusivity_at(700) == pytest.approx(16 / 4.2e6)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ({"at_200": 4.0, "at_100": 3.9}, "temperatures must rise"),
        ({"at_100": 0.0}, "more than 0"),
        ({"warm": 4.0}, "name row warm at_"),
    ],
)
def test_a_curve_that_cannot_be_is_refused(
    rows: dict[str, float], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = {
        key: {"value": value, "unit": "MJ/(m3 K)", "mark": "assumed", "note": "A test."}
        for key, value in rows.items()
    }
    shares = {
        key: {"value": 1.0, "unit": "-", "mark": "assumed", "note": "A test."}
        for key in ("conductivity_share", "heat_share")
    }
    tables = {"manganese": read_rows(shares, "test [manganese]")}
    monkeypatch.setattr(
        steel, "table_of", lambda _, key: tables.get(key, read_rows(written, f"test [{key}]"))
    )
    with pytest.raises(RowRefusal, match=said):
        steel_curves("manganese")
