"""A family split by a fact: what was put in is found, what was not is not, few records say so."""

import numpy as np
import pytest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.many_looks import holm
from turnouts.analysis.ranking.comparison import (
    STEPS_KEPT,
    Comparison,
    Measure,
    Member,
    compare_family,
)
from turnouts.analysis.recurrence.histories import History
from turnouts.analysis.recurrence.life_regression import Repair
from turnouts.analysis.recurrence.lives import Life
from turnouts.analysis.recurrence.log_rank import By
from turnouts.analysis.recurrence.mean_cumulative import mean_cumulative
from turnouts.analysis.terms import Quantity
from turnouts.analysis.wear.group_rates import Worn

TREAD = Quantity.TREAD_WEAR


def family(
    seed: int,
    defects: float = 1.0,
    fails: float = 1.0,
    wears: float = 1.0,
    hot: float = 1.0,
    each: int = 20,
) -> list[Member]:
    """Three batches of frogs alike; of the first one defects, failing and wear are so many times
    as much. Repairs in winter fail ``hot`` times as often."""
    rng = np.random.default_rng(seed)
    members = []
    for batch in ("2020/1", "2020/2", "2021/1"):
        for n in range(each):
            bad = batch == "2020/1"
            count = rng.poisson(rng.gamma(4, 0.25) * 4 * (defects if bad else 1))
            at = sorted(rng.uniform(1, 100, count))
            members.append(
                Member(
                    key=f"{batch}-{n}",
                    like="rbm",
                    facts={By.BATCH: batch},
                    history=History(f"{batch}-{n}", tuple(at), 100.0),
                    repairs=[_repair(rng, (fails if bad else 1), hot) for _ in range(3)],
                    wear={TREAD: _worn(rng, 0.05 * (wears if bad else 1))},
                )
            )
    return members


def _repair(rng: np.random.Generator, times: float, hot: float) -> Repair:
    season = ("winter", "summer")[int(rng.integers(2))]
    mgt = 30 * rng.exponential() / times / (hot if season == "winter" else 1)
    return Repair(Life(min(mgt, 50.0) + 0.01, mgt < 50), {By.SEASON: season})


def _worn(rng: np.random.Generator, rate: float) -> Worn:
    return Worn(4000.0, 4000 * rate * rng.normal(1, 0.15), 12)


def compared(members: list[Member], by: By = By.BATCH) -> Comparison:
    if by is By.BATCH:  # a repair has the batch of its component
        for member in members:
            for repair in member.repairs:
                repair.facts[By.BATCH] = member.facts[By.BATCH]  # type: ignore[index]
    found = compare_family(members, by)
    assert isinstance(found, Comparison)
    return found


def stood_out(found: Comparison, measure: Measure) -> set[str]:
    return {look.group for look in found.looks if look.differs and look.measure is measure}


def test_a_batch_with_three_times_the_defects_stands_out_in_defects_alone() -> None:
    found = compared(family(1, defects=3.0))
    assert "2020/1" in stood_out(found, Measure.DEFECTS)
    assert stood_out(found, Measure.REPAIRS) == stood_out(found, Measure.WEAR) == set()
    worst = next(look for look in found.looks if look.group == "2020/1")
    assert worst.low < 3 < worst.high


def test_repairs_that_fail_sooner_and_metal_that_wears_faster_are_told_apart() -> None:
    found = compared(family(9, fails=3.0, wears=1.6))
    assert "2020/1" in stood_out(found, Measure.REPAIRS)
    assert "2020/1" in stood_out(found, Measure.WEAR)
    assert stood_out(found, Measure.DEFECTS) == set()


def test_where_nothing_was_put_something_is_found_one_time_in_twenty() -> None:
    called = sum(any(look.differs for look in compared(family(s)).looks) for s in range(100))
    assert called / 100 <= 0.05 + 3 * (0.05 * 0.95 / 100) ** 0.5


def test_all_looks_of_a_comparison_are_corrected_together() -> None:
    looks = compared(family(3)).looks
    # three batches, each in defects, repairs and one measured length
    assert len(looks) == 9
    assert [look.p for look in looks] == pytest.approx(holm([look.p_alone for look in looks]))


def test_a_fact_of_repairs_compares_the_life_of_repairs_alone() -> None:
    found = compared(family(4, hot=3.0), By.SEASON)
    assert {look.measure for look in found.looks} == {Measure.REPAIRS}
    assert stood_out(found, Measure.REPAIRS) == {"winter", "summer"}
    assert all(part.steps == () for part in found.parts)
    assert {part.repairs for part in found.parts} <= set(range(60, 121))


def test_a_poor_design_in_one_batch_is_no_poor_batch() -> None:
    members = family(5, defects=3.0)
    unlike = [
        Member(
            m.key, "spring" if m.facts[By.BATCH] == "2020/1" else "rbm", m.facts, m.history, (), {}
        )
        for m in members
    ]
    assert stood_out(compared(unlike), Measure.DEFECTS) == set()


def test_with_few_records_it_says_not_enough_data() -> None:
    few = compared(family(6, each=1))
    assert {look.measure for look in few.looks} <= {Measure.DEFECTS}
    assert any("not enough data" in said for said in few.too_few)
    one = [m for m in family(6) if m.facts[By.BATCH] == "2020/1"]
    alone = compare_family(one, By.BATCH)
    assert isinstance(alone, NotEnough)
    assert "1 groups" in alone.sentence


def test_those_that_do_not_tell_the_fact_are_counted() -> None:
    members = family(7)
    silent = [Member(m.key, m.like, {}, m.history, (), {}) for m in members[:4]]
    assert compared([*silent, *members[4:]]).without == 4


def test_a_long_function_is_kept_in_few_steps_with_its_last() -> None:
    members = family(8, defects=3.0)
    part = next(p for p in compared(members).parts if p.name == "2020/1")
    whole = mean_cumulative([m.history for m in members[:20] if m.history]).steps
    assert len(whole) > STEPS_KEPT >= len(part.steps)
    mgts = [step.mgt for step in whole]
    assert part.steps[-1].mgt == mgts[-1]
    assert {step.mgt for step in part.steps} <= set(mgts)
    assert part.steps[-1].mean == pytest.approx(whole[-1].mean)


def test_people_are_no_fact_to_split_by() -> None:
    assert not {"welder", "inspector", "crew", "person", "supervisor"} & {by.value for by in By}
