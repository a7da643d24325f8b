"""Stages and temperatures of a record become beads at their minutes."""

import pytest

from repairs.welding.heat.passes import LayerWorked, TemperatureRead, passes_of

LAYER = LayerWorked("1-point", 1, beads=4, bead_arc_min=1.0, start_min=60, end_min=80)


def test_beads_lie_evenly_in_their_layer() -> None:
    assert [each.start_min for each in passes_of([LAYER], [])] == [60, 65, 70, 75]


def test_a_bead_begins_when_its_temperature_was_read() -> None:
    found = passes_of([LAYER], [TemperatureRead("1-point", 67, 240.0)])
    assert [(each.start_min, each.degc) for each in found][1] == (67, 240.0)
    assert [each.degc for each in found].count(None) == 3


def test_after_a_wait_the_later_temperature_counts() -> None:
    read = [TemperatureRead("1-point", 66, 290.0), TemperatureRead("1-point", 69, 258.0)]
    assert passes_of([LAYER], read)[1].degc == 258.0


@pytest.mark.parametrize(
    ("minute", "counts"), [(58.0, True), (57.9, False), (79.9, True), (80, False)]
)
def test_a_temperature_counts_from_two_minutes_before_its_layer_to_its_end(
    minute: float, counts: bool
) -> None:
    found = passes_of([LAYER], [TemperatureRead("1-point", minute, 100.0)])
    assert any(each.degc == 100.0 for each in found) is counts


def test_no_bead_begins_before_the_last_was_laid() -> None:
    late = [TemperatureRead("1-point", 64.9, 200.0)]
    found = passes_of([LAYER], late)
    assert found[1].start_min == pytest.approx(65.9)


def test_a_temperature_of_another_zone_is_not_this_ones() -> None:
    assert all(p.degc is None for p in passes_of([LAYER], [TemperatureRead("2-tread", 66, 99)]))


def test_a_temperature_just_before_the_next_layer_is_that_layers_alone() -> None:
    after = LayerWorked("1-point", 2, beads=4, bead_arc_min=1.0, start_min=80, end_min=100)
    found = passes_of([LAYER, after], [TemperatureRead("1-point", 79.5, 250.0)])
    assert [(p.layer, p.bead) for p in found if p.degc is not None] == [(2, 1)]
