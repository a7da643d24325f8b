"""How long the judging of many defects takes, as one long run, on real rows.

    .venv/bin/python -m tests.benchmarks.triage_speed --defects 20000

Prints the seconds of the first judging (every answer new), of judging again (no answer new) and
of judging after every defect has grown (every answer new, an earlier one put by), each with the
processor's share here and in the database. It uses servers of its own, gone at its end. The
design asks for 20,000 defects in under a minute.
"""

import argparse
import cProfile
import os
import pstats
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from itertools import cycle
from pathlib import Path
from time import perf_counter, process_time

TURNOUTS = 500
READINGS = {
    "flangeway_width": "48",
    "flangeway_depth": "45",
    "guard_check_gage": "1388",
    "guard_face_gage": "1340",
    "point_wear_depth": "3",
    "tread_wear": "3",
}
KINDS = ("spall", "shell", "chip", "crack", "metal_flow", "batter", "wear")
ZONES = ("point", "tread", "left_wing", "throat", "heel")


def main() -> None:
    import django

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--defects", type=int, default=20_000)
    parser.add_argument("--profile", action="store_true", help="where the first judging's time is")
    asked = parser.parse_args()
    os.environ.setdefault("LOG_LEVEL", "ERROR")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()

    from django.db.models import F

    from turnouts.models import Defect

    person = _make_ground(asked.defects)
    with cProfile.Profile(process_time) if asked.profile else _Quiet() as profile:
        _measure("first judging", _judge_all(person, "first"))
    if isinstance(profile, cProfile.Profile):
        pstats.Stats(profile).sort_stats("cumulative").print_stats(45)
        pstats.Stats(profile).sort_stats("tottime").print_stats(30)
    _measure("judged again", _judge_all(person, "again"))
    Defect.objects.update(depth_mm=F("depth_mm") + Decimal(1))
    _measure("all of them grown", _judge_all(person, "grown"))


class _Quiet:
    """Stands where a profile would."""

    def __enter__(self) -> "_Quiet":
        return self

    def __exit__(self, *fault: object) -> None:
        return None


def _judge_all(person, key: str) -> Callable[[], str]:  # type: ignore[no-untyped-def]
    """One long run as the queue carries it out; gives what came of it in words."""
    from django.utils import timezone

    from repairs import tasks
    from repairs.services.queue import request_triage
    from turnouts.models import LongRun

    run = request_triage(by=person, on=timezone.localdate(), request_key=key)

    def judge() -> str:
        tasks.triage(run.pk)
        done = LongRun.objects.get(pk=run.pk)
        if done.state != "done":
            raise SystemExit(f"The run ended as {done.state}: {done.error}")
        return f"{done.result['changed']} new answers of {done.result['looked_at']}"

    return judge


def _measure(name: str, work: Callable[[], str]) -> None:
    start, own, server = perf_counter(), process_time(), _server_seconds()
    said = work()
    print(
        f"{name}: {perf_counter() - start:.1f} s on the clock, of which the processor worked "
        f"{process_time() - own:.1f} s here and {_server_seconds() - server:.1f} s in the "
        f"database ({said})",
        flush=True,
    )


def _server_seconds() -> float:
    """Processor seconds the database has spent on this connection (Linux, same machine)."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        pid = cursor.fetchone()[0]
    stat = Path(f"/proc/{pid}/stat")
    if not stat.exists():
        return float("nan")
    user, system = stat.read_text().rsplit(")", 1)[1].split()[11:13]
    return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


def _make_ground(defects: int):  # type: ignore[no-untyped-def]
    """Turnouts with a frog each, one visit with six readings at each, and the defects found."""
    from tests import railway
    from turnouts import models

    seen = datetime.now(UTC)
    first = railway.turnout(code="B0")
    railway.track_class(first.track, 3)
    kept = {field.attname for field in models.Turnout._meta.concrete_fields} - {"id"}
    fields = {name: getattr(first, name) for name in kept}
    rest = models.Turnout.objects.bulk_create(
        models.Turnout(**(fields | {"code": f"B{n}"})) for n in range(1, TURNOUTS)
    )
    turnouts = [first, *rest]
    frogs = models.Component.objects.bulk_create(
        models.Component(
            serial=f"BF{n}", kind="frog", design="rail_bound_manganese", steel="manganese"
        )
        for n in range(TURNOUTS)
    )
    models.Installation.objects.bulk_create(
        models.Installation(
            component=frog, turnout=turnout, position="frog", installed_on=railway.SINCE
        )
        for frog, turnout in zip(frogs, turnouts, strict=True)
    )
    person = railway.person("engineer", username="bench")
    visits = models.Inspection.objects.bulk_create(
        models.Inspection(
            turnout=turnout,
            inspector=person,
            reference=f"BI{turnout.code}",
            inspected_at=seen,
            kind="detailed",
        )
        for turnout in turnouts
    )
    models.Measurement.objects.bulk_create(
        models.Measurement(
            inspection=visit,
            component=frog,
            quantity=quantity,
            value=Decimal(mm),
            uncertainty=Decimal("0.2"),
            typed=mm,
            typed_unit="mm",
        )
        for visit, frog in zip(visits, frogs, strict=True)
        for quantity, mm in READINGS.items()
    )
    places = cycle(zip(turnouts, frogs, visits, strict=True))
    models.Defect.objects.bulk_create(
        models.Defect(
            reference=f"BD{n}",
            inspection=visit,
            turnout=turnout,
            component=frog,
            kind=KINDS[n % len(KINDS)],
            zone=ZONES[n % len(ZONES)],
            length_mm=Decimal(40 + n % 120),
            width_mm=Decimal(20),
            depth_mm=Decimal(1 + n % 22),
            breaks_surface=True,
            reaches_edge=False,
            reaches_base=False,
            orientation="longitudinal",
            reported_on=seen.date(),
        )
        for n, (turnout, frog, visit) in zip(range(defects), places)  # noqa: B905
    )
    return person


if __name__ == "__main__":
    main()
