"""How fast a network of territories is planned, by one worker, by more, and with one killed.

    python -m tests.benchmarks.network --territories 100 --jobs 60 --workers 1 2

Real rows in a database of its own, real Celery workers, one task a territory, shared crews lent.
The work is that of the planner, so what more workers bring is limited by the processors there are.
Then the network is planned once more by the largest number of workers, and when half of it is
planned one of them is killed with all it has in hand and another takes its place; what was lost is
sent again as the scheduler does. ``--no-kill`` leaves that out.

Prints one JSON line for each planning. ``worker_s`` are seconds of the processor that the workers
took, ``load`` is the machine's when it began and ended, ``gap`` how far from best all plans with a
bound are together at most, ``lost`` the territories left without a plan, ``twice`` the plans too
many. The exit status is 1 when a plan is lost.
"""

import argparse
import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from time import perf_counter

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.setdefault("LOG_LEVEL", "WARNING")

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db.models import Sum  # noqa: E402
from django.test.utils import get_runner  # noqa: E402
from django.utils import timezone  # noqa: E402

from config.celery import app  # noqa: E402
from planning.models import CrewLoan, LeftOut, PlannedJob, WeekPlan  # noqa: E402
from planning.services.calendar import Week  # noqa: E402
from planning.services.network import request_network  # noqa: E402
from tests.network import NetworkSize, Worker, make_network, wait_for  # noqa: E402
from tests.track_time import MONDAY, at  # noqa: E402
from turnouts.models import LongRun, Territory  # noqa: E402
from turnouts.services.runs import LOST_AFTER, send_again  # noqa: E402

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
def at_work(count: int) -> Iterator[list[Worker]]:
    """So many workers that answer; all that are in the list are ended afterwards."""
    workers = [Worker(f"bench{n}") for n in range(count)]
    try:
        while len(app.control.ping(timeout=1) or []) < count:
            if any(worker.process.poll() is not None for worker in workers):
                raise SystemExit("A worker ended by itself.")
        yield workers
    finally:
        for worker in workers:
            worker.kill()


def measure(size: NetworkSize, workers: int, seconds: float, kill: bool) -> dict[str, object]:
    """Plan the network once; what came of it and how long it took."""
    supervisor = make_network(size)
    load = os.getloadavg()[0]
    with at_work(workers) as working:
        began = perf_counter()
        run, _ = request_network(
            by=supervisor,
            week=Week(MONDAY),
            request_key="bench",
            seconds=seconds,
            as_of=at(-1, 12),
        )
        killed = kill_half_way(run, working) if kill else {}
        run = wait_for(run, lambda one: one.finished, PATIENCE_S)
        took = perf_counter() - began
        used = sum(worker.processor_s() for worker in working)
    return {
        "workers": workers,
        **outcome(run, took),
        **killed,
        "seconds": round(took, 1),
        "worker_s": round(used + float(killed.get("killed_worker_s", 0)), 1),
        "load": [round(load, 1), round(os.getloadavg()[0], 1)],
    }


def kill_half_way(run: LongRun, working: list[Worker]) -> dict[str, float]:
    """Kill the first worker once half the territories are planned, and let another take its place.

    The message of what it had in hand is lost with it; the scheduler finds that after a while, and
    here it is told that the while is over.
    """
    parts = LongRun.objects.filter(kind="plan", asked__network=run.pk)
    half = len(Territory.objects.all()) / 2
    wait_for(run, lambda _: parts.filter(state="done").count() >= half, PATIENCE_S)
    wait_for(run, lambda _: parts.filter(state="running").count() >= len(working), PATIENCE_S)
    used = working[0].processor_s()
    working.pop(0).kill()
    done = parts.filter(state="done").count()
    in_hand = parts.filter(state="running").count()
    working.append(Worker("bench-new"))
    send_again(now=timezone.now() + 2 * LOST_AFTER)
    return {"planned_when_killed": done, "in_hand_when_killed": in_hand, "killed_worker_s": used}


def outcome(run: LongRun, took: float) -> dict[str, object]:
    """How many plans and jobs there are, and how far from best the plans are at most."""
    parts = LongRun.objects.filter(kind="plan", asked__network=run.pk)
    plans = WeekPlan.objects.filter(pk__in=run.result["plans"].values())
    placed = PlannedJob.objects.filter(plan__in=plans).count()
    left_out = LeftOut.objects.filter(plan__in=plans).count()
    proved = plans.filter(bound__isnull=False)
    sums = proved.aggregate(value=Sum("value"), bound=Sum("bound"))
    return {
        "territories": Territory.objects.count(),
        "lost": Territory.objects.exclude(pk__in=plans.values("territory")).count(),
        "twice": WeekPlan.objects.count() - parts.filter(state="done").count(),
        "jobs": placed + left_out,
        "placed": placed,
        "tasks": parts.count(),
        "shifts_lent": CrewLoan.objects.count(),
        "failed": run.result["failed"],
        "bounded": proved.count(),
        "gap": round(1 - sums["value"] / sums["bound"], 6) if sums["bound"] else None,
        "jobs_a_minute": round(60 * (placed + left_out) / took, 1),
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--territories", type=int, default=100)
    parser.add_argument("--jobs", type=int, default=60, help="in each territory")
    parser.add_argument("--crews", type=int, default=5)
    parser.add_argument("--windows-a-day", type=int, default=6)
    parser.add_argument("--seconds", type=float, default=5, help="planning time of a territory")
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--no-kill", action="store_true", help="kill no worker")
    asked = parser.parse_args()
    size = NetworkSize(asked.territories, asked.jobs, asked.jobs, asked.crews, asked.windows_a_day)
    plannings = [(workers, False) for workers in asked.workers]
    plannings += [] if asked.no_kill else [(max(asked.workers), True)]
    lost = 0
    with own_database():
        for workers, kill in plannings:
            app.control.purge()
            found = measure(size, workers, asked.seconds, kill)
            lost += int(str(found["lost"]))
            print(json.dumps(found), flush=True)
            call_command("flush", verbosity=0, interactive=False)
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
