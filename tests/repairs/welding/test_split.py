"""Splitting a repair over windows: order, states and what it costs."""

from dataclasses import replace

import pytest

from repairs.welding.procedures import Procedure
from repairs.welding.refusals import WeldingRefusal
from repairs.welding.split import Split, splits
from repairs.welding.timeline import HandBack
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from turnouts.analysis.terms import FrogDesign, Zone

DAY = Conditions(15, 15, available_min=300)


@pytest.fixture(scope="module")
def work(frog_work: RepairWork) -> RepairWork:
    zones = (
        ZoneWork(Zone.POINT, 150, 40, 8, 4),
        ZoneWork(Zone.GUARD_FACE, 150, 30, 8),
        ZoneWork(Zone.HEEL, 120, 30, 8),
    )
    return replace(frog_work, zones=zones)


@pytest.fixture(scope="module")
def found(work: RepairWork, wire: Procedure) -> tuple[Split, ...]:
    return splits(work, wire, DAY, 7)


def test_three_zones_in_order_can_be_shared_out_in_four_ways(found: tuple[Split, ...]) -> None:
    shared = [[part.zones for part in way.parts] for way in found]
    guard, point, heel = Zone.GUARD_FACE, Zone.POINT, Zone.HEEL
    assert shared[0] == [(guard, point, heel)]
    assert shared[-1] == [(guard,), (point,), (heel,)]
    assert sorted(map(str, shared[1:3])) == sorted(
        map(str, [[(guard,), (point, heel)], [(guard, point), (heel,)]])
    )


def test_the_guard_face_is_never_in_a_later_window_than_the_point(
    found: tuple[Split, ...],
) -> None:
    # 49 CFR 213.141(b).
    for way in found:
        place = {zone: n for n, part in enumerate(way.parts) for zone in part.zones}
        assert place[Zone.GUARD_FACE] <= place[Zone.POINT]


def test_every_part_hands_back_a_restored_track_and_names_what_is_left(
    found: tuple[Split, ...],
) -> None:
    for way in found:
        done: set[Zone] = set()
        for part in way.parts:
            assert part.hand_back is HandBack.RESTORED
            done |= set(part.zones)
            assert done.isdisjoint(part.left_as_found)
            assert len(done) + len(part.left_as_found) == 3
        assert way.parts[-1].left_as_found == ()


def test_each_split_repeats_protection_set_up_proof_and_clearing(
    found: tuple[Split, ...], wire: Procedure
) -> None:
    assert found[0].extra_set_up_min == 0
    assert found[0].extra_min == 0
    # stages.toml medians once more: briefing 15, way in 5, measuring 8, cooling down 1 + 12,
    # penetrant 6 + dwell 10 + developing 12, final measuring 8, clearing 15 minutes.
    once = 15 + 5 + 8 + 13 + 28 + 8 + 15
    for way in found[1:]:
        windows = len(way.parts) - 1
        assert way.extra_set_up_min == pytest.approx(windows * once, rel=0.05)
        assert way.extra_min > 0.7 * way.extra_set_up_min


def test_smaller_parts_need_shorter_windows(found: tuple[Split, ...]) -> None:
    assert found[-1].longest_p95_min < found[0].longest_p95_min
    for way in found:
        for part in way.parts:
            assert part.median_min < part.p95_min
            assert part.chance_in_time is not None


def test_a_single_zone_cannot_be_split(work: RepairWork, wire: Procedure) -> None:
    alone = replace(work, zones=work.zones[:1])
    (only,) = splits(alone, wire, DAY, 7)
    assert [part.zones for part in only.parts] == [(Zone.POINT,)]


def test_more_than_six_zones_are_refused(work: RepairWork, wire: Procedure) -> None:
    many = replace(
        work,
        design=FrogDesign.RAIL_BOUND_MANGANESE,
        zones=tuple(ZoneWork(Zone.HEEL, 60, 20, 4) for _ in range(7)),
    )
    with pytest.raises(WeldingRefusal, match="7 zones are more than 6"):
        splits(many, wire, DAY, 7)
