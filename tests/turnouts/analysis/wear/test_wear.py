"""The wear of one component, alone and beside its like."""

from datetime import date

import numpy as np
import pytest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.runs import Reading, Run
from turnouts.analysis.wear.wear import Now, Wear, family_beside, wear_of

NOW = Now(mgt=45.0, today=date(2026, 11, 25), mgt_a_year=20.0)
LIMIT = Limit(9.525, rising=True)


def run(
    key: str, rate: float, readings: int, seed: int, began: float = 0.0, upto: float = 40.0
) -> Run:
    rng = np.random.default_rng(seed)
    at = np.linspace(1, upto, readings)
    values = 1 + rate * at + rng.normal(0, 0.2, readings)
    return Run(
        key,
        began,
        tuple(Reading(began + float(x), float(y)) for x, y in zip(at, values, strict=True)),
    )


def like(runs: int = 20) -> list[Run]:
    rng = np.random.default_rng(99)
    return [run(f"L{n}", 0.1 + 0.02 * rng.normal(), 8, n) for n in range(runs)]


def read(
    one: Run, beside: list[Run], limits: list[Limit], now: Now = NOW, least_sd: float = 0.1
) -> Wear | NotEnough:
    family = family_beside([one, *beside], least_sd)
    return wear_of(one, family, limits, now, least_sd=least_sd)


def wear(one: Run, beside: list[Run], limits: list[Limit]) -> Wear:
    found = read(one, beside, limits)
    assert isinstance(found, Wear)
    return found


def test_few_readings_lean_on_like_components_and_many_do_not() -> None:
    few, many = run("A", 0.25, 2, 1, upto=6.0), run("A", 0.25, 30, 1)
    leaning, standing = wear(few, like(), [LIMIT]), wear(many, like(), [LIMIT])
    assert 0.1 < leaning.line.rate < standing.line.rate
    assert leaning.weight_of_own < standing.weight_of_own <= 1
    assert standing.line.rate == pytest.approx(0.25, abs=0.01)


def test_without_like_components_three_readings_say_nothing_and_four_do() -> None:
    three = read(run("A", 0.1, 3, 1), [], [LIMIT], NOW, least_sd=0.1)
    assert isinstance(three, NotEnough)
    assert (three.have, three.need) == (3, 4)
    assert wear(run("A", 0.1, 4, 1), [], [LIMIT]).like_runs == 0


def test_a_run_that_has_just_begun_wears_as_its_like_do() -> None:
    family = family_beside(like(), 0.1)
    assert not isinstance(family, NotEnough)
    begun = wear_of(Run("new", 44.0, ()), family, [], NOW, least_sd=0.1)
    assert isinstance(begun, Wear)
    assert begun.used == 0
    assert begun.line.rate == pytest.approx(float(family.mean[1]))


def test_the_line_counts_from_the_last_repair() -> None:
    since_repair = run("A", 0.1, 12, 1, began=30.0)
    found = read(since_repair, [], [LIMIT], Now(72.0, NOW.today, 20.0), least_sd=0.1)
    assert isinstance(found, Wear)
    assert found.line.level == pytest.approx(1, abs=0.3)


def test_a_misread_gage_is_listed_and_does_not_bend_the_line() -> None:
    good = run("A", 0.1, 10, 4)
    wrong = Reading(good.readings[6].mgt, good.readings[6].value + 6.35, "visit 7")
    spoiled = Run("A", 0.0, (*good.readings[:6], wrong, *good.readings[7:]))
    found = wear(spoiled, like(), [LIMIT])
    assert found.odd == (wrong,)
    assert "1 did not fit" in found.sentence
    assert found.line.rate == pytest.approx(wear(good, like(), [LIMIT]).line.rate, abs=0.005)


def test_the_answer_says_what_it_rests_on() -> None:
    found = wear(run("A", 0.1, 3, 4), like(), [LIMIT])
    assert found.like_runs == 20
    assert any("straight line" in said for said in found.limits_of_inference)
    assert any("20 like runs" in said for said in found.limits_of_inference)
    assert any("cannot show a wrong one" in said for said in found.limits_of_inference)


def test_nineteen_of_twenty_next_readings_lie_in_the_band() -> None:
    inside = 0
    for seed in range(200):
        found = wear(run("A", 0.1, 10, 1000 + seed), [], [])
        new = 1 + 0.1 * 60 + np.random.default_rng(5000 + seed).normal(0, 0.2)
        band = found.line.band(60.0)
        inside += band.low <= new <= band.high
    assert inside / 200 == pytest.approx(0.95, abs=3 * (0.95 * 0.05 / 200) ** 0.5)


def test_a_gage_without_resolution_is_refused() -> None:
    with pytest.raises(ValueError, match="resolution"):
        read(run("A", 0.1, 5, 1), [], [LIMIT], NOW, least_sd=0.0)


def test_a_present_before_the_run_is_refused() -> None:
    with pytest.raises(ValueError, match="before the run began"):
        read(run("A", 0.1, 5, 1, began=50.0), [], [LIMIT], NOW, least_sd=0.1)
