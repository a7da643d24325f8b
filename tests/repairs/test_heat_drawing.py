"""The cooling curve and the order of beads as pictures: what is drawn is what the forecast says."""

from itertools import pairwise
from typing import Any

import pytest

from repairs.bead_drawing import bead_drawing
from repairs.heat_drawing import FLOOR, LEFT, TOP, WIDTH, heat_drawing


def heat(*waits: float, limit: float = 260) -> dict[str, Any]:
    """Beads ten minutes apart, the first at minute 60, each after its wait."""
    return {
        "limit_degc": limit,
        "place_mm": 25.0,
        "air_degc": 15.0,
        "begin_min": 60.0,
        "end_min": 120.0,
        "wait_min": sum(waits),
        "beads": [
            {"layer": 1, "bead": n + 1, "start_min": 70.0 + 10 * n, "start_degc": 200.0,
             "wait_min": wait}
            for n, wait in enumerate(waits)
        ],
        "curves": [{"zone": "1-point", "minutes": [60, 90, 120], "degc": [15, 300, 100]}],
    }  # fmt: skip


def test_the_limit_lies_where_the_curve_would_cross_it() -> None:
    drawn = heat_drawing(heat(0.0), "degC")
    curve = [tuple(map(float, point.split(","))) for point in drawn.curves[0].split()]
    lowest, highest = curve[0][1], curve[1][1]
    share = (drawn.limit_y - lowest) / (highest - lowest)
    assert share == pytest.approx((260 - 15) / (300 - 15), abs=0.002)


def test_a_wait_is_a_band_that_ends_where_its_bead_starts() -> None:
    drawn = heat_drawing(heat(0.0, 6.0), "degC")
    (wait,) = drawn.waits
    assert wait.x + wait.width == pytest.approx(drawn.beads[1][0], abs=0.2)
    assert wait.words == "layer 1, bead 2 waits 6 min"


def test_everything_lies_within_the_picture() -> None:
    drawn = heat_drawing(heat(0.0, 6.0, limit=400), "degF")
    points = [tuple(map(float, p.split(","))) for p in drawn.curves[0].split()] + drawn.beads
    assert all(LEFT <= x <= WIDTH and TOP <= y <= FLOOR for x, y in points)
    assert TOP <= drawn.limit_y <= FLOOR


@pytest.mark.parametrize(("unit", "words"), [("degF", "500 °F"), ("degC", "260 °C")])
def test_the_limit_is_said_in_the_readers_unit(unit: str, words: str) -> None:
    # 260 degC is 500 degF exactly.
    assert heat_drawing(heat(0.0), unit).limit_words == f"limit {words}"


def test_the_sentence_counts_waits_and_names_the_longest() -> None:
    said = heat_drawing(heat(0.0, 6.0, 2.0), "degC").sentence
    assert said.startswith("2 of 3 beads wait, 8 min in all")
    assert said.endswith("the longest wait is 6 min, before bead 2 of layer 1.")
    assert heat_drawing(heat(0.0), "degC").sentence.startswith("None of the 1 beads has to wait")


def zone(*beads: int) -> dict[str, Any]:
    ways = ("toe to heel", "heel to toe")
    return {
        "zone": "point",
        "beads": sum(beads),
        "top_width_mm": 60.0,
        "floor_width_mm": 40.0,
        "layers": [
            {"number": n, "beads": count, "first_direction": ways[(n - 1) % 2]}
            for n, count in enumerate(beads, start=1)
        ],
    }


def test_every_bead_is_drawn_once_and_each_runs_against_the_one_before() -> None:
    beads = bead_drawing(zone(3, 4, 4)).beads
    assert len(beads) == 11
    for layer in (beads[:3], beads[3:7], beads[7:]):
        assert all(a.back != b.back for a, b in pairwise(layer))


def test_layers_rise_from_the_floor_and_the_last_stands_over_the_surface() -> None:
    drawn = bead_drawing(zone(3, 4, 4))
    assert [bead.y for bead in drawn.beads] == sorted((b.y for b in drawn.beads), reverse=True)
    assert {bead.top for bead in drawn.beads[-4:]} == {True}
    assert {bead.top for bead in drawn.beads[:-4]} == {False}
