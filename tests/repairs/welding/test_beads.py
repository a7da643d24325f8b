"""Beads fill the cavity exactly, in layers, turning round each time."""

from dataclasses import replace
from itertools import pairwise
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from repairs.welding.beads import BeadPlan, bead_area_mm2, plan_beads
from repairs.welding.cavity import Cavity
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import OutsideValidity

DENSITY = 7870.0
cavities = st.builds(
    Cavity,
    st.floats(20, 800),
    st.floats(8, 120),
    st.floats(6.35, 50),
    st.just(0.0),
    st.just(1.0),
    st.just(3.0),
    st.integers(0, 2),
)


def planned(cavity: Cavity, procedure: Procedure) -> BeadPlan:
    return plan_beads(cavity, procedure.settings, DENSITY)


@given(cavity=cavities)
@settings(max_examples=60)
def test_the_deposit_is_exactly_cavity_plus_over_fill(wire: Procedure, cavity: Cavity) -> None:
    plan = planned(cavity, wire)
    top_mm2 = cavity.area_at(cavity.depth_mm)
    assert plan.over_fill_mm3 == pytest.approx(top_mm2 * wire.settings.over_fill_mm, rel=1e-12)
    assert plan.volume_mm3 == pytest.approx(cavity.volume_mm3 + plan.over_fill_mm3, rel=1e-12)
    assert plan.deposit_kg == pytest.approx(plan.volume_mm3 * DENSITY / 1e9, rel=1e-12)


@given(cavity=cavities)
@settings(max_examples=60)
def test_the_arc_burns_as_long_as_the_deposit_rate_says(wire: Procedure, cavity: Cavity) -> None:
    plan = planned(cavity, wire)
    rate = wire.settings.deposit_rate_kg_per_h / 60
    assert plan.arc_min == pytest.approx(plan.deposit_kg / rate, rel=1e-12)


@given(cavity=cavities)
@settings(max_examples=60)
def test_no_bead_is_heavier_than_the_arc_lays_and_no_bead_too_many(
    wire: Procedure, cavity: Cavity
) -> None:
    full_mm2 = bead_area_mm2(wire.settings, DENSITY)
    for layer in planned(cavity, wire).layers:
        needed = layer.volume_mm3 / (full_mm2 * layer.bead_length_mm)
        assert needed - 1e-6 <= layer.beads < needed + 1 + 1e-6


def test_layer_count_follows_depth_and_over_fill(wire: Procedure) -> None:
    cavity = Cavity(200, 30, 16.2, 0, 1, 3, 1)
    # 16.2 + 3 mm over-fill in layers of 3.2 mm is six; a tenth more needs a seventh.
    assert len(planned(cavity, wire).layers) == 6
    assert len(planned(replace(cavity, depth_mm=16.3), wire).layers) == 7


def test_a_thin_build_up_still_has_two_layers(rail_wire: Procedure) -> None:
    # Two or more layers (Railway Gazette, 17 July 1942, abstract).
    thin = replace(rail_wire.settings, over_fill_mm=0.5)
    assert len(plan_beads(Cavity(100, 20, 1.0, 0, 1, 3, 1), thin, DENSITY).layers) == 2


def test_the_top_pad_is_long_short_long(wire: Procedure) -> None:
    # Common practice in the trade, without a published source.
    layers = planned(Cavity(200, 30, 20, 0, 1, 3, 1), wire).layers
    assert [layer.kind for layer in layers[-3:]] == ["long", "short", "long"]
    assert {layer.kind for layer in layers[:-3]} == {"fill"}
    assert layers[-2].bead_length_mm < layers[-3].bead_length_mm < layers[-1].bead_length_mm


def test_each_bead_runs_against_the_one_before_it(wire: Procedure) -> None:
    # Common practice in the trade, without a published source.
    first, second, *_ = planned(Cavity(200, 30, 20, 0, 1, 3, 1), wire).layers
    ways = list(first.directions())
    assert len(ways) == first.beads
    assert all(way != following for way, following in pairwise(ways))
    assert next(first.directions()) != next(second.directions())


def test_bead_section_is_deposit_rate_over_travel(wire: Procedure) -> None:
    # 4.5 kg/h = 75 g/min at 7.87 g/cm3 is 9.53 cm3/min; over 400 mm/min it is 23.8 mm2.
    assert bead_area_mm2(wire.settings, DENSITY) == pytest.approx(23.83, abs=0.01)


def test_settings_that_lay_too_wide_a_bead_are_refused(wire: Procedure) -> None:
    slow = replace(wire.settings, travel_mm_per_min=150)
    with pytest.raises(OutsideValidity, match="travel faster"):
        plan_beads(Cavity(200, 30, 20, 0, 1, 3, 1), slow, DENSITY)


@given(st.floats(6.35, 45), st.floats(0, 5))
def test_a_deeper_cavity_never_takes_fewer_beads(
    wire: Procedure, depth: float, more: float
) -> None:
    shallow = planned(Cavity(200, 30, depth, 0, 1, 3, 1), wire)
    deep = planned(Cavity(200, 30, depth + more, 0, 1, 3, 1), wire)
    assert deep.deposit_kg >= shallow.deposit_kg
    assert deep.beads >= shallow.beads
    assert len(deep.layers) == ceil((depth + more + 3) / 3.2 - 1e-9)
