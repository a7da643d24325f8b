"""How long the judging of many defects takes, as one long run in a worker, on real rows.

    .venv/bin/python -m tests.benchmarks.triage_speed --defects 20000

A Celery worker of its own carries the runs out, as in production; this process only asks and
watches the progress. For one rule set, two and all of them it prints the seconds of the first
judging (every answer new), of judging again (no answer new) and of judging after every defect has
grown (every answer new, an earlier one put by); then those of looking at what an own rule, and
other rule sets, would change. Servers are its own, gone at its end. The design asks for 20,000
defects in under a minute.

``--profile`` judges once in this process instead and prints where the time goes.
"""

import argparse
import cProfile
import os
import pstats
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

CLOCK_TICKS = os.sysconf("SC_CLK_TCK")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--defects", type=int, default=20_000)
    parser.add_argument("--profile", action="store_true", help="where the first judging's time is")
    asked = parser.parse_args()
    os.environ.setdefault("LOG_LEVEL", "ERROR")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    from tests.benchmarks.many_defects import make_ground

    person = make_ground(asked.defects)
    if asked.profile:
        _profile(person)
        return
    with _worker() as worker:
        _judgings(person, worker)
        _previews(person, worker)


def _judgings(person: Any, worker: int) -> None:
    from django.db.models import F

    from repairs.triage.rules import rule_sets
    from tests.repairs.rows import under
    from turnouts.models import Defect, Territory

    known = list(rule_sets())
    for number in sorted({1, 2, len(known)}):
        under(Territory.objects.get(), *known[:number])
        sets = f"{number} rule set{'s' if number > 1 else ''}"
        print(f"Under {sets}: {', '.join(known[:number])}", flush=True)
        _measured(f"first judging by {sets}", _triage(person, f"first {number}"), worker)
        _measured("judged again", _triage(person, f"again {number}"), worker)
        Defect.objects.update(depth_mm=F("depth_mm") + Decimal(1))
        _measured("all of them grown", _triage(person, f"grown {number}"), worker)


def _previews(person: Any, worker: int) -> None:
    """An own limit that every tread is past, under all rule sets; and all but the first left."""
    from django.utils import timezone

    from repairs.services.owner_rules import Proposal, propose_rule
    from repairs.services.rule_preview import request_preview
    from repairs.services.rule_set_changes import propose_rule_sets
    from repairs.triage.owner_figures import Figure
    from repairs.triage.rules import FEDERAL
    from turnouts.models import Territory

    today, now = timezone.localdate(), timezone.now()
    own = Proposal("213.137(c)", Figure.LIMIT, Decimal(2), today, "Measured here")
    proposed = {
        "preview of an own limit": propose_rule(by=person, proposal=own, on=today, at=now),
        "preview of other rule sets": propose_rule_sets(
            by=person,
            territory=Territory.objects.get(),
            names=[FEDERAL],
            reason="Measured here",
            at=now,
        ),
    }
    for name, rule in proposed.items():
        run = request_preview(by=person, rule=rule, on=today, request_key=name)
        _measured(name, run, worker)


def _triage(person: Any, key: str) -> Any:
    from repairs.services.queue import request_triage

    return request_triage(by=person, on=_today(), request_key=key)


def _today() -> date:
    from django.utils import timezone

    return timezone.localdate()


def _measured(name: str, run: Any, worker: int) -> None:
    """Wait for the run, watching its progress as a page does, and print what it took."""
    from turnouts.services.runs import with_progress

    before, seen = _processor_seconds(worker), set()
    while not run.finished:
        time.sleep(0.25)
        run.refresh_from_db()
        seen.add(with_progress(run).done)
    if run.state != "done":
        raise SystemExit(f"{name} ended as {run.state}: {run.message}")
    took = (run.finished_at - run.started_at).total_seconds()
    waited = (run.started_at - run.requested_at).total_seconds()
    print(
        f"  {name}: {took:.1f} s on the clock after {waited:.1f} s in the queue; the worker's "
        f"processor {_processor_seconds(worker) - before:.1f} s; progress seen {len(seen)} times; "
        f"{run.result['changed']} of {run.result['looked_at']} changed",
        flush=True,
    )


@contextmanager
def _worker() -> Iterator[int]:
    """A Celery worker on this run's database and queue; gives the id of its process group."""
    from config.celery import app

    command = [sys.executable, "-m", "celery", "-A", "config", "worker", "--concurrency=1"]
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "config.settings"}
    process = subprocess.Popen(  # noqa: S603
        command, env=environment, start_new_session=True, stdout=subprocess.DEVNULL
    )
    try:
        while not app.control.ping(timeout=0.5):
            if process.poll() is not None:
                raise SystemExit("The Celery worker ended by itself.")
        yield process.pid
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(30)


def _processor_seconds(group: int) -> float:
    """Processor seconds of all processes of a group (Linux; elsewhere not known)."""
    if not Path("/proc/self/stat").exists():
        return float("nan")
    ticks = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rsplit(")", 1)[1].split()
        except OSError:  # it ended meanwhile
            continue
        if int(fields[2]) == group:
            ticks += int(fields[11]) + int(fields[12])
    return ticks / CLOCK_TICKS


def _profile(person: Any) -> None:
    from repairs import tasks

    run = _triage(person, "profiled")
    with cProfile.Profile(time.process_time) as profile:
        tasks.triage(run.pk)
    pstats.Stats(profile).sort_stats("cumulative").print_stats(45)
    pstats.Stats(profile).sort_stats("tottime").print_stats(30)


if __name__ == "__main__":
    main()
