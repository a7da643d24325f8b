"""A network of invented territories with their weeks, and workers to plan it: for tests and
measurements of the planning at scale."""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from django.conf import settings
from django.db import connection

from planning.models import Crew, Road, Shift, Stock, WorkWindow
from repairs.models import Estimate, RepairJob
from repairs.services.estimates import material_use
from tests import railway, track_time
from turnouts.analysis.terms import Role
from turnouts.models import Component, Installation, Line, LongRun, Person, Track, Turnout

DAYS = 5
MILES = 20


@dataclass(frozen=True)
class NetworkSize:
    """How large a network to make; one crew of each territory is shared.

    The first territory has ``first`` jobs, the others ``jobs``: with few its crew has time to lend.
    """

    territories: int = 3
    first: int = 1
    jobs: int = 12
    crews: int = 2
    windows_a_day: int = 2


def make_network(size: NetworkSize, seed: int = 1) -> Person:
    """The territories in a ring of roads, each with its crews, track time and jobs.

    Gives a supervisor of all of them.
    """
    draw = random.Random(seed)  # repeatable, not secret
    lines = [railway.line() for _ in range(size.territories)]
    model = track_time.job(railway.turnout(railway.track(lines[0])), minutes=100).estimates.get()
    for number, line in enumerate(lines):
        # The model is a job of the first.
        _territory(line, size, model, draw, jobs=size.jobs if number else size.first - 1)
    for one, two in zip(lines, [*lines[1:], lines[0]], strict=True):
        if one != two:
            Road.objects.create(
                from_line=one, from_milepost=10, from_m=10 * railway.MILE_M,
                to_line=two, to_milepost=10, to_m=10 * railway.MILE_M, minutes=20,
            )  # fmt: skip
    return railway.person(Role.SUPERVISOR)


def _territory(
    line: Line, size: NetworkSize, model: Estimate, draw: random.Random, jobs: int
) -> None:
    track = Track.objects.filter(line=line).first() or railway.track(line)
    base = track_time.depot(line, mile="10")
    for material in material_use(model):  # lent crews come with empty trucks
        Stock.objects.create(depot=base, material=material, quantity=1000, unit="kg")
    for number in range(size.crews):
        crew = track_time.crew(base)
        Crew.objects.filter(pk=crew.pk).update(shared=number == 0)
        Shift.objects.filter(crew=crew, starts_at__gte=track_time.at(DAYS, 0)).delete()
    for day in range(DAYS):
        for number in range(size.windows_a_day):
            start = draw.choice([7, 8, 9]) + 4 * (number % 2)
            track_time.window(track, day=day, hours=(start, start + draw.choice([4, 5, 6])))
    WorkWindow.objects.filter(track=track).update(gangs=2)
    _jobs(track, jobs, model, draw)


def _jobs(track: Track, count: int, model: Estimate, draw: random.Random) -> None:
    """Many jobs at once: the estimate of a real one, with minutes of its own."""
    code = track.line.code
    miles = [Decimal(draw.randrange(1, 10 * MILES)) / 10 for _ in range(count)]
    turnouts = Turnout.objects.bulk_create(
        Turnout(
            track=track, code=f"{code}-{n}", milepost=mile, chainage_m=mile * railway.MILE_M,
            hand="right", frog_number=10, rail_section="136RE", faces="increasing",
            speed_through_kmh=64, speed_diverging_kmh=24,
        )
        for n, mile in enumerate(miles)
    )  # fmt: skip
    frogs = Component.objects.bulk_create(
        Component(
            kind="frog", serial=f"{code}-{n}", design="rail_bound_manganese", steel="manganese"
        )
        for n in range(count)
    )
    Installation.objects.bulk_create(
        Installation(component=f, turnout=t, position="frog", installed_on=railway.SINCE)
        for f, t in zip(frogs, turnouts, strict=True)
    )
    made = RepairJob.objects.bulk_create(
        RepairJob(
            reference=f"R-{code}-{n}", turnout=turnout, component=frog,
            disposition="weld_in_track", procedure=model.procedure,
            value_per_day=draw.randrange(50, 900), value_reason="trains lose time",
        )
        for n, (turnout, frog) in enumerate(zip(turnouts, frogs, strict=True))
    )  # fmt: skip
    same = {
        field.attname: getattr(model, field.attname)
        for field in Estimate._meta.concrete_fields
        if field.attname not in ("id", "job_id")
    }
    Estimate.objects.bulk_create(_estimate(same, job, draw) for job in made)


def _estimate(same: dict[str, object], job: RepairJob, draw: random.Random) -> Estimate:
    minutes = draw.uniform(60, 170)
    times = {"mean_min": minutes, "sd_min": minutes / 6, "shared": 0.3, "p50_min": minutes}
    return Estimate(**(same | times), job=job)


class Worker:
    """A Celery worker of its own on this process's database and queue."""

    def __init__(self, name: str) -> None:
        server = os.environ["DATABASE_URL"].rpartition("/")[0]
        environment = os.environ | {
            "DATABASE_URL": f"{server}/{connection.settings_dict['NAME']}",
            "REDIS_URL": settings.REDIS_URL,
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "LOG_LEVEL": "ERROR",
        }
        command = [sys.executable, "-m", "celery", "-A", "config", "worker", "--concurrency=1"]
        command += [f"--hostname={name}@%h", "--without-gossip", "--without-mingle"]
        self.process = subprocess.Popen(  # noqa: S603
            command,
            env=environment,
            start_new_session=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def processor_s(self) -> float:
        """Seconds of the processor that it and its children have taken; read from ``/proc``."""
        ticks = 0
        for entry in Path("/proc").glob("[0-9]*/stat"):
            try:
                fields = entry.read_text().rpartition(")")[2].split()
            except (FileNotFoundError, ProcessLookupError):
                continue  # it ended meanwhile
            if int(fields[2]) == self.process.pid:  # the group it leads
                ticks += int(fields[11]) + int(fields[12])
        return ticks / os.sysconf("SC_CLK_TCK")

    def kill(self) -> None:
        """At once and without a word, with all its children, as when the machine is lost."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


def wait_for(run: LongRun, state: Callable[[LongRun], bool], patience_s: float) -> LongRun:
    """The run once it is as wanted; AssertionError when it is not in time."""
    deadline = time.monotonic() + patience_s
    while not state(run):
        assert time.monotonic() < deadline, f"{run} is {run.state} after {patience_s:g} s"
        time.sleep(0.02)
        run.refresh_from_db()
    return run
