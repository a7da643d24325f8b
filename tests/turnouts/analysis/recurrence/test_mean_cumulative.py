"""The mean cumulative function on published and hand-worked histories."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.turnouts.analysis.recurrence.valve_seats import ENGINES
from turnouts.analysis.recurrence.histories import History
from turnouts.analysis.recurrence.mean_cumulative import mean_cumulative


def test_the_valve_seats_have_the_published_counts() -> None:
    found = mean_cumulative(ENGINES)
    # Nelson and Doganaksoy (1989): 41 engines, 48 replacements
    assert (found.components, found.events) == (41, 48)


@pytest.mark.parametrize(
    ("days", "mean", "error"),
    # first rows of the table in the SAS/QC User's Guide for these data, from memory: three decimals
    [(61, 0.024, 0.024), (76, 0.049, 0.034), (84, 0.073, 0.041), (87, 0.098, 0.047),
     (92, 0.122, 0.052), (98, 0.146, 0.056), (120, 0.171, 0.059), (139, 0.220, 0.074)],
)  # fmt: skip
def test_the_valve_seats_begin_as_published(days: int, mean: float, error: float) -> None:
    step = next(s for s in mean_cumulative(ENGINES).steps if s.mgt == days)
    assert step.mean == pytest.approx(mean, abs=0.0006)
    # Nelson's variance divides by n - 1 where Lawless and Nadeau's divides by n: 1.3 % here
    assert step.standard_error * (41 / 40) ** 0.5 == pytest.approx(error, abs=0.0006)


def test_three_histories_worked_by_hand() -> None:
    # at 2: 1 of 3; at 4: A and B, 2 of 3; at 6: A again, of A and C; C is then alone
    a, b = History("A", (2.0, 4.0, 6.0), 7.0), History("B", (4.0,), 5.0)
    c = History("C", (8.0,), 9.0)
    found = mean_cumulative([a, b, c])
    means = [1 / 3, 1, 1.5, 2.5]
    assert [s.mean for s in found.steps] == pytest.approx(means)
    assert [s.watched for s in found.steps] == [3, 3, 2, 1]
    # paths less the mean path: at 2 (2/9, -1/9, -1/9); at 4 adds (1/9, 1/9, -2/9)
    assert found.steps[0].standard_error == pytest.approx((6 / 81) ** 0.5)
    assert found.steps[1].standard_error == pytest.approx((1 / 9 + 0 + 1 / 9) ** 0.5)
    assert any("fewer than five" in said for said in found.limits_of_inference)


def test_an_event_where_watching_ends_counts_and_a_component_not_yet_watched_does_not() -> None:
    early, late = History("A", (5.0,), 5.0), History("B", (), 20.0, begins_mgt=5.0)
    step = mean_cumulative([early, late]).steps[0]
    assert (step.watched, step.mean) == (1, 1.0)


def test_it_is_level_between_events() -> None:
    found = mean_cumulative([History("A", (2.0,), 9.0), History("B", (4.0,), 9.0)])
    assert [found.at(x) for x in (1.9, 2.0, 3.9, 4.0, 100)] == [0.0, 0.5, 0.5, 1.0, 1.0]


def test_with_one_life_each_it_is_the_nelson_aalen_estimate_of_lifelines() -> None:
    from lifelines import NelsonAalenFitter

    rng = np.random.default_rng(4)
    lives, ends = rng.exponential(50, 60).round(), rng.uniform(20, 90, 60).round()
    lives = np.maximum(lives, 1)
    seen = lives <= ends
    histories = [
        History(str(n), (life,), life) if hit else History(str(n), (), end)
        for n, (life, end, hit) in enumerate(zip(lives, ends, seen, strict=True))
    ]
    theirs = NelsonAalenFitter(nelson_aalen_smoothing=False)
    theirs.fit(np.minimum(lives, ends), seen)
    found = mean_cumulative(histories)
    for step in found.steps:
        expected = theirs.cumulative_hazard_at_times(step.mgt).iloc[0]
        assert step.mean == pytest.approx(expected, rel=1e-9)


def test_the_limits_hold_the_truth_about_nineteen_times_in_twenty() -> None:
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(200):
        frailty = rng.gamma(2, 0.5, 40)
        histories = [
            History(str(n), tuple(np.sort(rng.uniform(0, 50, rng.poisson(2 * f)))), 50.0)
            for n, f in enumerate(frailty)
        ]
        last = mean_cumulative(histories).steps[-1]
        inside += last.low <= 2.0 <= last.high
    # robust limits with 40 components cover a little less than they say
    assert 0.88 <= inside / 200 <= 0.99


@given(st.lists(st.lists(st.floats(0.1, 99), max_size=5), min_size=1, max_size=8))
def test_where_all_are_watched_to_the_end_it_ends_at_events_over_components(
    rows: list[list[float]],
) -> None:
    histories = [History(str(n), tuple(row), 100.0) for n, row in enumerate(rows)]
    assert mean_cumulative(histories).at(100.0) == pytest.approx(
        sum(len(row) for row in rows) / len(rows)
    )


@pytest.mark.parametrize(
    ("begins", "events", "ends"), [(0.0, (10.1,), 10.0), (5.0, (5.0,), 10.0), (3.0, (), 3.0)]
)
def test_events_outside_their_history_are_refused(
    begins: float, events: tuple[float, ...], ends: float
) -> None:
    with pytest.raises(ValueError, match="history"):
        History("A", events, ends, begins)
