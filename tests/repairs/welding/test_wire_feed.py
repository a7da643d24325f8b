"""Wire feed and deposit rate tell the same story, or the edition is refused."""

from dataclasses import replace
from pathlib import Path

import pytest

from repairs.welding.procedures import Procedure, read_procedure
from repairs.welding.refusals import RowRefusal
from repairs.welding.rows_toml import HERE
from repairs.welding.settings import _check_together
from repairs.welding.wire_feed import FEED_TOLERANCE, fed_deposit_kg_per_h

LB, INCH = 0.45359237, 25.4


def changed(folder: Path, *pairs: tuple[str, str], name: str = "manganese-wire") -> Path:
    text = (HERE / "procedures" / f"{name}.toml").read_text("utf-8")
    for old, new in pairs:
        assert text.count(old) == 1
        text = text.replace(old, new)
    path = folder / f"{name}.toml"
    path.write_text(text, "utf-8")
    return path


def test_solid_wire_lays_what_the_handbook_formula_gives() -> None:
    # Handbook: lb/h = 13.1 D^2 x feed x efficiency; 0.052 in, 320 in/min, 0.98 gives 11.1 lb/h. Its
    # rounded constant stands for 7700 kg/m3.
    laid = fed_deposit_kg_per_h(0.052 * INCH, 320 * INCH / 1000, 7700, 0.98)
    assert laid / LB == pytest.approx(11.1, abs=0.05)


def test_a_pound_of_solid_wire_is_as_long_as_the_handbook_table_says() -> None:
    # Handbook table of mild steel wire, inches in a pound: 1/16 in 1152, 3/32 in 516.
    for diameter_in, length_in in ((1 / 16, 1152), (3 / 32, 516)):
        kg_per_h = fed_deposit_kg_per_h(diameter_in * INCH, length_in * INCH / 1000 / 60, 7850, 1)
        assert kg_per_h == pytest.approx(LB, rel=0.015)


@pytest.mark.parametrize("name", ["manganese-wire", "carbon-wire"])
def test_shipped_feeds_agree_with_shipped_rates(name: str) -> None:
    (edition,) = read_procedure(HERE / "procedures" / f"{name}.toml")
    s = edition.settings
    assert s.wire_feed_m_per_min is not None
    assert s.wire_density_kg_per_m3 is not None
    fed = fed_deposit_kg_per_h(
        s.filler_diameter_mm, s.wire_feed_m_per_min, s.wire_density_kg_per_m3, s.deposit_efficiency
    )
    assert fed == pytest.approx(s.deposit_rate_kg_per_h, rel=0.02)


def test_the_check_holds_on_both_sides_of_its_tolerance(wire: Procedure) -> None:
    fed = fed_deposit_kg_per_h(2.8, 2.3, 6500, 0.82)
    for share in (1 - FEED_TOLERANCE, 1 + FEED_TOLERANCE):
        inside, outside = fed / (share * 0.999), fed / (share * 1.001)
        if share < 1:
            inside, outside = outside, inside
        _check_together(replace(wire.settings, deposit_rate_kg_per_h=inside), "here")
        with pytest.raises(RowRefusal, match="far from the deposit rate"):
            _check_together(replace(wire.settings, deposit_rate_kg_per_h=outside), "here")


@pytest.mark.parametrize(
    ("pair", "sentence"),
    [
        (("value = 2.3, ", "value = 5.8, "), "lays 11 kg/h, far from the deposit rate of 4.5"),
        (("value = 2.3, ", "value = 90, "), "wire_feed_m_per_min: 90 m/min is outside 0.5 to 15"),
        (("wire_density_kg_per_m3 =", "#"), "wire feed and wire density go together"),
    ],
)
def test_a_feed_that_cannot_be_is_told_so(
    tmp_path: Path, pair: tuple[str, str], sentence: str
) -> None:
    with pytest.raises(RowRefusal, match=sentence):
        read_procedure(changed(tmp_path, pair))


def test_a_wire_procedure_needs_a_feed_and_a_stick_has_none(tmp_path: Path) -> None:
    gone = (("wire_feed_m_per_min =", "#"), ("wire_density_kg_per_m3 =", "#"))
    with pytest.raises(RowRefusal, match="belong to FCAW"):
        read_procedure(changed(tmp_path, *gone))
    feed = 'wire_feed_m_per_min = { value = 0.6, unit = "m/min", mark = "assumed", note = "A." }\n'
    fill = 'wire_density_kg_per_m3 = { value = 7850, unit = "kg/m3", mark = "assumed", note = "B"}'
    stick = (
        ("filler_diameter_mm = { value = 4.8", "filler_diameter_mm = { value = 3.2"),
        ("polarity =", f"{feed}{fill}\npolarity ="),
    )
    with pytest.raises(RowRefusal, match="belong to FCAW"):
        read_procedure(changed(tmp_path, *stick, name="manganese-stick"))
