"""Typed values become exact stored values, or a sentence; shown values read back to the same."""

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from turnouts.analysis.showing import METRIC, US, format_length, show, show_against
from turnouts.analysis.terms import Quantity
from turnouts.analysis.units import (
    LARGEST,
    QUANTITY_DIMENSION,
    UNITS,
    Dimension,
    UnitError,
    from_stored,
    parse,
    rounded,
    to_stored,
    unit_named,
)

LENGTH = Dimension.LENGTH
SIXTY_FOURTH_MM = Decimal("0.396875")  # 25.4 mm / 64


@pytest.mark.parametrize(
    ("text", "column", "mm"),
    [
        ("5/8", "in", "15.875"),
        ("1 3/8", "in", "34.925"),
        ("1-3/8 in", None, "34.925"),
        ("1⅜", "in", "34.925"),
        ("0.625", "in", "15.875"),
        (".5", "in", "12.7"),
        ("1/128", "in", "0.1984375"),
        ("4' 6 3/8\"", None, "1381.125"),
        ("4' 6 3/8''", None, "1381.125"),
        ("4 ft 6-3/8 in", None, "1381.125"),
        ("4'-6 3/8\"", None, "1381.125"),
        ("4\N{PRIME} 6⅜\N{DOUBLE PRIME}", None, "1381.125"),
        ("4' 6 3/8", "mm", "1381.125"),
        ("4.5 ft", None, "1371.6"),
        ("15.875 mm", "in", "15.875"),
        ("1.5cm", None, "15"),
        ("0.75 m", None, "750"),
        ("  5/8 IN ", None, "15.875"),
        ("0", "in", "0"),
    ],
)
def test_a_length_is_read_the_way_inspectors_write_it(
    text: str, column: str | None, mm: str
) -> None:
    assert parse(text, column, LENGTH) == Decimal(mm)


@pytest.mark.parametrize(
    ("text", "column", "dimension", "stored"),
    [
        ("500", "degF", Dimension.TEMPERATURE, "260"),
        ("-40 °F", None, Dimension.TEMPERATURE, "-40"),
        ("32 F", None, Dimension.TEMPERATURE, "0"),
        ("33", "degF", Dimension.TEMPERATURE, "0.5555556"),  # 5/9, to seven places
        ("10 mph", None, Dimension.SPEED, "16.09344"),
        ("16", "km/h", Dimension.SPEED, "16"),
        ("1 lb", None, Dimension.MASS, "0.4535924"),  # 0.45359237 kg, to seven places
        ("2.5 kg", None, Dimension.MASS, "2.5"),
        ("1 1/2 mi", None, Dimension.DISTANCE, "2414.016"),
        ("39 ft", None, Dimension.DISTANCE, "11.8872"),
        ("1760 yd", None, Dimension.DISTANCE, "1609.344"),
        ("0.8", "km", Dimension.DISTANCE, "800"),
        ("32.5", "MGT", Dimension.TONNAGE, "32.5"),
        ("340 HB", None, Dimension.HARDNESS, "340"),
    ],
)
def test_other_dimensions_are_stored_in_their_unit(
    text: str, column: str | None, dimension: Dimension, stored: str
) -> None:
    assert parse(text, column, dimension) == Decimal(stored)


@pytest.mark.parametrize(
    ("text", "column", "sentence"),
    [
        ("15,9", "mm", "comma; use a point"),
        ("1,500", "mm", "comma; use a point"),
        ("", "mm", "Nothing was typed"),
        ("   ", "mm", "Nothing was typed"),
        ("-3", "mm", "below zero"),
        ("NaN", "mm", "not one number"),
        ("inf", "mm", "not one number"),
        ("-Infinity", "mm", "not one number"),
        ("1e3", "mm", "not one number"),
        ("1/0", "in", "lower number of a fraction"),
        ("1/3", "in", "lower number of a fraction"),
        ("1/256", "in", "lower number of a fraction"),
        ("13/8", "in", "not the smaller one"),
        ("8/8", "in", "not the smaller one"),
        ("1 3/8", "mm", "mm is typed with a point"),
        ("1³/₈", "in", "not a unit|not one number"),
        ("٣", "mm", "not one number"),  # an Arabic-Indic three
        ("4' 14", "in", "12 or more"),
        ("5", None, "no unit"),
        ("5", "furlong", '"furlong" is not a unit of length'),
        ("5 degF", "mm", '"degf" is not a unit of length'),
        ("just over 5/8 in", None, "not one number"),
        ("1 2 3", "mm", "not one number"),
        ("6 in 3 ft", None, "not one number"),
        ("5/8/8", "in", "cannot be read"),
        ("10000000", "mm", "too large"),
        ("9" * 61, "mm", "longer than 60 characters"),
        ("0.12345678", "mm", "finer than"),
        ("0.1234567", "in", "finer than"),
    ],
)
def test_what_cannot_be_held_or_understood_is_refused_with_a_sentence(
    text: str, column: str | None, sentence: str
) -> None:
    with pytest.raises(UnitError, match=sentence) as refused:
        parse(text, column, LENGTH)
    assert str(refused.value).endswith(".")
    assert len(str(refused.value)) < 300


def test_colder_than_absolute_zero_is_refused_and_absolute_zero_is_not() -> None:
    assert parse("-273.15", "degC", Dimension.TEMPERATURE) == Decimal("-273.15")
    with pytest.raises(UnitError, match=r"colder than -273\.15"):
        parse("-273.16", "degC", Dimension.TEMPERATURE)
    with pytest.raises(UnitError, match="below zero"):
        parse("-1", "mph", Dimension.SPEED)


@given(st.text(max_size=80), st.sampled_from(["in", "mm", None]))
def test_any_text_gives_a_stored_value_or_a_sentence(text: str, column: str | None) -> None:
    assert _outcome(text, column) == "ok"


def _outcome(text: str, column: str | None) -> str:
    try:
        value = parse(text, column, LENGTH)
    except UnitError as refused:
        return "ok" if str(refused).endswith(".") else f"not a sentence: {refused}"
    return "ok" if 0 <= value < LARGEST else f"stored out of range: {value}"


def test_every_quantity_an_inspector_measures_has_a_dimension() -> None:
    assert set(QUANTITY_DIMENSION) == set(Quantity)
    assert QUANTITY_DIMENSION[Quantity.FLANGEWAY_DEPTH] is LENGTH
    assert QUANTITY_DIMENSION[Quantity.AIR_TEMPERATURE] is Dimension.TEMPERATURE


@pytest.mark.parametrize(
    ("symbol", "amount", "stored"),
    [
        # NIST Handbook 44, Appendix C (2023), from memory: exact relations
        ("in", "1", "25.4"),
        ("ft", "1", "304.8"),
        ("yd", "1", "0.9144"),
        ("mi", "1", "1609.344"),
        ("mph", "1", "1.609344"),
        ("lb", "1", "0.45359237"),
        ("degF", "212", "100"),
        ("degF", "32", "0"),
    ],
)
def test_factors_are_the_exact_definitions(symbol: str, amount: str, stored: str) -> None:
    assert to_stored(Decimal(amount), UNITS[symbol]) == Fraction(stored)


@given(
    st.decimals(min_value=-10_000, max_value=10_000, places=7),
    st.sampled_from(sorted(UNITS)),
)
def test_conversion_there_and_back_loses_nothing(value: Decimal, symbol: str) -> None:
    unit = UNITS[symbol]
    assert to_stored(from_stored(value, unit), unit) == Fraction(value)


def test_half_a_last_place_goes_to_the_even_digit() -> None:
    assert rounded(Fraction("0.25"), Decimal("0.1")) == Decimal("0.2")
    assert rounded(Fraction("0.35"), Decimal("0.1")) == Decimal("0.4")


def test_a_unit_is_looked_up_by_the_names_people_use() -> None:
    assert unit_named(" Inches ", LENGTH) is UNITS["in"]
    assert unit_named("°F", Dimension.TEMPERATURE) is UNITS["degF"]
    with pytest.raises(UnitError, match=r'"mph" is not a unit of length. Use one of: mm, cm'):
        unit_named("mph", LENGTH)


@given(st.integers(min_value=0, max_value=64 * 120))
def test_a_length_on_a_sixty_fourth_reads_back_from_its_inches(sixty_fourths: int) -> None:
    mm = sixty_fourths * SIXTY_FOURTH_MM
    assert parse(format_length(mm, "in"), None, LENGTH) == mm


@given(st.decimals(min_value=0, max_value=9_999, places=7))
def test_any_length_reads_back_from_its_mm(mm: Decimal) -> None:
    assert parse(format_length(mm, "mm"), None, LENGTH) == mm


@pytest.mark.parametrize(
    ("mm", "shown"),
    [
        # 49 CFR 213.137(b), (c): 5/8 in and 3/8 in; 213.143: 4 ft 6 3/8 in
        ("15.875", "5/8 in"),
        ("15.8749999", "just under 5/8 in"),
        ("15.8750001", "just over 5/8 in"),
        ("15.88", "just over 5/8 in"),
        ("16", "just over 5/8 in"),
        ("9.525", "3/8 in"),
        ("9.5", "just under 3/8 in"),
        ("1381.125", "4 ft 6 3/8 in"),
        ("1381", "just under 4 ft 6 3/8 in"),
        ("609.6", "24 in"),
        ("609.996875", "2 ft 1/64 in"),
        ("0", "0 in"),
        ("-1.5875", "-1/16 in"),
        ("-1.6", "just under -1/16 in"),
    ],
)
def test_inches_say_on_which_side_of_the_sixty_fourth_a_length_lies(mm: str, shown: str) -> None:
    assert format_length(Decimal(mm), "in") == shown


@given(
    st.decimals(min_value=0, max_value=60, places=7),
    st.integers(min_value=0, max_value=150).map(lambda n: n * SIXTY_FOURTH_MM),
)
def test_a_length_off_a_limit_in_sixty_fourths_never_reads_as_the_limit(
    mm: Decimal, limit: Decimal
) -> None:
    assert (format_length(mm, "in") == format_length(limit, "in")) == (mm == limit)


@given(
    st.decimals(min_value=0, max_value=60, places=3),
    st.decimals(min_value=0, max_value=60, places=3),
    st.sampled_from([US, METRIC]),
)
def test_a_value_and_a_limit_that_differ_never_read_the_same(value, limit, preference) -> None:
    for dimension in (LENGTH, Dimension.TEMPERATURE, Dimension.MASS, Dimension.SPEED):
        shown, shown_limit = show_against(value, limit, dimension, preference)
        assert (shown == shown_limit) == (value == limit)


def test_a_limit_in_mm_read_in_inches_also_shows_its_mm() -> None:
    assert show_against(Decimal("9.99"), Decimal(10), LENGTH, US) == (
        "just over 25/64 in (9.99 mm)",
        "just over 25/64 in (10 mm)",
    )


@pytest.mark.parametrize(
    ("stored", "dimension", "us", "metric"),
    [
        # 49 CFR 213.9: a class 3 freight limit is 40 mph, 60 mph is 96.56 km/h and never 97
        ("96.56064", Dimension.SPEED, "60 mph", "96 km/h"),
        ("16.09344", Dimension.SPEED, "10 mph", "16 km/h"),
        ("260", Dimension.TEMPERATURE, "500 °F", "260 °C"),
        ("0.5555556", Dimension.TEMPERATURE, "33 °F", "0.6 °C"),
        ("4.5359237", Dimension.MASS, "10 lb", "4.5 kg"),
        ("2414.016", Dimension.DISTANCE, "1.5 mi", "2.414 km"),
        ("32.5", Dimension.TONNAGE, "32.5 MGT", "32.5 MGT"),
        ("340", Dimension.HARDNESS, "340 HBW", "340 HBW"),
        ("15.875", Dimension.LENGTH, "5/8 in", "15.875 mm"),
    ],
)
def test_a_value_is_shown_in_the_units_the_person_reads(
    stored: str, dimension: Dimension, us: str, metric: str
) -> None:
    assert show(Decimal(stored), dimension, US) == us
    assert show(Decimal(stored), dimension, METRIC) == metric


@given(st.decimals(min_value=0, max_value=500, places=5), st.sampled_from([US, METRIC]))
def test_a_speed_is_never_shown_faster_than_it_is(kmh: Decimal, preference) -> None:
    shown = re.match(r"[0-9]+", show(kmh, Dimension.SPEED, preference))
    assert shown is not None
    assert to_stored(Fraction(shown[0]), UNITS[preference.speed]) <= Fraction(kmh)
