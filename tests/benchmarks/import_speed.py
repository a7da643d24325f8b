"""How long an import of many defects and measurements takes, real rows through the real service.

    python -m tests.benchmarks.import_speed --defects 20000 --measurements 60000

Everything is rolled back at the end. The design asks for 20,000 defects in under a minute.
"""

import argparse
import csv
import io
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from time import perf_counter, process_time

import django

django.setup()

from django.db import connection, transaction  # noqa: E402

from tests import railway  # noqa: E402
from turnouts.analysis.terms import Role  # noqa: E402
from turnouts.models import Component, Installation, Person, Turnout  # noqa: E402
from turnouts.services.imports import import_now  # noqa: E402

TURNOUTS = 500
READINGS_A_VISIT = 6

Rows = Iterable[Sequence[object]]


def as_csv(header: str, rows: Rows) -> bytes:
    held = io.StringIO(newline="")
    writer = csv.writer(held)
    writer.writerow(header.split(","))
    writer.writerows(rows)
    return held.getvalue().encode()


def make_ground() -> Person:
    """Turnouts with a frog each, and somebody who may import everything."""
    first = railway.turnout(code="B0")
    turnouts = Turnout.objects.bulk_create(
        Turnout(**(_fields(first) | {"code": f"B{number}"})) for number in range(1, TURNOUTS)
    )
    frogs = Component.objects.bulk_create(
        Component(serial=f"BF{number}", kind="frog", steel="manganese")
        for number in range(TURNOUTS)
    )
    Installation.objects.bulk_create(
        Installation(component=frog, turnout=turnout, position="frog", installed_on=railway.SINCE)
        for frog, turnout in zip(frogs, [first, *turnouts], strict=True)
    )
    return railway.person(Role.ENGINEER, username="bench")


def _fields(turnout: Turnout) -> dict[str, object]:
    kept = {field.attname for field in Turnout._meta.concrete_fields} - {"id"}
    return {name: getattr(turnout, name) for name in kept}


def upload(defects: int, measurements: int) -> list[tuple[str, bytes]]:
    visits = max(measurements // READINGS_A_VISIT, 1)
    inspections = (
        (
            f"BI{n}",
            f"B{n % TURNOUTS}",
            f"2026-{1 + n % 12:02}-{1 + n % 28:02}T09:30",
            "detailed",
            "bench",
        )
        for n in range(visits)
    )
    readings = (
        (
            f"BI{n // READINGS_A_VISIT}",
            "frog",
            "tread_wear",
            n % READINGS_A_VISIT,
            f"{1 + n % 31}/32",
        )
        for n in range(measurements)
    )
    found = (
        (
            f"BD{n}",
            f"BI{n % visits}",
            "frog",
            "spall",
            "point",
            "2 1/2",
            "1 1/4",
            f"{1 + n % 15}/16",
            "yes",
        )
        for n in range(defects)
    )
    return [
        ("inspections.csv", as_csv("reference,turnout,inspected_at,kind,inspector", inspections)),
        (
            "measurements.csv",
            as_csv(
                "inspection,position,quantity,behind_point [in],value [in],route",
                ((*row, "") for row in readings),
            ),
        ),
        (
            "defects.csv",
            as_csv(
                "reference,inspection,position,kind,zone,length [in],width [in],"
                "depth [in],breaks_surface",
                found,
            ),
        ),
    ]


def _server_seconds() -> float:
    """Processor seconds the database has spent on this connection (Linux, same machine)."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        pid = cursor.fetchone()[0]
    stat = Path(f"/proc/{pid}/stat")
    if not stat.exists():
        return float("nan")
    user, system = stat.read_text().rsplit(")", 1)[1].split()[11:13]
    return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


def measure(by: Person, files: list[tuple[str, bytes]], name: str, *, dry_run: bool) -> None:
    steps: list[str] = []
    start, own, server = perf_counter(), process_time(), _server_seconds()
    report = import_now(
        by=by,
        files=files,
        dry_run=dry_run,
        progress=lambda done, total, words: steps.append(f"{perf_counter() - start:5.1f} {words}"),
    )
    seconds = perf_counter() - start
    if report.fault_count:
        raise SystemExit(f"{report.fault_count} faults; the first: {report.faults[0]}")
    rows = ", ".join(f"{s.name} {s.create}+{s.update}={s.unchanged}" for s in report.sheets)
    print(
        f"{name}: {seconds:.1f} s on the clock, of which the processor worked "
        f"{process_time() - own:.1f} s here and {_server_seconds() - server:.1f} s in the "
        f"database ({rows}); progress told {len(steps)} times"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--defects", type=int, default=20_000)
    parser.add_argument("--measurements", type=int, default=60_000)
    asked = parser.parse_args()
    files = upload(asked.defects, asked.measurements)
    with transaction.atomic():
        by = make_ground()
        measure(by, files, "dry run", dry_run=True)
        measure(by, files, "for real", dry_run=False)
        measure(by, files, "read again", dry_run=False)
        name, defects_found = files[-1]
        deeper = defects_found.replace(b"/16,yes", b"/32,yes")
        measure(by, [(name, deeper)], "all defects changed", dry_run=False)
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()
