"""Hints at causes, on both sides of what each rule asks for."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from turnouts.analysis.hints.hints import (
    ComponentFacts,
    DefectFact,
    Hints,
    ReadingFact,
    WeldFact,
    hints_for,
)
from turnouts.analysis.hints.rules import FILE, HintRowError, hint_rules, rules_on
from turnouts.analysis.terms import ComponentKind, DefectKind, Quantity, Steel, Zone

TODAY = date(2026, 11, 25)
CLASS_4_LEAST = Decimal("1381.125")
"""54 3/8 in, guard check gage of class 3 and 4 track (49 CFR 213.143)."""


def defect(kind: DefectKind, zone: Zone, mgt: float = 100.0, reference: str = "D1") -> DefectFact:
    return DefectFact(reference, kind, zone, mgt, date(2026, 10, 1))


def gage(value: str) -> ReadingFact:
    return ReadingFact(
        "M1", Quantity.GUARD_CHECK_GAGE, Decimal(value), CLASS_4_LEAST, True, date(2026, 9, 1)
    )


def weld(
    mgt: float,
    hottest: str | None,
    limit: str | None = "260",
    zone: Zone = Zone.POINT,
    steel: Steel = Steel.MANGANESE,
) -> WeldFact:
    temperatures = (Decimal(t) if t is not None else None for t in (hottest, limit))
    return WeldFact("J1", zone, mgt, date(2026, 5, 1), steel, *temperatures)


def frog(*defects: DefectFact, **more: object) -> Hints:
    facts = ComponentFacts("F-1", ComponentKind.FROG, defects, **more)  # type: ignore[arg-type]
    return hints_for(facts, TODAY)


def rules_of(hints: Hints) -> list[str]:
    return [hint.rule.rule for hint in hints.hints]


CHIP = defect(DefectKind.CHIP, Zone.POINT)
SPALL = defect(DefectKind.SPALL, Zone.POINT)


@pytest.mark.parametrize(
    ("value", "speaks"),
    # 1/8 in (3.175 mm) above the least of 54 3/8 in is 54 1/2 in, 1384.3 mm
    [("1381.1249", True), ("1381.125", True), ("1384.3", True), ("1384.3001", False)],
)
def test_a_chipped_point_with_a_tight_guard_check_gage(value: str, speaks: bool) -> None:
    found = frog(CHIP, readings=(gage(value),))
    assert rules_of(found) == (["chip-tight-guard"] if speaks else [])
    assert found.unanswered == ()


def test_the_hint_shows_its_evidence_its_source_and_what_to_look_at_next() -> None:
    hint = frog(CHIP, readings=(gage("1380"),)).hints[0]
    assert hint.evidence == (
        "Guard check gage 1380 mm on 2026-09-01 (M1), past its limit 1381.125 mm.",
    )
    assert hint.rule.source.key == "tm-5-628"
    assert "guard rail fastenings" in hint.look_next


def test_a_chip_elsewhere_or_on_a_switch_point_says_nothing_of_the_guard() -> None:
    wing = defect(DefectKind.CHIP, Zone.LEFT_WING)
    assert rules_of(frog(wing, readings=(gage("1380"),))) == []
    point = ComponentFacts("P-1", ComponentKind.SWITCH_POINT, (CHIP,), readings=(gage("1380"),))
    assert hints_for(point, TODAY).hints == ()


def test_a_gage_nobody_measured_is_asked_for() -> None:
    found = frog(CHIP)
    assert found.hints == ()
    assert "measure it" in found.unanswered[0].sentence


@pytest.mark.parametrize(
    ("mgt", "speaks"),
    [(80.0, True), (79.9, False), (100.0, True), (102.0, True), (102.1, False)],
)
def test_batter_beside_loose_fastenings_of_about_the_same_time(mgt: float, speaks: bool) -> None:
    loose = defect(DefectKind.LOOSE_FASTENING, Zone.HEEL, mgt, "D2")
    found = frog(defect(DefectKind.BATTER, Zone.HEEL), beside=(loose,))
    assert rules_of(found) == (["batter-loose-fastening"] if speaks else [])


def test_a_defect_is_no_evidence_of_itself() -> None:
    crack = defect(DefectKind.BOLT_HOLE_CRACK, Zone.BOLT_HOLE)
    assert rules_of(frog(crack)) == []


@pytest.mark.parametrize(
    ("welded_at", "hottest", "speaks"),
    [
        (85.0, "300", True),
        (84.9, "300", False),  # more than 15 MGT before
        (90.0, "260.1", True),
        (90.0, "260", False),  # on the limit is within it
        (100.1, "300", False),  # welded after the spall was found
    ],
)
def test_a_spall_soon_after_a_weld_done_hot(welded_at: float, hottest: str, speaks: bool) -> None:
    found = frog(SPALL, welds=(weld(welded_at, hottest),))
    assert rules_of(found) == (["spall-hot-weld"] if speaks else [])


def test_a_weld_elsewhere_or_of_other_steel_says_nothing_of_the_spall() -> None:
    assert rules_of(frog(SPALL, welds=(weld(90, "300", zone=Zone.TREAD),))) == []
    assert rules_of(frog(SPALL, welds=(weld(90, "300", steel=Steel.CARBON),))) == []


def test_pass_temperatures_that_were_not_recorded_are_asked_for() -> None:
    found = frog(SPALL, welds=(weld(90, None),))
    assert found.hints == ()
    assert "not recorded" in found.unanswered[0].sentence


def test_a_component_without_defects_needs_no_cause() -> None:
    assert "no defects" in frog().sentence
    assert "No rule finds" in frog(SPALL).sentence


def test_every_rule_is_in_force_today_and_not_before_it_began() -> None:
    assert {r.rule for r in rules_on(TODAY)} == {r.rule for r in hint_rules()}
    assert rules_on(date(1991, 3, 31)) == ()
    assert {r.rule for r in rules_on(date(1991, 4, 1))} == {"chip-tight-guard", "chip-loose-guard"}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('source = "tm-5-628"', 'source = "nobody"', "not in sources.toml"),
        ('defects = ["batter"]', 'defects = ["bruise"]', "bruise"),
        ('clause = "2.25"\n', "", "a row has these keys"),
        ("figure_why = \"1/8 in: a gage that stands so near its limit under no load is taken to be "
         "past it under a wheel.\"", 'figure_why = ""', "say in figure_why"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_used_is_refused(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    text = FILE.read_text("utf-8")
    assert old in text
    changed = tmp_path / "hints.toml"
    changed.write_text(text.replace(old, new), "utf-8")
    with pytest.raises(HintRowError, match=said):
        hint_rules(changed)


def test_a_new_edition_of_a_rule_takes_the_place_of_the_old_from_its_day_on(
    tmp_path: Path,
) -> None:
    text = FILE.read_text("utf-8")
    first = "[[hint]]\n" + text.split("\n[[hint]]\n")[1]
    newer = first.replace("1991-04-01", "2027-01-01").replace("3.175", "5")
    changed = tmp_path / "hints.toml"
    changed.write_text(text + "\n" + newer, "utf-8")
    before, after = (
        next(r for r in rules_on(day, changed) if r.rule == "chip-tight-guard").need
        for day in (date(2026, 12, 31), date(2027, 1, 1))
    )
    assert (before.margin_mm, after.margin_mm) == (Decimal("3.175"), Decimal(5))  # type: ignore[union-attr]
