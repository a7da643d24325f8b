"""What a rail test found reaches the rail defect table of 49 CFR 213.113(c)."""

from decimal import Decimal
from typing import Any

import pytest

from repairs.services.costs import life_costs
from repairs.services.facts import cases_for
from repairs.services.triage import triage_defect
from repairs.services.what_if import facts_of
from tests import railway
from tests.repairs import rows
from turnouts.analysis.terms import ComponentKind, Disposition, HeadReach, Position, RailFlaw
from turnouts.models import Defect

pytestmark = pytest.mark.django_db


def cracked_closure_rail(**values: Any) -> Defect:
    spot = railway.turnout()
    railway.track_class(spot.track, 4)
    rail = railway.component(ComponentKind.CLOSURE_RAIL, steel="carbon")
    railway.install(rail, spot, Position.THROUGH_CLOSURE_RAIL)
    given = {"kind": "crack", "zone": "head"} | values
    return railway.defect(rail, railway.inspection(spot), **given)


def lines(defect: Defect) -> set[str]:
    """The lines of the table that the decision names."""
    by = railway.person("engineer")
    made = triage_defect(by=by, defect=defect, on=rows.DAY, at=rows.NOW)
    asked = {f["rule_id"] for f in made.detail["findings"] if f["applies_to_traffic"]}
    return {rule for rule in asked if rule.startswith("213.113(c)/across")}


@pytest.mark.parametrize(
    ("share", "line"),
    # 49 CFR 213.113(c): less than 25 % but not less than 5; less than 60 % but not less than 25
    [("24.99", "213.113(c)/across-1"), ("25", "213.113(c)/across-2")],
)
def test_the_share_of_the_head_chooses_the_line_of_the_table(share: str, line: str) -> None:
    defect = cracked_closure_rail(flaw="detail_fracture", head_share_percent=Decimal(share))
    assert lines(defect) == {line}


def test_without_a_rail_test_no_line_is_taken_and_the_test_is_asked_for() -> None:
    defect = cracked_closure_rail()
    assert lines(defect) == set()
    asked = defect.decisions.get().detail["to_measure"]
    assert any("by a rail test" in one["what"] for one in asked)


def test_every_fact_of_the_record_is_a_fact_of_the_case() -> None:
    defect = cracked_closure_rail(
        kind="bolt_hole_crack",
        zone="bolt_hole",
        head_reach="broken_out",
        flaw="split_web",
        head_share_percent=Decimal("12.5"),
        welder_access=False,
        metal_left_mm=Decimal("12.7"),
        hardened_mm=Decimal("4.7625"),
        damaged=True,
    )
    row = Defect.objects.with_place().get(pk=defect.pk)
    facts = cases_for([row], rows.DAY)[0].defect
    assert facts is not None
    assert (facts.head, facts.flaw) == (HeadReach.BROKEN_OUT, RailFlaw.SPLIT_WEB)
    assert facts.head_share_percent == Decimal("12.5")
    assert (facts.access, facts.damaged) == (False, True)
    assert (facts.metal_left_mm, facts.hardened_mm) == (Decimal("12.7"), Decimal("4.7625"))


def test_where_no_welder_can_get_at_it_in_track_that_way_is_not_open_in_the_costs() -> None:
    known = rows.spalled_point(welder_access=False)
    open_ways = []
    for defect in (known, rows.spalled_point(welder_access=True)):
        facts = facts_of(Defect.objects.with_place().get(pk=defect.pk), rows.DAY)
        cost = life_costs(facts, facts.judged(facts.case), rows.DAY).cost
        assert cost is not None
        open_ways.append({one.way.disposition for one in cost.options if one.open})
    assert open_ways[1] - open_ways[0] == {Disposition.WELD_IN_TRACK}
