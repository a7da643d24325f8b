"""Settings of procedures as people read and type them, in both unit systems."""

from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.setting_words import (
    GROUPS,
    NAMES,
    said_number,
    said_place,
    said_standing,
    said_value,
    typed_number,
    typing_unit,
)
from repairs.welding.procedures import all_editions
from repairs.welding.settings import Settings
from turnouts.analysis.showing import METRIC, US
from turnouts.analysis.units import UnitError


def test_every_setting_has_a_name_under_one_heading() -> None:
    listed = [key for rows in GROUPS.values() for key in rows]
    assert sorted(listed) == sorted({field.name for field in fields(Settings)})
    assert len(set(NAMES.values())) >= len(NAMES) - 1


@pytest.mark.parametrize(
    ("text", "unit", "typed"),
    [
        ("5/8", "mm", 15.875),
        ("16 mm", "mm", 16.0),
        ("500", "degC", 260.0),
        ("260 degC", "degC", 260.0),
        ("90", "m/min", 2.286),
        ("90 in/min", "m/min", 2.286),
        ("2.3 m/min", "m/min", 2.3),
        ("16", "mm/min", 406.4),
        ("400 mm/min", "mm/min", 400.0),
        ("10", "kg/h", 4.5359237),
        ("4.5 kg/h", "kg/h", 4.5),
        ("330", "A", 330.0),
        ("0.82", "-", 0.82),
    ],
)
def test_values_are_typed_in_inches_and_fahrenheit_or_with_their_unit(
    text: str, unit: str, typed: float
) -> None:
    assert typed_number(text, unit, US) == pytest.approx(typed, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "typed"),
    [("16", "mm", 16.0), ("260", "degC", 260.0), ("2.3", "m/min", 2.3), ("4.5", "kg/h", 4.5)],
)
def test_values_are_typed_in_metric_units(text: str, unit: str, typed: float) -> None:
    assert typed_number(text, unit, METRIC) == pytest.approx(typed, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "unit"), [("much", "A"), ("NaN", "-"), ("1,5", "mm"), ("5 kg", "mm"), ("5 h", "m/min")]
)
def test_what_is_no_value_is_refused_in_words(text: str, unit: str) -> None:
    with pytest.raises(UnitError, match=r"is not a number|cannot be read"):
        typed_number(text, unit, US)


@given(st.floats(0.5, 15), st.sampled_from(["m/min", "kg/h", "mm/min"]))
def test_a_rate_is_shown_close_to_what_it_is(value: float, unit: str) -> None:
    for units in (US, METRIC):
        back = typed_number(said_number(value, unit, units), unit, units)
        assert back == pytest.approx(value, rel=0.006)


@pytest.mark.parametrize(
    ("value", "unit", "us", "metric"),
    [
        (260.0, "degC", "500 °F", "260 °C"),
        (15.875, "mm", "5/8 in", "15.875 mm"),
        (25.0, "mm", "0.984 in (25 mm)", "25 mm"),
        (0.0, "mm", "0 in", "0 mm"),
        (2.3, "m/min", "90.6 in/min", "2.3 m/min"),
        (4.5, "kg/h", "9.92 lb/h", "4.5 kg/h"),
        (330.0, "A", "330 A", "330 A"),
        (3.0, "mm/mm", "3 to 1", "3 to 1"),
        (0.82, "-", "0.82", "0.82"),
    ],
)
def test_values_are_shown_in_the_readers_units(
    value: float, unit: str, us: str, metric: str
) -> None:
    assert (said_number(value, unit, US), said_number(value, unit, METRIC)) == (us, metric)


def test_forms_ask_for_the_readers_unit() -> None:
    assert [typing_unit(unit, US) for unit in ("degC", "mm", "m/min", "kg/h", "A")] == [
        "degF",
        "in",
        "in/min",
        "lb/h",
        "A",
    ]
    assert typing_unit("m/min", METRIC) == "m/min"


def test_words_and_places_read_plainly() -> None:
    (wire,) = all_editions()["manganese-wire"]
    assert said_value(wire.rows["cooling"], US) == "air quench"
    assert said_value(wire.rows["top_layers"], US) == "long, short, long"
    assert said_place(0, US) == "on the weld itself"
    assert said_place(25.4, US) == "1 in from the weld"


def test_how_well_a_value_stands_is_said_with_its_source() -> None:
    (wire,) = all_editions()["manganese-wire"]
    published = said_standing(wire.rows["developing_floor_min"])
    assert published.startswith("Published: ASME Boiler and Pressure Vessel Code, Section V")
    assert "castings and welds, developer" in published
    assert said_standing(wire.rows["travel_mm_per_min"]).startswith("Assumed. About 16 in/min")
    memory = said_standing(wire.rows["filler"])
    assert memory.startswith("From memory, not checked against a text (compare AWS A5.21")
    for row in wire.rows.values():
        assert said_standing(row).endswith(".")
