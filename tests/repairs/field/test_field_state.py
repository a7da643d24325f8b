"""What follows from the events of a sheet: stages, hold points, proof, track, deviations."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from repairs.field.events import Event, TrackState
from repairs.field.reduce import state_of
from repairs.field.sheet import FieldSheet, sheet_facts
from repairs.field.state import About, FieldState, Phase, Proof, StageIs
from tests.repairs.field.sheets import (
    CHECK_GAGE_MM,
    GUARD,
    POINT,
    START,
    Taps,
    content,
    sheet,
)


@pytest.fixture(scope="module")
def night() -> FieldSheet:
    return sheet()


@pytest.fixture
def taps() -> Taps:
    return Taps()


def said(state: FieldState, about: About) -> list[str]:
    return [one.sentence for one in state.deviations if one.about is about]


def test_nothing_recorded_is_a_track_as_found(night: FieldSheet) -> None:
    state = state_of(night, [])
    assert (state.phase, state.track) == (Phase.WAITING, TrackState.AS_FOUND)
    assert state.proof is Proof.OPEN
    assert state.deviations == state.conflicts == ()


def test_a_night_without_a_fault_ends_restored_without_a_word(
    night: FieldSheet, taps: Taps
) -> None:
    taps.whole(night)
    state = state_of(night, taps.events)
    assert (state.phase, state.track) == (Phase.HANDED_BACK, TrackState.RESTORED)
    assert state.proved
    assert state.finished_zones == (GUARD, POINT)
    assert state.deviations == state.conflicts == ()


def two_phones(night: FieldSheet) -> list[Event]:
    """A night with two phones, a correction, a failed reading, and an entry after hand back."""
    a, b = Taps("a", "Ada"), Taps("b", "Bo")
    a.whole(night)
    b("started", 1)
    b.stage(f"{GUARD}.gouging", 9, 14)
    low = b("measurement", 200, quantity="guard_check_gage", value_mm="1380")
    b("indication", 100, zone=POINT, shape="linear", length_mm="3", width_mm="0.2")
    b("material_used", 300, key="carbons", quantity="3")
    a("material_used", 300, key="carbons", quantity="3")
    b(
        "correction",
        301,
        of=low,
        data={"quantity": "guard_check_gage", "value_mm": "1385"},
        reason="slip",
    )
    b("correction", 302, of=a.events[0].id, data=None, reason="twice")
    b("handed_back", 290, state="closed", qualified_person="Bo Ek", speed_kmh="40")
    return a.events + b.events


@given(st.data())
@settings(max_examples=40)
def test_the_state_is_the_same_whatever_the_order_the_batches_and_the_repeats(
    data: st.DataObject,
) -> None:
    night = sheet()
    events = two_phones(night)
    wanted = state_of(night, events)
    shuffled = data.draw(st.permutations(events))
    again = data.draw(st.lists(st.sampled_from(events), max_size=20))
    assert state_of(night, [*again, *shuffled]) == wanted
    # In batches, each seen with what arrived before: only the set counts at the end.
    cut = data.draw(st.integers(0, len(events)))
    kept = {event.id: event for event in shuffled[:cut]} | {e.id: e for e in shuffled[cut:]}
    assert state_of(night, kept.values()) == wanted


def test_the_first_start_and_the_last_end_of_two_phones_count(night: FieldSheet) -> None:
    a, b = Taps("a", "Ada"), Taps("b", "Bo")
    key = f"{GUARD}.gouging"
    a.stage(key, 10, 30)
    b("stage_started", 12, stage=key)
    b("stage_ended", 33, stage=key)
    stage = state_of(night, a.events + b.events).stage(key)
    assert (stage.started_at, stage.started_by) == (START + timedelta(minutes=10), "Ada")
    assert (stage.ended_at, stage.ended_by) == (START + timedelta(minutes=33), "Bo")
    assert stage.took_min == 23
    assert (stage.state, stage.repeated) == (StageIs.DONE, False)


def test_an_interrupted_stage_goes_on_and_its_pause_is_not_work(
    night: FieldSheet, taps: Taps
) -> None:
    key = f"{GUARD}.gouging"
    taps("stage_started", 10, stage=key)
    taps("stage_ended", 15, stage=key, interrupted=True)
    assert state_of(night, taps.events).stage(key).state is StageIs.INTERRUPTED
    taps.stage(key, 40, 50)
    stage = state_of(night, taps.events).stage(key)
    assert (stage.state, stage.took_min, stage.interrupted) == (StageIs.DONE, 15, True)


def test_the_track_is_open_from_the_first_cut_until_the_zone_is_ground(
    night: FieldSheet, taps: Taps
) -> None:
    taps.begun(night)
    assert state_of(night, taps.events).track is TrackState.AS_FOUND
    taps("stage_started", 10, stage=f"{GUARD}.gouging")
    assert state_of(night, taps.events).track is TrackState.OPEN
    taps("stage_ended", 15, stage=f"{GUARD}.gouging")
    assert state_of(night, taps.events).track is TrackState.OPEN
    taps.stage(f"{GUARD}.rough_grinding", 60, 70)
    assert state_of(night, taps.events).track is TrackState.CLOSED


@pytest.mark.parametrize(("carbon_at", "broken"), [(19.9, False), (20, False), (20.1, True)])
def test_the_first_bead_waits_for_the_carbon_to_be_gone(
    night: FieldSheet, taps: Taps, carbon_at: float, broken: bool
) -> None:
    taps.begun(night)
    taps("carbon_removed", carbon_at, zone=GUARD)
    taps.stage(f"{GUARD}.layer-01", 20, 25)
    found = said(state_of(night, taps.events), About.HOLD_POINT)
    assert bool(found) is broken
    if broken:
        assert found[0].startswith("Layer 1 of ")
        assert "began before it was recorded: cavity bright" in found[0]


def test_the_point_waits_for_the_guarding_face(night: FieldSheet, taps: Taps) -> None:
    # 49 CFR 213.141(b): the raised guarding face is restored before the actual point.
    taps.begun(night)
    assert state_of(night, taps.events).next_zones == (GUARD,)
    taps("stage_started", 12, stage=f"{POINT}.gouging")
    found = said(state_of(night, taps.events), About.HOLD_POINT)
    assert found == [
        "Gouging: point began, and it was never recorded: guarding face restored, before the "
        "point (49 CFR 213.141(b))."
    ]
    taps("guard_face_restored", 11, zone=GUARD)
    assert said(state_of(night, taps.events), About.HOLD_POINT) == []


def test_a_rail_bound_frog_has_no_such_order() -> None:
    other = sheet(component={"design": "rail_bound_manganese"})
    assert state_of(other, []).next_zones == (GUARD, POINT)


@pytest.mark.parametrize(("degc", "above"), [("260", False), ("260.1", True)])
def test_a_bead_may_begin_at_the_limit_and_not_above(
    night: FieldSheet, taps: Taps, degc: str, above: bool
) -> None:
    limit = night.interpass_degc
    assert limit == Decimal("260")
    taps("pass_temperature", 30, zone=GUARD, degc=degc, place_mm="25")
    taps("stage_started", 30, stage=f"{GUARD}.layer-02")
    state = state_of(night, taps.events)
    assert state.pass_temperatures[0].above is above
    assert bool(said(state, About.TEMPERATURE)) is above


def test_a_wait_is_from_the_reading_above_to_the_next_one_not_above(
    night: FieldSheet, taps: Taps
) -> None:
    key = f"{GUARD}.layer-02"
    taps("stage_started", 30, stage=key)
    for minute, degc in ((31, "300"), (33, "280"), (36, "250"), (40, "270"), (42, "260")):
        taps("pass_temperature", minute, zone=GUARD, degc=degc, place_mm="25")
    taps("stage_ended", 50, stage=key)
    assert state_of(night, taps.events).stage(key).waited_min == 7


def steps(taps: Taps, wiped: float, read: float, degc: str | None) -> None:
    data = {} if degc is None else {"surface_degc": degc}
    taps("penetrant", 100, step="applied", **data)
    taps("penetrant", 100 + wiped, step="wiped")
    taps("penetrant", 101 + wiped, step="developed")
    taps("penetrant", 101 + wiped + read, step="read")
    taps("penetrant_clean", 101 + wiped + read)


@pytest.mark.parametrize(
    ("wiped", "read", "degc", "proof"),
    [
        # 10 min dwell and 12 developing by the procedure; twice the dwell below 10 degC, and no
        # test below 5 or above 52 degC (ASME V Table T-672 note 1).
        (10, 12, "10", Proof.CLEAN),
        (9.9, 12, "10", Proof.DOUBTFUL),
        (10, 11.9, "10", Proof.DOUBTFUL),
        (20, 12, "9.9", Proof.CLEAN),
        (19.9, 12, "9.9", Proof.DOUBTFUL),
        (20, 12, "5", Proof.CLEAN),
        (20, 12, "4.9", Proof.DOUBTFUL),
        (10, 12, "52", Proof.CLEAN),
        (10, 12, "52.1", Proof.DOUBTFUL),
        (10, 60, "20", Proof.CLEAN),
        (10, 60.1, "20", Proof.DOUBTFUL),
        # Nobody measured: the longer dwell counts.
        (20, 12, None, Proof.CLEAN),
        (19.9, 12, None, Proof.DOUBTFUL),
    ],
)
def test_dwell_and_developing_are_as_long_as_the_steels_temperature_asks(
    night: FieldSheet, taps: Taps, wiped: float, read: float, degc: str | None, proof: Proof
) -> None:
    steps(taps, wiped, read, degc)
    assert state_of(night, taps.events).proof is proof


def test_the_next_step_of_the_test_says_when_it_may_be(night: FieldSheet, taps: Taps) -> None:
    taps("penetrant", 100, step="applied", surface_degc="8")
    test = state_of(night, taps.events).penetrant[-1]
    assert test.next_step is not None
    assert test.next_step.value == "wiped"
    assert test.next_from == START + timedelta(minutes=120)


def test_an_indication_fails_the_proof_until_the_metal_was_ground_and_tested_again(
    night: FieldSheet, taps: Taps
) -> None:
    steps(taps, 10, 12, "20")
    taps("indication", 124, zone=POINT, shape="linear", length_mm="1")
    failed = state_of(night, taps.events)
    assert failed.proof is Proof.FAILED
    assert not failed.proved
    taps.stage(f"{POINT}.profile_grinding", 130, 140)
    assert state_of(night, taps.events).proof is Proof.OPEN
    taps("penetrant", 150, step="applied", surface_degc="20")
    taps("penetrant", 160, step="wiped")
    taps("penetrant", 161, step="developed")
    taps("penetrant", 173, step="read")
    taps("penetrant_clean", 173)
    state = state_of(night, taps.events)
    assert state.proof is Proof.CLEAN
    assert [one.current for one in state.indications] == [False]
    assert state.stage(f"{POINT}.profile_grinding").repeated is False


@pytest.mark.parametrize(
    ("value", "within"),
    [(CHECK_GAGE_MM, True), ("1381.1249999", False), ("1381.1250001", True)],
)
def test_a_final_reading_is_judged_exactly_at_its_limit(
    night: FieldSheet, taps: Taps, value: str, within: bool
) -> None:
    taps.whole(night, guard_check_gage=value)
    state = state_of(night, taps.events)
    reading = next(m for m in state.measurements if m.quantity.value == "guard_check_gage")
    assert reading.within is within
    assert state.within_limits is within
    assert (state.track is TrackState.RESTORED) is within
    assert bool(state.failed) is not within


def test_of_two_readings_the_worse_governs_until_it_is_corrected(night: FieldSheet) -> None:
    a, b = Taps("a"), Taps("b")
    end = a.whole(night)
    low = b("measurement", end - 8, quantity="guard_check_gage", value_mm="1380")
    state = state_of(night, a.events + b.events)
    assert not state.within_limits
    assert any("the worse, 1380 mm, governs" in one.sentence for one in state.conflicts)
    b(
        "correction",
        end - 1,
        of=low,
        data={"quantity": "guard_check_gage", "value_mm": "1390"},
        reason="read the wrong line",
    )
    put_right = state_of(night, a.events + b.events)
    assert put_right.within_limits
    assert put_right.corrections[0].was == "Measurement: quantity guard_check_gage, value mm 1380"
    assert put_right.corrections[0].now == "quantity guard_check_gage, value mm 1390"


def test_a_reading_before_the_work_is_not_a_final_one(night: FieldSheet, taps: Taps) -> None:
    taps("measurement", 7, quantity="guard_check_gage", value_mm="1370")
    end = taps.whole(night)
    state = state_of(night, taps.events)
    assert state.within_limits
    first = next(m for m in state.measurements if m.value_mm == 1370)
    assert (first.final, first.governs) == (False, False)
    assert end > 0


def test_handing_back_late_open_unproved_or_unmeasured_is_said(
    night: FieldSheet, taps: Taps
) -> None:
    taps.begun(night)
    taps("stage_started", 20, stage=f"{GUARD}.gouging")
    taps("handed_back", 12 * 60 + 5, state="closed", qualified_person="Bo Ek")
    taps("stage_ended", 12 * 60 + 9, stage=f"{GUARD}.gouging")
    state = state_of(night, taps.events)
    assert said(state, About.TIME) == ["The track was handed back 5 min late."]
    assert said(state, About.TRACK) == [
        "The track was handed back with a cavity open or a weld unfinished."
    ]
    assert said(state, About.LIMIT)[0].startswith("Not measured before hand back: ")
    assert "The track was handed back before the penetrant was read." in said(
        state, About.PENETRANT
    )
    assert any("timed after the track was handed back" in s for s in said(state, About.ENTRY))


def test_a_correction_that_came_before_what_it_corrects_waits_for_it(night: FieldSheet) -> None:
    a, b = Taps("a"), Taps("b")
    wrong = a("note", 10, text="Rian")
    b("correction", 20, of=wrong, data={"text": "Rain"}, reason="slip")
    alone = state_of(night, b.events)
    assert alone.conflicts[0].sentence.startswith("A correction names an entry that has not")
    both = state_of(night, a.events + b.events)
    assert (both.notes, both.conflicts) == (("Ada: Rain",), ())


def test_a_correction_can_put_a_time_right_or_strike_an_entry_out(
    night: FieldSheet, taps: Taps
) -> None:
    key = f"{GUARD}.gouging"
    begin = taps("stage_started", 10, stage=key)
    taps("stage_ended", 30, stage=key)
    at = (START + timedelta(minutes=20)).isoformat()
    taps("correction", 31, of=begin, data={"stage": key}, at=at, reason="tapped late")
    assert state_of(night, taps.events).stage(key).took_min == 10
    taps("correction", 32, of=begin, data=None, reason="other zone")
    stage = state_of(night, taps.events).stage(key)
    assert (stage.started_at, stage.took_min) == (None, None)


def test_a_clock_that_was_far_off_is_said_and_one_nearly_right_is_not(night: FieldSheet) -> None:
    taps = Taps("phone-of-bo")
    taps("note", 1, text="x")
    for off_s, many in ((120.0, 0), (-121.0, 1)):
        events = [replace(event, clock_off_s=off_s) for event in taps.events]
        assert len(said(state_of(night, events), About.CLOCK)) == many


def test_work_that_nobody_qualified_had_started_is_said(night: FieldSheet, taps: Taps) -> None:
    taps("briefing", 0, points=[1])
    taps.stage("briefing", 0, 5)
    assert "somebody qualified had started" in said(state_of(night, taps.events), About.ORDER)[0]


@pytest.mark.parametrize("points", [[], [1], "all but the last", "all"])
def test_points_that_the_briefing_left_out_are_said(night: FieldSheet, points: Any) -> None:
    every = list(range(1, night.briefing_points + 1))
    gone = {"all": every, "all but the last": every[:-1]}.get(str(points), points)
    taps = Taps()
    taps("briefing", 0, points=gone)
    found = said(state_of(night, taps.events), About.HOLD_POINT)
    left = [str(n) for n in every if n not in gone]
    word = "point" if len(left) == 1 else "points"
    wanted = f"without {word} {', '.join(left)} of {len(every)}."
    assert found == ([f"The briefing is recorded {wanted}"] if left else [])


def test_a_sheet_issued_before_the_way_in_was_a_stage_is_worked_as_it_was(
    night: FieldSheet,
) -> None:
    old = content()
    old["stages"] = [row for row in old["stages"] if row["key"] != "travel_in"]
    facts = sheet_facts("S-OLD", old)
    assert len(facts.stages) == len(night.stages) - 1
    taps = Taps()
    taps.whole(facts)
    state = state_of(facts, taps.events)
    assert state.track is TrackState.RESTORED
    assert said(state, About.ENTRY) == []


def test_the_way_in_waits_for_the_briefing_and_leaves_the_track_as_found(
    night: FieldSheet, taps: Taps
) -> None:
    taps("started", 0)
    taps.stage("travel_in", 1, 5)
    state = state_of(night, taps.events)
    assert state.track is TrackState.AS_FOUND
    assert "Travel in to the frog began" in said(state, About.HOLD_POINT)[0]


def test_a_sheet_issued_before_the_new_figures_still_opens() -> None:
    old = content()
    for name in ("probabilities", "set_chance"):
        del old[name]
    for name in ("lowest_degc", "read_before_min", "accept_level"):
        del old["penetrant"][name]
    for row in old["stages"]:
        for name in ("fixed_min", "work_min", "sigma", "wait_min", "rows_work_min", "remaining"):
            del row[name]
    for row in old["acceptance"]:
        del row["quantity"], row["compare"]
    facts = sheet_facts("S-OLD", old)
    assert facts.probabilities == (0.5, 0.95)
    taps = Taps()
    taps.whole(facts)
    state = state_of(facts, taps.events)
    assert state.track is TrackState.RESTORED
    assert {m.within for m in state.measurements} == {None}
