"""The cavity's volume against solid geometry, and the refusals of sizes nobody can weld."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from repairs.welding.cavity import Cavity, cavity_for, prismatoid_volume
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import CavityRefusal
from repairs.welding.work import ZoneWork
from turnouts.analysis.terms import Zone

lengths = st.floats(10, 600)
widths = st.floats(5, 120)
depths = st.floats(1, 40)


def test_a_pyramids_volume_is_a_third_of_base_times_height() -> None:
    # Euclid XII.7: base 60 x 60, height 90.
    assert prismatoid_volume(3600, 900, 0, 90) == pytest.approx(60 * 60 * 90 / 3)


def test_a_square_cavity_is_a_box() -> None:
    box = Cavity(100, 30, 12, 0, side_slope=0, run_out=0, closed_sides=2)
    assert box.volume_mm3 == pytest.approx(100 * 30 * 12)
    assert box.surface_mm2 == pytest.approx(100 * 30 + 2 * 100 * 12 + 2 * 30 * 12)


def test_the_one_inch_test_plate_holds_a_v_of_twice_its_depth() -> None:
    # A one-inch plate, sides at 45 degrees on a backing strip, 1/4 in root gap: the section is the
    # gap's rectangle and two right triangles of one inch, (0.25 + 1) in2 (plane geometry).
    inch = 25.4
    groove = Cavity(12 * inch, 0.25 * inch, inch, 0, side_slope=1, run_out=0, closed_sides=2)
    assert groove.volume_mm3 == pytest.approx(1.25 * 12 * inch**3)


@given(lengths, widths, depths, st.floats(0, 3), st.floats(0, 5), st.integers(0, 2))
def test_the_closed_form_agrees_with_summing_thin_slices(
    length: float, width: float, depth: float, slope: float, run_out: float, closed: int
) -> None:
    cavity = Cavity(length, width, depth, 0, slope, run_out, closed)
    edges = np.linspace(0, depth, 2001)
    middles = (edges[:-1] + edges[1:]) / 2
    sliced = sum(cavity.area_at(float(z)) for z in middles) * depth / 2000
    assert cavity.volume_mm3 == pytest.approx(sliced, rel=1e-6)


@given(lengths, widths, depths, st.floats(0, 3), st.integers(0, 2))
def test_section_and_ground_surface_agree_with_a_library_of_plane_geometry(
    length: float, width: float, depth: float, slope: float, closed: int
) -> None:
    # Reference: area and outline of the cross-section as shapely reckons them. Without run-out the
    # cavity is that section drawn out along the rail, open at the top and on its open sides.
    cavity = Cavity(length, width, depth, 0, slope, run_out=0, closed_sides=closed)
    left, right = (slope * depth * (closed > side) for side in (0, 1))
    section = Polygon([(0, 0), (width, 0), (width + right, depth), (-left, depth)])
    assert cavity.volume_mm3 == pytest.approx(section.area * length, rel=1e-9)
    walls = section.length - width - (width + left + right)
    open_walls = (2 - closed) * depth
    ground = (width + walls - open_walls) * length + 2 * section.area
    assert cavity.surface_mm2 == pytest.approx(ground, rel=1e-9)


@given(lengths, widths, depths, st.floats(0.05, 0.95))
def test_two_parts_of_a_cavity_hold_what_the_whole_holds(
    length: float, width: float, depth: float, cut: float
) -> None:
    cavity = Cavity(length, width, depth, 0, 1, 3, 1)
    top = depth + 3
    parts = cavity.volume_between(0, cut * top) + cavity.volume_between(cut * top, top)
    assert parts == pytest.approx(cavity.volume_between(0, top), rel=1e-12)


def test_a_shallow_flaw_is_still_gouged_through_the_hardened_skin(wire: Procedure) -> None:
    # At least a quarter inch of work-hardened skin (Railway Gazette, 17 July 1942, abstract).
    cavity = cavity_for(ZoneWork(Zone.TREAD, 100, 30, 2), wire.settings, closed_sides=1)
    assert cavity.depth_mm == 6.35


def test_wear_leaves_the_skin_below_the_worn_surface_to_gouge(wire: Procedure) -> None:
    cavity = cavity_for(ZoneWork(Zone.TREAD, 100, 30, 9, 9), wire.settings, closed_sides=1)
    assert cavity.depth_mm == pytest.approx(9 + 6.35)
    assert cavity.gouged_mm3 == pytest.approx(cavity.volume_between(0, 6.35))


@pytest.mark.parametrize("size", [0.0, -1.0, float("nan"), float("inf")])
@pytest.mark.parametrize("side", ["length_mm", "width_mm", "depth_mm"])
def test_a_size_that_is_no_positive_number_is_refused(
    wire: Procedure, side: str, size: float
) -> None:
    zone = replace(ZoneWork(Zone.TREAD, 100, 30, 9), **{side: size})  # type: ignore[arg-type]
    with pytest.raises(CavityRefusal, match=r"Tread: the \w+ is .* measure it"):
        cavity_for(zone, wire.settings, closed_sides=1)


def test_more_metal_missing_than_there_is_depth_is_refused(wire: Procedure) -> None:
    with pytest.raises(CavityRefusal, match="10 mm of metal missing"):
        cavity_for(ZoneWork(Zone.TREAD, 100, 30, 9, 10), wire.settings, closed_sides=1)


def test_the_deepest_cavity_allowed_is_welded_and_a_hair_more_is_not(wire: Procedure) -> None:
    most = wire.settings.depth_max_mm - wire.settings.beyond_mm
    at_limit = cavity_for(ZoneWork(Zone.POINT, 100, 30, most), wire.settings, closed_sides=0)
    assert at_limit.depth_mm == wire.settings.depth_max_mm
    with pytest.raises(CavityRefusal, match="replace the part or ask the engineer"):
        cavity_for(ZoneWork(Zone.POINT, 100, 30, most + 0.01), wire.settings, closed_sides=0)
