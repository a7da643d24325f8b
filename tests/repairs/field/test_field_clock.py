"""The clock of a job under way: what is left, the chance, the last moments, what still can."""

from dataclasses import replace
from datetime import timedelta

import pytest

from repairs.field.clock import clock, left_stages
from repairs.field.events import TrackState
from repairs.field.reduce import state_of
from repairs.field.sheet import FieldSheet
from tests.repairs.field.sheets import GUARD, POINT, START, Taps, sheet

MINUTE = timedelta(minutes=1)


@pytest.fixture(scope="module")
def night() -> FieldSheet:
    return sheet()


def at(minute: float):  # type: ignore[no-untyped-def]
    return START + minute * MINUTE


def p(sheet: FieldSheet, stage: int, probability: float) -> float:
    return sheet.stages[stage].remaining[sheet.probabilities.index(probability)]


def test_before_work_the_clock_says_what_the_sheet_says(night: FieldSheet) -> None:
    told = clock(night, state_of(night, []), at(-120))
    assert told.expected_end == at(p(night, 0, 0.5))
    assert told.shift_min == 0
    for stage, row in zip(told.stages, night.stages, strict=True):
        left = row.remaining[night.probabilities.index(0.95)]
        assert stage.last_start_at == night.hand_back_at - left * MINUTE


def test_a_late_start_shifts_every_later_time_at_once(night: FieldSheet) -> None:
    before = clock(night, state_of(night, []), at(0))
    taps = Taps()
    taps("started", 25)
    taps("stage_started", 25, stage=night.stages[0].key)
    after = clock(night, state_of(night, taps.events), at(25))
    assert after.shift_min == 25
    for early, late in zip(before.stages[1:], after.stages[1:], strict=True):
        assert early.begins_at is not None
        assert late.begins_at is not None
        assert late.begins_at - early.begins_at == pytest.approx(25 * MINUTE, abs=MINUTE)
        assert late.last_start_at == early.last_start_at


def test_the_chance_falls_as_time_passes_and_rises_as_stages_end(night: FieldSheet) -> None:
    short = replace(night, hand_back_at=at(p(night, 0, 0.8)))
    taps = Taps()
    taps("started", 0)
    state = state_of(short, taps.events)
    now = [clock(short, state, at(minute)).chance for minute in (0, 10, 20, 40)]
    assert now[0] == pytest.approx(0.8, abs=0.01)
    assert now == sorted(now, reverse=True)
    taps.stage(short.stages[0].key, 0, 1)
    assert clock(short, state_of(short, taps.events), at(1)).chance > now[0]


def test_a_stage_under_way_never_takes_less_than_no_time(night: FieldSheet) -> None:
    taps = Taps()
    taps("stage_started", 0, stage=night.stages[0].key)
    told = clock(night, state_of(night, taps.events), at(600))
    assert told.expected_end >= at(600 + p(night, 1, 0.5)) - MINUTE


def test_what_is_left_of_stages_that_end_the_job_is_the_row_of_the_first(
    night: FieldSheet,
) -> None:
    taps = Taps()
    taps.begun(night)
    state = state_of(night, taps.events)
    assert left_stages(night, state) == night.stages[3:]
    assert clock(night, state, at(10)).expected_end == at(10 + p(night, 3, 0.5))


def test_under_the_set_chance_it_says_which_zone_can_still_be_finished(night: FieldSheet) -> None:
    taps = Taps()
    taps.begun(night)
    end = taps.zone(night, GUARD, 10)
    tight = replace(night, hand_back_at=at(end + 95))
    told = clock(tight, state_of(tight, taps.events), at(end))
    assert told.under
    assert [way.zones for way in told.ways] == [(POINT,), ()]
    assert told.ways[1].state is TrackState.CLOSED
    assert told.ways[1].chance >= tight.set_chance > told.ways[0].chance
    assert "Begin no further zone" in told.advice
    assert told.advice.endswith("Tell the supervisor.")


def test_with_a_cavity_open_it_never_says_to_hand_back(night: FieldSheet) -> None:
    taps = Taps()
    taps.begun(night)
    taps("stage_started", 10, stage=f"{GUARD}.gouging")
    tight = replace(night, hand_back_at=at(30))
    told = clock(tight, state_of(tight, taps.events), at(20))
    assert all(GUARD in way.zones for way in told.ways)
    assert all("Close the cavity first" in way.sentence for way in told.ways[1:])
    assert "never hand back with an open cavity" in told.advice


def test_before_the_first_cut_the_track_can_go_back_as_found(night: FieldSheet) -> None:
    taps = Taps()
    taps.begun(night)
    tight = replace(night, hand_back_at=at(45))
    told = clock(tight, state_of(tight, taps.events), at(10))
    assert told.ways[-1].state is TrackState.AS_FOUND
    assert "hand the track back as it was found" in told.advice


def test_of_ways_that_are_all_hopeless_the_one_that_cuts_least_is_named(night: FieldSheet) -> None:
    taps = Taps()
    taps.begun(night)
    tight = replace(night, hand_back_at=at(11))
    told = clock(tight, state_of(tight, taps.events), at(10))
    assert {way.chance for way in told.ways} == {0.0}
    assert "the best is: Cut nothing" in told.advice


def test_a_chance_in_words_is_never_rounded_up_to_the_level_it_missed(night: FieldSheet) -> None:
    taps = Taps()
    taps.begun(night)
    moment = state_of(night, taps.events)
    chance = clock(night, moment, at(10)).chance
    told = clock(replace(night, set_chance=chance + 0.001), moment, at(10))
    assert told.under
    assert f"is {int(chance * 100)} %, under the" in told.advice


def test_a_stage_whose_last_moment_is_over_is_marked(night: FieldSheet) -> None:
    taps = Taps()
    taps.begun(night)
    gouging = next(s for s in night.stages if s.kind == "gouging")
    last = night.hand_back_at - MINUTE * gouging.remaining[night.probabilities.index(0.95)]
    state = state_of(night, taps.events)
    for late, now in ((False, last), (True, last + timedelta(seconds=1))):
        told = clock(night, state, now)
        assert told.stages[0].key == gouging.key
        assert told.stages[0].too_late is late


def test_after_hand_back_the_clock_stands(night: FieldSheet) -> None:
    taps = Taps()
    end = taps.whole(night)
    told = clock(night, state_of(night, taps.events), at(end + 500))
    assert (told.under, told.advice, told.stages) == (False, "", ())
