"""How fast a network of territories is planned, by one worker and by more.

    python -m tests.benchmarks.network --territories 100 --jobs 60 --workers 1 2

Real rows in a database of its own, real Celery workers, one task a territory, shared crews lent.
The work is that of the planner, so what more workers bring is limited by the processors there are.
Prints one JSON line for each number of workers.
"""

import argparse
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from time import perf_counter

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.setdefault("LOG_LEVEL", "WARNING")

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.test.utils import get_runner  # noqa: E402

from config.celery import app  # noqa: E402
from planning.models import CrewLoan, LeftOut, PlannedJob, WeekPlan  # noqa: E402
from planning.services.calendar import Week  # noqa: E402
from planning.services.network import request_network  # noqa: E402
from tests.network import NetworkSize, Worker, make_network, wait_for  # noqa: E402
from tests.track_time import MONDAY, at  # noqa: E402
from turnouts.models import LongRun  # noqa: E402

PATIENCE_S = 4 * 3600


@contextmanager
def own_database() -> Iterator[None]:
    """A test database that is gone afterwards."""
    from django.conf import settings

    runner = get_runner(settings)(verbosity=0, interactive=False)
    made = runner.setup_databases()
    try:
        yield
    finally:
        runner.teardown_databases(made)


@contextmanager
def at_work(count: int) -> Iterator[None]:
    """So many workers that answer."""
    workers = [Worker(f"bench{n}") for n in range(count)]
    try:
        while len(app.control.ping(timeout=1) or []) < count:
            if any(worker.process.poll() is not None for worker in workers):
                raise SystemExit("A worker ended by itself.")
        yield
    finally:
        for worker in workers:
            worker.kill()


def measure(size: NetworkSize, workers: int, seconds: float) -> dict[str, object]:
    """Plan the network once; what came of it and how long it took."""
    supervisor = make_network(size)
    with at_work(workers):
        began = perf_counter()
        run, _ = request_network(
            by=supervisor,
            week=Week(MONDAY),
            request_key="bench",
            seconds=seconds,
            as_of=at(-1, 12),
        )
        run = wait_for(run, lambda one: one.finished, PATIENCE_S)
        took = perf_counter() - began
    parts = LongRun.objects.filter(kind="plan", asked__network=run.pk)
    plans = WeekPlan.objects.filter(pk__in=run.result["plans"].values())
    placed = PlannedJob.objects.filter(plan__in=plans).count()
    left_out = LeftOut.objects.filter(plan__in=plans).count()
    return {
        "workers": workers,
        "territories": size.territories,
        "jobs": placed + left_out,
        "placed": placed,
        "tasks": parts.count(),
        "shifts_lent": CrewLoan.objects.count(),
        "failed": run.result["failed"],
        "seconds": round(took, 1),
        "jobs_a_minute": round(60 * (placed + left_out) / took, 1),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--territories", type=int, default=100)
    parser.add_argument("--jobs", type=int, default=60)
    parser.add_argument("--crews", type=int, default=5)
    parser.add_argument("--windows-a-day", type=int, default=6)
    parser.add_argument("--seconds", type=float, default=5, help="planning time of a territory")
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    asked = parser.parse_args()
    size = NetworkSize(asked.territories, asked.jobs, asked.crews, asked.windows_a_day)
    with own_database():
        for workers in asked.workers:
            app.control.purge()
            print(json.dumps(measure(size, workers, asked.seconds)), flush=True)
            call_command("flush", verbosity=0, interactive=False)


if __name__ == "__main__":
    main()
