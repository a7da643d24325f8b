"""A railway's own figures: tighter always, looser only where the law leaves it open."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from repairs.triage.decide import decide
from repairs.triage.decision import Outcome, TrafficKind
from repairs.triage.facts import Case, ComponentFacts, Reading, TrackFacts
from repairs.triage.inspection_rows import InspectionRow
from repairs.triage.owner import OwnerChange, OwnerRuleRefused, owner_rules
from repairs.triage.owner_figures import Figure
from repairs.triage.rail_rows import ActionRow
from repairs.triage.rows import (
    ChoiceRow,
    Compare,
    DueRow,
    ExceptionRow,
    LimitRow,
    Row,
    SettingRow,
)
from repairs.triage.rules import RuleSet, federal_rules, rules_in_force
from tests.repairs.triage.strategies import DAY, cases, milder, patient
from turnouts.analysis.terms import ComponentKind, FrogDesign, Quantity, Steel

BASE = federal_rules()
SINCE = date(2026, 3, 1)
FROG = ComponentFacts(ComponentKind.FROG, FrogDesign.RAIL_BOUND_MANGANESE, Steel.MANGANESE)


def own(rule: str, figure: Figure, value: str, **more: object) -> OwnerChange:
    return OwnerChange(rule, figure, Decimal(value), SINCE, "our own record", **more)  # type: ignore[arg-type]


def row_of(rules: RuleSet, rule: str, on: date = DAY) -> Row:
    return next(row for row in rules_in_force(rules, on).rows() if row.rule == rule)


def worn(mm: str, on: date = DAY) -> Case:
    reading = Reading(Quantity.TREAD_WEAR, Decimal(mm), on, "R")
    sound = (
        Reading(Quantity.FLANGEWAY_DEPTH, Decimal(47), on, "R"),
        Reading(Quantity.GUARD_CHECK_GAGE, Decimal("1387.475"), on, "R"),
        Reading(Quantity.GUARD_FACE_GAGE, Decimal("1339.85"), on, "R"),
    )
    return Case(FROG, None, (reading, *sound), TrackFacts(3), on, on)


def test_no_change_leaves_the_law_itself() -> None:
    assert owner_rules(BASE, ()) is BASE


def test_a_tightened_limit_restricts_where_the_law_would_not() -> None:
    # 49 CFR 213.137(c) allows 3/8 in, 9.525 mm
    rules = owner_rules(BASE, (own("213.137(c)", Figure.LIMIT, "8"),))
    assert decide(worn("8"), rules).traffic.kind is TrafficKind.CLASS_SPEED
    assert decide(worn("8.01"), rules).traffic.speed_mph == 10
    assert decide(worn("8.01"), BASE).traffic.kind is TrafficKind.CLASS_SPEED


def test_a_tightened_row_says_who_set_it_why_and_what_the_law_says() -> None:
    rules = owner_rules(BASE, (own("213.137(c)", Figure.LIMIT, "8"),))
    finding = next(f for f in decide(worn("9"), rules).findings if f.rule_id == "213.137(c)")
    assert finding.clause == "49 CFR 213.137(c), tightened by the railway"
    assert finding.checked == "railway's own rule"
    assert finding.checked_note == "our own record; without the railway's figure it is 9.525 mm"
    assert finding.rule_set == "us-49cfr213+railway"


def test_a_change_holds_from_its_first_day_up_to_its_last() -> None:
    change = own("213.137(c)", Figure.LIMIT, "8", end=date(2026, 6, 1))
    rules = owner_rules(BASE, (change,))
    for on, restricted in [
        (date(2026, 2, 28), False),
        (date(2026, 3, 1), True),
        (date(2026, 5, 31), True),
        (date(2026, 6, 1), False),
    ]:
        kind = decide(worn("9", on), rules).traffic.kind
        assert kind is (TrafficKind.RESTRICTED if restricted else TrafficKind.CLASS_SPEED), on


def test_of_two_changes_of_one_figure_the_newer_counts_even_when_it_eases_the_older() -> None:
    first = own("213.137(c)", Figure.LIMIT, "6")
    second = OwnerChange("213.137(c)", Figure.LIMIT, Decimal(9), date(2026, 9, 1), "too strict")
    rules = owner_rules(BASE, (second, first))
    assert decide(worn("7", date(2026, 8, 31)), rules).traffic.speed_mph == 10
    assert decide(worn("7", date(2026, 9, 1)), rules).traffic.kind is TrafficKind.CLASS_SPEED
    assert decide(worn("9.1", date(2026, 9, 1)), rules).traffic.speed_mph == 10


def test_one_class_may_be_tightened_by_itself() -> None:
    # 49 CFR 213.143(a): 4 ft 6 3/8 in, 1381.125 mm, on class 4, and 1384.3 mm on class 5
    change = own("213.143(a)/check", Figure.LIMIT, "1383", track_class=4)
    row = row_of(owner_rules(BASE, (change,)), "213.143(a)/check")
    assert isinstance(row, LimitRow)
    assert row.by_class[3] == Decimal("1381.125")
    assert row.by_class[4] == 1383
    assert row.by_class[5] == Decimal("1384.3")


def test_what_the_railway_may_set_it_may_loosen() -> None:
    rules = owner_rules(
        BASE,
        (
            own("owner/due-weld-low", Figure.DAYS, "45"),
            own("owner/reading-age", Figure.NUMBER, "60"),
            own("owner/point-gap", Figure.LIMIT, "6"),
            own("owner/shop-too-deep", Figure.DEPTH_OVER, "40"),
            own("owner/replace-many-welds", Figure.EARLIER_WELDS_OVER, "7"),
        ),
    )
    assert row_of(rules, "owner/due-weld-low").value_seen == "45 days"
    assert row_of(rules, "owner/reading-age").value_seen == "60"
    assert row_of(rules, "owner/point-gap").value_seen == "6 mm"
    assert row_of(rules, "owner/shop-too-deep").value_seen == "depth over 40 mm, weld_in_shop"
    assert "over 7 welds" in row_of(rules, "owner/replace-many-welds").value_seen


def test_exceptions_actions_and_intervals_of_law_may_be_tightened() -> None:
    rules = owner_rules(
        BASE,
        (
            own("213.143(b)", Figure.LIMIT, "1383"),  # the law: 1381.125 mm
            own("213.113(c)/D", Figure.DAYS, "5"),  # the law: 7 days
            own("213.137(c)", Figure.CAP, "5"),  # the law: 10 mph
            own("213.235(b)", Figure.MONTHS, "2"),  # the law: 3 months
        ),
    )
    assert row_of(rules, "213.143(b)").value_seen == "1383 mm"
    assert row_of(rules, "213.113(c)/D").value_seen == "30 mph, 5 days"
    assert decide(worn("10"), rules).traffic.speed_mph == 5
    assert row_of(rules, "213.235(b)").value_seen == "2 months"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (own("213.137(c)", Figure.LIMIT, "9.526"), "looser than the law, which says 9.525 mm"),
        (own("213.137(a)", Figure.LIMIT, "38"), "looser than the law"),
        (own("213.143(b)", Figure.LIMIT, "1381"), "looser than the law"),
        (own("213.137(c)", Figure.CAP, "15"), "looser than the law"),
        (own("213.235(a)", Figure.MONTHS, "2"), "looser than the law"),
        (own("213.235(a)/watch", Figure.DAYS, "31"), "looser than the law"),
        (own("213.999", Figure.LIMIT, "1"), "has no rule 213.999"),
        (own("213.137(c)", Figure.DAYS, "1"), "has no days to set"),
        (own("213.137(a)", Figure.CAP, "5"), "does not go by"),
        (own("owner/due-stop", Figure.DAYS, "0"), "a whole number above zero"),
        (own("owner/due-weld-low", Figure.DAYS, "2.5"), "a whole number above zero"),
        (own("owner/excepted", Figure.NUMBER, "6"), "goes up to 5"),
        (own("213.143(a)/check", Figure.LIMIT, "1390", track_class=1), "a lower class of track"),
        (own("213.137(b)/down", Figure.LIMIT, "10", track_class=4), "every class alike"),
        (own("213.137(c)", Figure.LIMIT, "8", track_class=6), "no limit on class 6"),
        (own("owner/due-weld-low", Figure.DAYS, "9", track_class=4), "the same on every class"),
        (own("213.137(c)", Figure.LIMIT, "8", end=SINCE), "ends on 2026-03-01"),
        (
            OwnerChange("213.137(c)", Figure.LIMIT, Decimal(8), SINCE, "  "),
            "say why the railway",
        ),
        (
            OwnerChange("213.137(e)", Figure.LIMIT, Decimal(8), date(2020, 10, 6), "early"),
            "not in force on 2020-10-06; it begins on 2020-10-07",
        ),
    ],
)
def test_what_cannot_stand_is_refused_with_a_sentence(change: OwnerChange, said: str) -> None:
    with pytest.raises(OwnerRuleRefused, match=said):
        owner_rules(BASE, (change,))


def test_a_limit_exactly_as_the_law_is_no_loosening() -> None:
    rules = owner_rules(BASE, (own("213.137(c)", Figure.LIMIT, "9.525"),))
    assert row_of(rules, "213.137(c)").clause == "49 CFR 213.137(c)"


def test_two_changes_of_one_figure_from_one_day_are_refused() -> None:
    changes = (own("213.137(c)", Figure.LIMIT, "8"), own("213.137(c)", Figure.LIMIT, "7"))
    with pytest.raises(OwnerRuleRefused, match="start on the same day"):
        owner_rules(BASE, changes)


def test_a_stricter_edition_of_the_law_overtakes_the_railways_figure() -> None:
    law = next(row for row in BASE.limits if row.rule == "213.137(c)")
    newer = replace(law, start=date(2028, 1, 1), value=Decimal(7))
    base = replace(BASE, limits=(*BASE.limits, newer))
    rules = owner_rules(base, (own("213.137(c)", Figure.LIMIT, "8"),))
    assert row_of(rules, "213.137(c)", date(2027, 12, 31)).value_seen == "8 mm"
    after = row_of(rules, "213.137(c)", date(2028, 1, 1))
    assert (after.value_seen, after.clause) == ("7 mm", "49 CFR 213.137(c)")


LAW = [row for row in BASE.rows() if not row.railway_may_set and row.start <= DAY]


def loosened(row: Row, by: Decimal) -> OwnerChange | None:
    """A change that is looser than the row by a step, or ``None`` for a row without a figure."""
    figures: list[tuple[Figure, Decimal]] = []
    if isinstance(row, LimitRow):
        limit = row.value if row.value is not None else row.by_class[1]
        away = -by if row.compare is Compare.NOT_LESS_THAN else by
        figures.append((Figure.LIMIT, limit + away))
    if isinstance(row, LimitRow | ActionRow) and row.cap_mph is not None:
        figures.append((Figure.CAP, row.cap_mph + int(by) + 1))
    if isinstance(row, DueRow | ActionRow | InspectionRow) and row.days is not None:
        figures.append((Figure.DAYS, Decimal(row.days + int(by) + 1)))
    if isinstance(row, InspectionRow) and row.months is not None:
        figures.append((Figure.MONTHS, Decimal(row.months + int(by) + 1)))
    if isinstance(row, ExceptionRow) and row.value is not None:
        figures.append((Figure.LIMIT, row.value - by))
    if not figures:
        return None
    figure, value = figures[-1]
    return OwnerChange(row.rule, figure, value, max(SINCE, row.start), "to make life easier")


@patient
@given(st.sampled_from(LAW), st.integers(1, 4000).map(lambda n: Decimal(n) / 1000))
def test_loosening_of_law_is_always_refused(row: Row, by: Decimal) -> None:
    change = loosened(row, by)
    assume(change is not None)
    assert change is not None
    with pytest.raises(OwnerRuleRefused):
        owner_rules(BASE, (change,))


@st.composite
def tightenings(draw: st.DrawFn) -> OwnerChange:
    """A figure of law at least as strict as it is."""
    rows = [row for row in LAW if isinstance(row, LimitRow)]
    row = draw(st.sampled_from(rows))
    by = Decimal(draw(st.integers(0, 200))) / 16
    if row.cap_mph is not None and draw(st.booleans()):
        cap = Decimal(draw(st.integers(1, int(row.cap_mph))))
        return OwnerChange(row.rule, Figure.CAP, cap, SINCE, "caution")
    limits = row.by_class.values() if row.by_class else [row.value or Decimal(0)]
    if row.compare is Compare.NOT_LESS_THAN:
        return OwnerChange(row.rule, Figure.LIMIT, max(limits) + by, SINCE, "caution")
    least = max(min(limits) - by, Decimal(1))
    return OwnerChange(row.rule, Figure.LIMIT, least, SINCE, "caution")


@patient
@given(cases(), st.lists(tightenings(), max_size=3, unique_by=lambda c: (c.rule, c.figure)))
def test_tightening_never_gives_a_milder_answer(case: Case, changes: list[OwnerChange]) -> None:
    rules = owner_rules(BASE, tuple(changes))
    law, own_answer = decide(case, BASE), decide(case, rules)
    assert not milder(law, own_answer)
    past = {Outcome.NEAR, Outcome.BEYOND}
    assert {f.rule_id for f in law.findings if f.outcome in past} <= {
        f.rule_id for f in own_answer.findings if f.outcome in past
    }


def test_every_row_a_railway_may_set_is_marked_and_no_row_of_law_is() -> None:
    assert all(row.railway_may_set for row in BASE.rows() if row.rule.startswith("owner/"))
    assert not any(row.railway_may_set for row in BASE.rows() if row.clause.startswith("49 CFR"))
    assert {type(row) for row in BASE.rows() if row.railway_may_set} >= {
        SettingRow,
        ChoiceRow,
        DueRow,
    }
