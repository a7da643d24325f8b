"""Procedures and rows: what is in force, what fits, and what a bad file is told."""

from datetime import date
from pathlib import Path

import pytest

from repairs.welding.procedures import (
    Procedure,
    all_editions,
    procedure_in_force,
    procedures_for,
    read_procedure,
)
from repairs.welding.refusals import NoProcedure, RowRefusal
from repairs.welding.rows_toml import HERE, Mark, read_row, rows_of, sources
from turnouts.analysis.terms import ComponentKind, Steel

ON = date(2026, 11, 2)
WIRE = (HERE / "procedures" / "manganese-wire.toml").read_text("utf-8")
ROW_FILES = sorted(
    path.stem for path in (HERE / "rows").glob("*.toml") if path.stem not in ("sources", "safety")
)


def written(folder: Path, old: str, new: str) -> Path:
    """The wire procedure with one thing changed."""
    assert WIRE.count(old) >= 1
    path = folder / "manganese-wire.toml"
    path.write_text(WIRE.replace(old, new, 1), "utf-8")
    return path


def test_an_edition_governs_from_its_first_day_and_not_a_day_earlier() -> None:
    assert procedure_in_force("manganese-wire", date(2026, 1, 1)).start == date(2026, 1, 1)
    with pytest.raises(NoProcedure, match="starts on 2026-01-01, after 2025-12-31"):
        procedure_in_force("manganese-wire", date(2025, 12, 31))


def test_a_new_edition_takes_over_on_its_day(tmp_path: Path) -> None:
    head, edition = WIRE.split("[[edition]]")
    newer = edition.replace("2026-01-01", "2027-03-01").replace("value = 330", "value = 310")
    path = tmp_path / "manganese-wire.toml"
    path.write_text(f"{head}[[edition]]{newer}\n[[edition]]{edition}", "utf-8")
    first, second = read_procedure(path)
    assert (first.start, first.settings.current_a) == (date(2026, 1, 1), 330)
    assert (second.start, second.settings.current_a) == (date(2027, 3, 1), 310)


def test_an_unknown_procedure_is_answered_with_those_on_file() -> None:
    with pytest.raises(NoProcedure, match="carbon-wire"):
        procedure_in_force("thermite", ON)


def test_manganese_frogs_take_wire_before_stick_and_never_a_rail_procedure() -> None:
    found = procedures_for(Steel.MANGANESE, ComponentKind.FROG, ON)
    assert [procedure.id for procedure in found] == ["manganese-wire", "manganese-stick"]


@pytest.mark.parametrize("steel", [Steel.CARBON, Steel.HEAD_HARDENED])
def test_rail_points_take_rail_procedures(steel: Steel) -> None:
    found = procedures_for(steel, ComponentKind.SWITCH_POINT, ON)
    assert [procedure.id for procedure in found] == ["carbon-wire", "carbon-stick"]


def test_a_plate_has_no_procedure_and_the_reason_is_said() -> None:
    with pytest.raises(NoProcedure, match=r"covers a plate of carbon steel; replace"):
        procedures_for(Steel.CARBON, ComponentKind.PLATE, ON)


def test_before_the_first_edition_nothing_fits() -> None:
    with pytest.raises(NoProcedure):
        procedures_for(Steel.MANGANESE, ComponentKind.FROG, date(2020, 1, 1))


@pytest.mark.parametrize("procedure", [e for editions in all_editions().values() for e in editions])
def test_every_setting_stands_on_a_source_or_a_sentence(procedure: Procedure) -> None:
    for row in procedure.rows.values():
        assert row.source in sources() if row.mark is Mark.PUBLISHED else len(row.note) > 20, row
        assert row.unit


@pytest.mark.parametrize("name", ROW_FILES)
def test_every_row_stands_on_a_source_or_a_sentence(name: str) -> None:
    rows = [row for table in rows_of(name).values() for row in table.values()]
    assert rows
    for row in rows:
        assert row.source in sources() if row.mark is Mark.PUBLISHED else len(row.note) > 9, row


def test_manganese_is_not_preheated_and_rail_steel_is() -> None:
    # Manganese: no preheat (several sources). Rail: 260 degC (US DoD guide specification 14606N).
    for procedure in procedures_for(Steel.MANGANESE, ComponentKind.FROG, ON):
        assert procedure.settings.preheat_max_degc <= 50
        assert procedure.settings.cooling == "air_quench"
    for procedure in procedures_for(Steel.CARBON, ComponentKind.STOCK_RAIL, ON):
        assert procedure.settings.preheat_min_degc == 260
        assert procedure.settings.cooling == "still_air"


def test_penetrant_times_keep_the_published_least(wire: Procedure) -> None:
    # ASME V Table T-672, castings and welds: dwell 5 min, developer 10 min.
    assert wire.settings.penetrant_dwell_floor_min == 5 <= wire.settings.penetrant_dwell_min
    assert wire.settings.developing_floor_min == 10 <= wire.settings.developing_min
    # Common practice in the trade, without a published source: 10 to 15 minutes developing.
    assert 10 <= wire.settings.developing_min <= 15


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("value = 330", "value = 3300", "current_a: 3300 A is outside 30 to 600; check"),
        ("current_a =", "curent_a =", "curent_a is not a setting; respell or remove"),
        ("value = 27, ", "", "row voltage_v: field value is missing; add it"),
        ('source = "railway-gazette-1942"', 'source = "a-blog"', "list it there"),
        ("developing_min = { value = 12", "developing_min = { value = 9", "lengthen it"),
        ('"long", "short", "long"', '"long", "short"', "the last layer must be long"),
        ('"long", "short", "long"', '"long", "middling", "long"', "neither long nor short"),
        ('process = "FCAW"', 'process = "SMAW"', "rod length and stub belong to SMAW"),
        ('process = "FCAW"', 'process = "laser"', "process must be one of"),
        ('interpass_rule = "us-practice"', 'interpass_rule = "mine"', "mine is not listed"),
        ('id = "manganese-wire"', 'id = "other"', "the id must be the file's name"),
        ('"cool_to_touch"', '"slow_cool"', "slow cooling needs post_heat_degc"),
        ('"cool_to_touch"', '"dunk"', "after_weld: use one of cool_to_touch, slow_cool"),
        ("preheat_min_degc = { value = 10", "preheat_min_degc = { value = 60", "preheat ends"),
        ('value = "DC electrode positive"', "value = 5", "polarity holds 5.0 where words"),
        ('mark = "assumed"', 'mark = "guess"', "mark 'guess' is not known"),
    ],
)
def test_a_bad_procedure_file_is_told_what_where_and_what_to_do(
    tmp_path: Path, old: str, new: str, sentence: str
) -> None:
    with pytest.raises(RowRefusal) as refusal:
        read_procedure(written(tmp_path, old, new))
    assert sentence in str(refusal.value)


def test_two_editions_on_one_day_are_refused(tmp_path: Path) -> None:
    head, edition = WIRE.split("[[edition]]")
    path = tmp_path / "manganese-wire.toml"
    path.write_text(f"{head}[[edition]]{edition}\n[[edition]]{edition}", "utf-8")
    with pytest.raises(RowRefusal, match="start on one day"):
        read_procedure(path)


def test_an_unpublished_value_without_a_sentence_is_refused() -> None:
    bare = {"value": 3, "unit": "mm", "mark": "assumed"}
    with pytest.raises(RowRefusal, match="needs a note saying why"):
        read_row("skin_mm", bare, "here")
    assert read_row("skin_mm", bare | {"note": "a guess"}, "here").number == 3
