"""Repair by grinding alone: no metal laid, nothing opened."""

from dataclasses import replace

import pytest

from repairs.welding.estimate import estimate_grinding
from repairs.welding.refusals import CavityRefusal
from repairs.welding.timeline import HandBack
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from turnouts.analysis.terms import ComponentKind, FrogDesign, Steel, Zone

FLOW = RepairWork(
    ComponentKind.FROG, FrogDesign.SPRING, Steel.CARBON, (ZoneWork(Zone.POINT, 300, 40, 2),)
)


def test_grinding_lays_no_metal_and_opens_no_cavity(mild: Conditions) -> None:
    answer = estimate_grinding(FLOW, mild, 7)
    assert answer.filler_kg == answer.arc_min == answer.cavity_mm3 == answer.beads == 0
    assert not any(stage.open_cavity for stage in answer.stages)
    assert HandBack.NEVER not in {stage.hand_back for stage in answer.stages}
    assert not {"wire", "rods", "carbons"} & {item.key for item in answer.materials}


def test_ground_metal_is_the_block_of_its_sizes(mild: Conditions) -> None:
    # 300 x 40 x 2 mm of rail steel at 7.85 g/cm3 is 188.4 g.
    answer = estimate_grinding(FLOW, mild, 7)
    assert answer.zones[0].over_fill_kg == pytest.approx(0.1884)


def test_more_to_grind_takes_longer(mild: Conditions) -> None:
    deeper = replace(FLOW, zones=(ZoneWork(Zone.POINT, 300, 40, 4),))
    assert estimate_grinding(deeper, mild, 7).p80_min > estimate_grinding(FLOW, mild, 7).p80_min


def test_the_most_grinding_may_take_is_allowed_and_a_hair_more_is_not(mild: Conditions) -> None:
    def at(depth_mm: float) -> float:
        zones = (ZoneWork(Zone.POINT, 300, 40, depth_mm),)
        return estimate_grinding(replace(FLOW, zones=zones), mild, 7).p50_min

    assert at(5.0) > 0
    with pytest.raises(CavityRefusal, match="repair it by welding"):
        at(5.01)


def test_it_serialises_with_the_day_its_rows_stand_from(mild: Conditions) -> None:
    written = estimate_grinding(FLOW, mild, 7).as_dict()
    assert written["procedure_id"] == "grinding"
    assert written["procedure_since"] == "2026-01-01"
    assert written["heat_input_kj_per_mm"] is None
