"""Cells: what each kind of column takes, and that what is written reads back the same."""

from datetime import UTC, date, datetime
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from turnouts.analysis.units import Dimension
from turnouts.services.sheets.faults import CellFault
from turnouts.services.sheets.inspections import as_typed
from turnouts.services.sheets.kinds import Day, Moment, Number, Text, Whole, Word, YesNo, as_text
from turnouts.services.sheets.physical import Physical
from turnouts.services.sheets.texts import guarded, read_text, tidy

INCHES = Physical(Dimension.LENGTH, "in")
MILLIMETRES = Physical(Dimension.LENGTH, "mm")


@pytest.mark.parametrize(
    ("cell", "mm"),
    [
        ("5/8", "15.875"),  # 1 in = 25.4 mm exactly, NIST Handbook 44 appendix C
        ("1 3/8", "34.925"),
        ("4 ft 6 3/8", "1381.125"),
        (0.625, "15.875"),
        (2, "50.8"),
        ("10 mm", "10"),
    ],
)
def test_a_length_in_an_inch_column_is_read_exactly(cell: str | float, mm: str) -> None:
    assert INCHES.read(cell) == Decimal(mm)


def test_a_fraction_that_became_a_date_is_told_so() -> None:
    with pytest.raises(CellFault, match="Fractions such as 5/8 turn into dates"):
        INCHES.read(datetime(2026, 8, 5))


@given(st.decimals(min_value=0, max_value=9_999_999, places=7))
def test_every_stored_length_is_written_so_that_it_reads_back(mm: Decimal) -> None:
    assert INCHES.read(str(INCHES.write(mm))) == mm
    assert MILLIMETRES.read(str(MILLIMETRES.write(mm))) == mm


@given(st.integers(0, 128 * 500))
def test_a_length_on_a_128th_is_written_as_a_fraction_of_an_inch(steps: int) -> None:
    mm = Decimal(steps) * Decimal("0.1984375")  # 25.4 / 128

    written = str(INCHES.write(mm))

    assert "mm" not in written
    assert sum(Fraction(part) for part in written.split()) == Fraction(steps, 128)


@given(st.decimals(min_value=0, max_value=999, places=6))
def test_every_stored_speed_is_written_so_that_it_reads_back(kmh: Decimal) -> None:
    mph = Physical(Dimension.SPEED, "mph", 6)

    assert mph.read(str(mph.write(kmh))) == kmh


@given(st.decimals(min_value=-60, max_value=1000, places=7))
def test_every_stored_temperature_is_written_so_that_it_reads_back(degc: Decimal) -> None:
    fahrenheit = Physical(Dimension.TEMPERATURE, "degF")

    assert fahrenheit.read(str(fahrenheit.write(degc))) == degc


def test_ten_mph_is_written_as_ten() -> None:
    assert Physical(Dimension.SPEED, "mph", 6).write(Decimal("16.093440")) == Decimal(10)


@given(st.text())
def test_every_text_is_written_so_that_it_reads_back_tidied(text: str) -> None:
    assert read_text(guarded(text)) == tidy(text)


@given(st.sampled_from("=+-@"), st.text(max_size=20))
def test_no_written_text_can_be_run_as_a_formula(start: str, rest: str) -> None:
    assert guarded(start + rest)[0] == "'"


def test_text_that_nobody_guarded_keeps_its_apostrophe() -> None:
    assert read_text("'tis worn") == "'tis worn"


def test_control_characters_are_refused() -> None:
    with pytest.raises(CellFault, match="control character"):
        Text().read("worn\x07")


def test_an_unknown_word_is_answered_with_the_known_ones() -> None:
    with pytest.raises(CellFault, match=r'"Left" is not known here. Use one of: left, right\.'):
        Word(("left", "right")).read("Left")


@pytest.mark.parametrize(("cell", "value"), [("yes", True), ("No", False), (True, True)])
def test_yes_and_no(cell: str | bool, value: bool) -> None:
    assert YesNo().read(cell) is value


def test_maybe_is_neither_yes_nor_no() -> None:
    with pytest.raises(CellFault, match="neither yes nor no"):
        YesNo().read("maybe")


@pytest.mark.parametrize("cell", ["2026-03-01", date(2026, 3, 1), datetime(2026, 3, 1)])
def test_a_day_is_typed_or_a_date_cell(cell: str | date) -> None:
    assert Day().read(cell) == date(2026, 3, 1)


@pytest.mark.parametrize(
    "cell", ["01/03/2026", "2026-3-1", "20260301", "2026-02-30", "0026-03-01", 46082]
)
def test_any_other_day_is_refused(cell: str | int) -> None:
    with pytest.raises(CellFault):
        Day().read(cell)


def test_a_time_without_offset_is_the_railways_own() -> None:
    with timezone.override("Asia/Tokyo"):  # the reader's zone does not matter
        read = Moment().read("2026-03-01T09:30")
    assert read == datetime(2026, 3, 1, 9, 30, tzinfo=timezone.get_default_timezone())
    assert Moment().read("2026-03-01T09:30-06:00") == datetime(2026, 3, 1, 15, 30, tzinfo=UTC)


@pytest.mark.parametrize("text", ["2026-03-08T02:30", "2026-11-01T01:30"])
def test_a_time_in_the_hour_the_clocks_change_needs_its_offset(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # In 2026 clocks in the United States change on 8 March and 1 November (15 U.S.C. 260a).
    monkeypatch.setattr(timezone, "get_default_timezone", lambda: ZoneInfo("America/Chicago"))

    with pytest.raises(CellFault, match="Add the offset"):
        Moment().read(text)
    assert Moment().read(text + "-06:00").tzinfo is not None


def test_a_day_alone_is_no_time() -> None:
    with pytest.raises(CellFault, match="not a date with a time"):
        Moment().read("2026-03-01")


@given(st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2100, 1, 1)))
def test_every_time_is_written_so_that_it_reads_back(moment: datetime) -> None:
    placed = moment.replace(tzinfo=UTC)

    assert Moment().read(str(Moment().write(placed))) == placed


@pytest.mark.parametrize("text", ["1,5", "1e999", "NaN", "ten", "1_000", "1.2345", "-1", "100000"])
def test_what_is_no_number_or_would_lose_digits_is_refused(text: str) -> None:
    with pytest.raises(CellFault):
        Number(places=3, digits=8).read(text)


@given(st.decimals(min_value=0, max_value=99_999, places=3))
def test_every_number_is_written_so_that_it_reads_back(number: Decimal) -> None:
    kind = Number(places=3, digits=8)

    assert kind.read(f"{kind.write(number):f}") == number


@pytest.mark.parametrize("text", ["6", "-1", "2.5", "two", "9" * 50])
def test_a_whole_number_keeps_its_limits(text: str) -> None:
    assert Whole(0, 5).read("5") == 5
    with pytest.raises(CellFault, match="not a whole number from 0 to 5"):
        Whole(0, 5).read(text)


def test_a_code_that_a_spreadsheet_took_for_a_number_is_read_as_typed() -> None:
    assert as_text(1001.0) == "1001"
    assert as_text(1001) == "1001"


@pytest.mark.parametrize(
    ("text", "column", "typed"),
    [
        ("5/8", "in", ("5/8", "in")),
        ("5/8 in", "mm", ("5/8", "in")),
        ("4 ft 6 3/8 in", "mm", ("4 ft 6 3/8", "in")),
        ("15.875mm", "in", ("15.875", "mm")),
    ],
)
def test_what_was_typed_is_kept_with_the_unit_it_was_typed_in(
    text: str, column: str, typed: tuple[str, str]
) -> None:
    assert as_typed(text, column, Dimension.LENGTH) == typed
