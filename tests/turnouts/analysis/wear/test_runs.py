"""Where a run of readings begins and ends."""

import pytest

from turnouts.analysis.wear.runs import Reading, Run, runs_of, table_of


def test_a_reading_at_the_tonnage_of_a_repair_was_taken_after_it() -> None:
    before, at = Reading(9.999, 8.0), Reading(10.0, 0.2)
    first, second = runs_of("F1", [at, before], [0.0, 10.0])
    assert first.readings == (before,)
    assert second == Run("F1", 10.0, (at,))


def test_the_present_run_is_kept_although_nothing_was_read_since_the_repair() -> None:
    assert runs_of("F1", [Reading(3, 1.0)], [0.0, 5.0])[-1] == Run("F1", 5.0, ())


def test_a_reading_before_the_part_was_put_in_is_refused() -> None:
    with pytest.raises(ValueError, match="before the part was put in"):
        runs_of("F1", [Reading(1.0, 1.0)], [2.0])


def test_without_any_reset_there_is_no_run() -> None:
    with pytest.raises(ValueError, match="at least"):
        runs_of("F1", [Reading(1.0, 1.0)], [])


def test_a_table_counts_tonnage_from_the_reset_and_marks_the_places_used() -> None:
    runs = [
        Run("A", 10.0, (Reading(12.0, 1.0), Reading(15.0, 2.0))),
        Run("B", 0.0, (Reading(1.0, 3.0),)),
    ]
    table = table_of(runs)
    assert table.since_mgt.tolist() == [[2.0, 5.0], [1.0, 0.0]]
    assert table.used.tolist() == [[True, True], [True, False]]
