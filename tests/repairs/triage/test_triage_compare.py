"""What a new edition changes and why, before it is accepted."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from repairs.triage.compare import changed_rows, compare
from repairs.triage.decide import decide
from repairs.triage.facts import Case, ComponentFacts, Reading, TrackFacts
from repairs.triage.owner import OwnerChange, owner_rules
from repairs.triage.owner_figures import Figure
from repairs.triage.rules import RuleSet, federal_rules
from tests.repairs.triage.strategies import DAY, cases, patient
from turnouts.analysis.terms import ComponentKind, FrogDesign, Quantity, Steel

BASE = federal_rules()
SINCE = date(2026, 1, 1)


def edited(*changes: tuple[str, Figure, str]) -> RuleSet:
    return owner_rules(
        BASE, tuple(OwnerChange(r, f, Decimal(v), SINCE, "tried") for r, f, v in changes)
    )


def frog(tread: str, steel: Steel = Steel.MANGANESE) -> Case:
    design = (
        FrogDesign.RAIL_BOUND_MANGANESE if steel is Steel.MANGANESE else FrogDesign.BOLTED_RIGID
    )
    readings = {
        Quantity.TREAD_WEAR: tread,
        Quantity.FLANGEWAY_DEPTH: "47",
        Quantity.GUARD_CHECK_GAGE: "1387.475",
        Quantity.GUARD_FACE_GAGE: "1339.85",
    }
    taken = tuple(Reading(q, Decimal(mm), DAY, "R") for q, mm in readings.items())
    component = ComponentFacts(ComponentKind.FROG, design, steel)
    return Case(component, None, taken, TrackFacts(3), DAY, DAY)


def test_only_the_cases_between_the_old_limit_and_the_new_change() -> None:
    # 49 CFR 213.137(c) allows 9.525 mm; 8 mm is tried
    many = [
        frog("7.9"),
        frog("8"),
        frog("8.1"),
        frog("9.525"),
        frog("9.6"),
        frog("8.5", Steel.CARBON),
    ]
    changed = compare(many, BASE, edited(("213.137(c)", Figure.LIMIT, "8")))
    assert [one.index for one in changed] == [2, 3]
    assert changed[0].old == decide(many[2], BASE)
    assert changed[0].new.traffic.speed_mph == 10


def test_the_reason_names_the_row_and_both_figures() -> None:
    (one,) = compare([frog("9")], BASE, edited(("213.137(c)", Figure.LIMIT, "8")))
    assert one.why == (
        "class speed (40 mph, passenger trains 60 mph) becomes restricted (10 mph); "
        "watch becomes weld in track; due 04 Dec 2026 instead of 20 Dec 2026, because of "
        "Tread of a casting worn down (49 CFR 213.137(c), tightened by the railway), "
        "9.525 mm before, 8 mm now."
    )


def test_a_later_due_date_is_a_change_with_its_row() -> None:
    (one,) = compare([frog("5")], BASE, edited(("213.235(a)/watch", Figure.DAYS, "20")))
    assert one.new.due_on == DAY + timedelta(days=20)
    assert "30 days before, 20 days now" in one.why


def test_a_row_that_goes_and_a_row_that_comes_are_said() -> None:
    without = replace(BASE, limits=tuple(r for r in BASE.limits if r.rule != "213.137(c)"))
    (gone,) = compare([frog("10")], BASE, without)
    (new,) = compare([frog("10")], without, BASE)
    assert "which is gone" in gone.why
    assert "which is new" in new.why


def test_lines_of_choice_asked_in_another_order_count_as_changed() -> None:
    moved = replace(BASE, choices=(BASE.choices[1], BASE.choices[0], *BASE.choices[2:]))
    assert changed_rows(BASE, moved, DAY)
    assert not changed_rows(BASE, BASE, DAY)


def test_the_same_rules_change_nothing() -> None:
    assert compare([frog("9"), frog("10")], BASE, BASE) == ()


def test_a_change_that_is_not_yet_in_force_changes_nothing() -> None:
    later = OwnerChange("213.137(c)", Figure.LIMIT, Decimal(8), DAY + timedelta(days=1), "next")
    assert compare([frog("9")], BASE, owner_rules(BASE, (later,))) == ()


EDITIONS = (
    edited(("213.137(c)", Figure.LIMIT, "6"), ("213.137(a)", Figure.LIMIT, "40")),
    edited(("213.137(b)/back", Figure.LIMIT, "100"), ("213.143(a)/face", Figure.LIMIT, "1346")),
    edited(
        ("owner/shop-too-deep", Figure.DEPTH_OVER, "20"), ("owner/point-gap", Figure.LIMIT, "3")
    ),
    edited(("owner/due-weld-low", Figure.DAYS, "9"), ("213.113(c)/D", Figure.DAYS, "3")),
    edited(("213.143(b)", Figure.LIMIT, "1384"), ("213.137(b)/down", Figure.LIMIT, "9")),
    replace(BASE, choices=BASE.choices[3:]),
    replace(BASE, exceptions=()),
)


@patient
@given(st.lists(cases(), max_size=6), st.sampled_from(EDITIONS), st.booleans())
def test_no_changed_answer_is_missed_and_none_is_made_up(
    many: list[Case], edition: RuleSet, back: bool
) -> None:
    """The cases passed over as untouched are decided here in full."""
    before, after = (edition, BASE) if back else (BASE, edition)

    def answers(case: Case) -> tuple[object, object]:
        old, new = decide(case, before), decide(case, after)
        return (
            (old.traffic, old.disposition, old.due_on),
            (new.traffic, new.disposition, new.due_on),
        )

    differing = [i for i, case in enumerate(many) if answers(case)[0] != answers(case)[1]]
    assert [one.index for one in compare(many, before, after)] == differing
