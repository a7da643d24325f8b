"""Measure the planner beside PyVRP: the same question, the same seconds, one core each.

`python -m planning.solver.benchmark --instances DIR --routes 2 --seconds 10` takes public instances
(see `instances`); without `--instances` weeks are made up (`--weeks 10 --jobs 60 --crews 6 --days 5
--seconds 10`, seeds 1 to `--weeks`). `--sizes 30 300 3000` makes one week for each number of jobs,
in territories of about 60 jobs planned one after another, each within `--seconds`, and shows how
the cost grows.

One JSON line for each run on standard output: instance, routes, solver ("planner" or "pyvrp"),
score, bound (null where none is proved), seconds. When the planner had a first plan of a week, and
what it was worth, is said on standard error. Every score is that of routes re-timed or
checked by code that did not make them. What goes wrong is said on standard error; the exit status
is then 2.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from planning.solver.check import check
from planning.solver.improve import warm_up
from planning.solver.instances import Instance, InstanceError, read_folder
from planning.solver.plan import Progress
from planning.solver.pricing import compile_pricing
from planning.solver.problem import Problem
from planning.solver.rival import rival_plan, rival_tours
from planning.solver.solve import Effort, solve
from planning.solver.team import plan_tours
from planning.solver.weeks import Size, make_week

SEED = 1
TERRITORY = 60  # jobs
Answer = tuple[float | None, float | None]  # score, bound
Say = Callable[[str], None]


def main(argv: Sequence[str] | None = None) -> int:
    """Run what the arguments ask for; the exit status."""
    asked = _parser().parse_args(argv)
    try:
        with _own_output() as say:
            warm_up()
            compile_pricing()
            if asked.instances is not None:
                _instances(read_folder(asked.instances), asked, say)
            elif asked.sizes:
                _sizes(asked, say)
            else:
                _weeks(asked, say)
    except InstanceError as problem:
        print(problem, file=sys.stderr)
        return 2
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="planning.solver.benchmark", description=__doc__)
    parser.add_argument("--instances", type=Path, help="folder of public instances (CSV)")
    parser.add_argument("--routes", type=_at_least_one, default=2)
    parser.add_argument("--seconds", type=_above_nothing, default=10.0)
    parser.add_argument("--weeks", type=_at_least_one, default=10)
    parser.add_argument("--jobs", type=_at_least_one, default=TERRITORY)
    parser.add_argument("--crews", type=_at_least_one, default=6)
    parser.add_argument("--days", type=_at_least_one, default=5)
    parser.add_argument("--sizes", type=_at_least_one, nargs="+", metavar="JOBS")
    return parser


def _at_least_one(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError(f"{text} is less than 1.")
    return number


def _above_nothing(text: str) -> float:
    number = float(text)
    if not 0 < number < float("inf"):
        raise argparse.ArgumentTypeError(f"{text} is not a time above 0.")
    return number


@contextmanager
def _own_output() -> Iterator[Say]:
    """Standard output for our lines alone: libraries that print to it write to nowhere."""
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield lambda line: _write(kept, line + "\n")
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _write(to: int, text: str) -> None:
    left = text.encode()
    while left:
        left = left[os.write(to, left) :]


def _instances(found: Sequence[Instance], asked: argparse.Namespace, say: Say) -> None:
    for instance in found:
        for solver in ("planner", "pyvrp"):
            _run(say, instance.name, asked.routes, solver, partial(_tours, instance, solver, asked))


def _tours(instance: Instance, solver: str, asked: argparse.Namespace) -> Answer:
    """The score, re-timed from the instance alone."""
    if solver == "planner":
        visits = instance.visits(asked.routes)
        found = plan_tours(visits, seconds=asked.seconds, seed=SEED, now=time.perf_counter)
        rows = [tuple(visit + 1 for visit in tour) for tour in found.routes]
    else:
        rows = rival_tours(instance, routes=asked.routes, seconds=asked.seconds, seed=SEED)
    return instance.scored(rows, asked.routes), None


def _weeks(asked: argparse.Namespace, say: Say) -> None:
    for seed in range(1, asked.weeks + 1):
        week = make_week(Size(asked.jobs, asked.crews, asked.days), seed)
        routes = sum(len(crew.shifts) for crew in week.crews)
        for solver in ("planner", "pyvrp"):
            _run(say, f"week-{seed}", routes, solver, partial(_network, [week], solver, asked))


def _sizes(asked: argparse.Namespace, say: Say) -> None:
    """Territories of about 60 jobs with a tenth as many crews, each given all the seconds."""
    for jobs in asked.sizes:
        count = max(1, round(jobs / TERRITORY))
        shares = [jobs // count + (i < jobs % count) for i in range(count)]
        weeks = [
            make_week(Size(share, max(1, round(share / 10)), asked.days), seed)
            for seed, share in enumerate(shares, start=1)
        ]
        routes = sum(len(crew.shifts) for week in weeks for crew in week.crews)
        name = f"{jobs}-jobs-{count}-territories"
        for solver in ("planner", "pyvrp"):
            _run(say, name, routes, solver, partial(_network, weeks, solver, asked))


def _network(weeks: Sequence[Problem], solver: str, asked: argparse.Namespace) -> Answer:
    """The sums over all the weeks; a bound only where each has one."""
    answers = [_week(week, solver, asked.seconds) for week in weeks]
    scores = [score for score, _ in answers if score is not None]
    bounds = [bound for _, bound in answers if bound is not None]
    return (
        sum(scores) if len(scores) == len(weeks) else None,
        sum(bounds) if len(bounds) == len(weeks) else None,
    )


def _week(week: Problem, solver: str, seconds: float) -> Answer:
    if solver == "pyvrp":
        rival = rival_plan(week, seconds=seconds, seed=SEED)
        return (None if rival is None else rival.value), None
    plan = solve(
        week, now=time.perf_counter, effort=Effort(seconds, seed=SEED), progress=_say_first
    )
    breaches = check(week, plan)
    if breaches:
        raise RuntimeError(f"The plan breaks a rule: {breaches[0].sentence}")
    return plan.value, plan.bound


def _say_first(progress: Progress) -> None:
    if progress.stage == "first plan":
        text = f"first plan after {progress.seconds:.2f} s, worth {progress.value:.2f}"
        print(text, file=sys.stderr, flush=True)


def _run(say: Say, name: str, routes: int, solver: str, run: Callable[[], Answer]) -> None:
    began = time.perf_counter()
    score, bound = run()
    line = {
        "instance": name,
        "routes": routes,
        "solver": solver,
        "score": score if score is None else round(score, 2),
        "bound": bound if bound is None else math.ceil(bound * 100 - 1e-6) / 100,
        "seconds": round(time.perf_counter() - began, 2),
    }
    say(json.dumps(line))


if __name__ == "__main__":
    sys.exit(main())
