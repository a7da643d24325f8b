"""What changes the waits, and where zones may not be welded by turns."""

from dataclasses import replace

import pytest

from repairs.welding.changes import Change, what_it_changes
from repairs.welding.procedures import Procedure
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from turnouts.analysis.terms import FrogDesign, Zone

DAY = Conditions(20, 20)


@pytest.fixture(scope="module")
def apart(frog_work: RepairWork) -> RepairWork:
    zones = (ZoneWork(Zone.TOE, 150, 40, 8, 4), ZoneWork(Zone.HEEL, 150, 40, 8, 4))
    return replace(frog_work, design=FrogDesign.RAIL_BOUND_MANGANESE, zones=zones)


def cold(procedure: Procedure) -> Procedure:
    """The foundry's 100 degC, so that there is something to wait for."""
    return replace(procedure, interpass=replace(procedure.interpass, limit_degc=100.0))


@pytest.fixture(scope="module")
def found(apart: RepairWork, wire: Procedure) -> dict[str, Change]:
    return {change.key: change for change in what_it_changes(apart, cold(wire), DAY)}


def test_each_change_is_set_against_the_plan(found: dict[str, Change]) -> None:
    planned = found["as_planned"]
    assert list(found) == ["as_planned", "more_air", "colder", "windy", "by_turns"]
    for change in found.values():
        assert change.saved_min == pytest.approx(planned.welding_min - change.welding_min)


@pytest.mark.parametrize("key", ["more_air", "colder", "windy", "by_turns"])
def test_all_four_shorten_the_waits_of_a_cold_ceiling(found: dict[str, Change], key: str) -> None:
    assert found[key].wait_min < found["as_planned"].wait_min


def test_by_turns_says_that_all_cavities_are_open(found: dict[str, Change]) -> None:
    assert "cannot be handed back between zones" in found["by_turns"].said


def test_guard_face_and_point_of_a_self_guarded_frog_are_never_welded_by_turns(
    frog_work: RepairWork, wire: Procedure
) -> None:
    # 49 CFR 213.141(b): the guarding face is restored before the point is rebuilt.
    zones = (ZoneWork(Zone.POINT, 100, 40, 8, 4), ZoneWork(Zone.GUARD_FACE, 100, 30, 8))
    law = replace(frog_work, zones=zones)
    assert "by_turns" not in {change.key for change in what_it_changes(law, wire, DAY)}
    free = replace(law, design=FrogDesign.RAIL_BOUND_MANGANESE)
    assert "by_turns" in {change.key for change in what_it_changes(free, wire, DAY)}


def test_rail_steel_in_still_air_has_no_bigger_quench(
    point_work: RepairWork, rail_wire: Procedure
) -> None:
    keys = {change.key for change in what_it_changes(point_work, rail_wire, DAY)}
    assert "more_air" not in keys
    assert "by_turns" not in keys
