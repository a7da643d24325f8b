"""An unsound problem is refused with a sentence for every fault."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from planning.solver.faults import find_faults
from planning.solver.problem import (
    Duration,
    Former,
    Keep,
    Lock,
    Problem,
    ProblemError,
    Shift,
    Truck,
)
from planning.solver.travel import Place, Roads
from tests.planning.solver.small_weeks import crew, job, plan, week, window

SOUND = week(
    [job("a"), job("b", 5_000)],
    [window("w", 0, 300)],
    [crew("x", truck="T")],
    trucks=(Truck("T", 100.0, {"wire": 10.0}),),
)


def with_job(**more: object) -> Problem:
    return replace(SOUND, jobs=(replace(SOUND.jobs[0], **more), SOUND.jobs[1]))  # type: ignore[arg-type]


def with_window(**more: object) -> Problem:
    return replace(SOUND, windows=(replace(SOUND.windows[0], **more),))  # type: ignore[arg-type]


def with_crew(**more: object) -> Problem:
    return replace(SOUND, crews=(replace(SOUND.crews[0], **more),))  # type: ignore[arg-type]


FAULTS: list[tuple[Callable[[], Problem], str]] = [
    (lambda: replace(SOUND, days=0), "0 days"),
    (lambda: replace(SOUND, chance=1.0), "chance asked for is 1.0"),
    (lambda: replace(SOUND, late_share=1.5), "share of value counted when late"),
    (lambda: replace(SOUND, roads=Roads(0)), "road speed is 0"),
    (lambda: replace(SOUND, keep=Keep({"z": Former("x", 0, "w", 0)})), "former plan has job z"),
    (lambda: replace(SOUND, keep=Keep({}, crew=-1.0)), "price of another crew"),
    (lambda: replace(SOUND, setup=Duration(-1, 0, 0)), "set-up time has a mean of -1"),
    (lambda: replace(SOUND, depot_stock={"wire": -1}), "depot stock of wire is -1"),
    (lambda: replace(SOUND, jobs=(SOUND.jobs[0],) * 2), "Job a is given 2 times"),
    (lambda: replace(SOUND, windows=SOUND.windows * 2), "Window w is given 2 times"),
    (lambda: replace(SOUND, trucks=SOUND.trucks * 2), "Truck T is given 2 times"),
    (lambda: with_job(track="7"), "track 7 of line Hill, which is not known"),
    (lambda: with_job(place=Place("Moon", 0)), "line Moon, which is not known"),
    (lambda: with_job(work=Duration(0, 0, 0)), "takes no time"),
    (lambda: with_job(work=Duration(60, 61, 0)), "standard deviation of 61"),
    (lambda: with_job(work=Duration(60, 6, 0.99)), "shares 0.99 of its variance"),
    (lambda: with_job(value=(1.0, 2.0)), "2 values for 1 days"),
    (lambda: with_job(value=(-1.0,)), "negative or endless value"),
    (lambda: with_job(earliest_min=-5), "may start at minute -5"),
    (lambda: with_job(material={"wire": -2}), "material of wire is -2"),
    (lambda: with_job(after=("z",)), "after job z, which is not in the problem"),
    (lambda: with_job(after=("a",)), "comes after itself"),
    (lambda: with_job(turnout="at b"), "at another place"),
    (lambda: with_job(lock=Lock("q", "w", 0)), "locked to crew q"),
    (lambda: with_job(lock=Lock("x", "q", 0)), "locked to window q"),
    (lambda: with_job(lock=Lock("x", "w", 9_999)), "when crew x is not on shift"),
    (lambda: with_window(end_min=0), "not after its start 0"),
    (lambda: with_window(start_min=-1), "starts at minute -1"),
    (lambda: with_window(from_m=60_000), "give the lower end first"),
    (lambda: with_window(gangs=0), "room for 0 gangs"),
    (lambda: with_window(track="7"), "Window w is on track 7"),
    (lambda: with_crew(size=0), "0 people"),
    (lambda: with_crew(truck="Z"), "truck Z, which is not in the problem"),
    (lambda: with_crew(base=Place("Moon", 0)), "based on line Moon"),
    (lambda: with_crew(shifts=(Shift(0, 60, 3),)), "shift on day 3"),
    (lambda: with_crew(shifts=(Shift(60, 60, 0),)), "shift from minute 60 to 60"),
    (lambda: with_crew(shifts=(Shift(0, 60, 0), Shift(30, 90, 0))), "shifts may not overlap"),
    (lambda: replace(SOUND, trucks=(Truck("T", -1.0),)), "may carry -1.0 kg"),
    (lambda: replace(SOUND, trucks=(Truck("T", 5, {"wire": 6}),)), "carries 6 kg already"),
    (
        lambda: replace(SOUND, crews=(*SOUND.crews, crew("y", truck="T"))),
        "Crews x and y have truck T at the same time",
    ),
]


def test_a_sound_problem_has_no_faults() -> None:
    assert find_faults(SOUND) == ()


@pytest.mark.parametrize(("spoiled", "words"), FAULTS, ids=[words for _, words in FAULTS])
def test_each_fault_is_named(spoiled: Callable[[], Problem], words: str) -> None:
    with pytest.raises(ProblemError) as refused:
        plan(spoiled())
    assert any(words in sentence for sentence in refused.value.faults)


def test_all_faults_are_listed_at_once() -> None:
    spoiled = replace(with_window(gangs=0), days=0, chance=2.0)
    assert len(find_faults(spoiled)) >= 3


def test_jobs_that_wait_in_a_circle_are_named() -> None:
    circle = week([job("a", after=("b",)), job("b", after=("a",))], [], [])
    assert find_faults(circle) == ("Jobs a, b wait for one another in a circle.",)


def test_two_crews_may_share_a_truck_at_different_times() -> None:
    late = crew("y", truck="T", shifts=(Shift(720, 1440, 0),))
    assert find_faults(replace(SOUND, crews=(*SOUND.crews, late))) == ()


def test_locks_that_cannot_all_be_kept_are_refused_by_name() -> None:
    jobs = [
        job("a", lock=Lock("x", "w", 0)),
        job("b", 5_000, lock=Lock("x", "w", 10)),
    ]
    with pytest.raises(ProblemError, match="cannot do what is locked to it") as refused:
        plan(replace(SOUND, jobs=tuple(jobs)))
    assert "a, b" in refused.value.faults[0]


def test_locks_of_two_crews_in_a_window_for_one_are_refused() -> None:
    jobs = [job("a", lock=Lock("x", "w", 0)), job("b", 0, lock=Lock("y", "w", 0))]
    problem = week(jobs, [window("w", 0, 300)], [crew("x"), crew("y")])
    with pytest.raises(ProblemError, match="keeps all locked jobs"):
        plan(problem)
