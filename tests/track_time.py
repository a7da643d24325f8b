"""Crews, track time and repair jobs of an invented week, for tests of the planning.

The week begins on Monday 2 March 2026. A gang is one welder who is in charge as well.
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

from planning.models import Crew, CrewMember, Depot, Shift, Stock, Truck, WorkWindow
from repairs.models import Decision, Estimate, JobDefect, RepairJob
from repairs.services.estimates import estimate_row, worked_out
from repairs.services.jobs import work_of
from tests import railway
from tests.certificates import certificate
from turnouts.models import Component, Defect, Line, Person, Track, Turnout

MONDAY = date(2026, 3, 2)
PROCEDURE = "manganese-wire"

_number = count(1)


def at(day: int, hour: float) -> datetime:
    """An hour of a day of the week, Monday being 0."""
    start = datetime(MONDAY.year, MONDAY.month, MONDAY.day, tzinfo=UTC)
    return start + timedelta(days=day, hours=hour)


def depot(on: Line, mile: str = "1") -> Depot:
    return Depot.objects.create(
        territory=on.territory,
        code=f"DEP{next(_number)}",
        name="The depot",
        line=on,
        milepost=Decimal(mile),
        chainage_m=Decimal(mile) * railway.MILE_M,
    )


def crew(base: Depot, *, holds: tuple[str, ...] = (PROCEDURE, "employee_in_charge")) -> Crew:
    """A crew of one with a truck that carries plenty, on shift from 6 to 18 on all seven days."""
    number = next(_number)
    truck = Truck.objects.create(
        depot=base, code=f"TR{number}", name=f"Truck {number}", capacity_kg=5000
    )
    for material in (PROCEDURE, "carbons", "cavity_wheels", "profile_stones", "penetrant_set"):
        Stock.objects.create(truck=truck, material=material, quantity=300, unit="kg")
    row = Crew.objects.create(depot=base, truck=truck, code=f"CR{number}", name=f"Crew {number}")
    member(row, *holds)
    for day in range(7):
        Shift.objects.create(crew=row, starts_at=at(day, 6), ends_at=at(day, 18))
    return row


def member(of: Crew, *holds: str, expires_on: date | None = None) -> Person:
    """A welder who joins the crew with these qualifications."""
    person = railway.person("welder", of.depot.territory)
    CrewMember.objects.create(crew=of, person=person, since=railway.SINCE)
    for procedure in holds:
        certificate(person, procedure, railway.SINCE, expires_on)
    return person


def window(
    on: Track, day: int = 0, hours: tuple[float, float] = (8, 16), **values: Any
) -> WorkWindow:
    """Track time over the whole track, by default eight hours of Monday for one gang."""
    given = {
        "reference": f"W{next(_number)}",
        "from_milepost": 0,
        "to_milepost": 20,
        "from_m": 0,
        "to_m": 20 * railway.MILE_M,
        "protection": "exclusive_track_occupancy",
        "gangs": 1,
    } | values
    return WorkWindow.objects.create(
        track=on, starts_at=at(day, hours[0]), ends_at=at(day, hours[1]), **given
    )


def job(where: Turnout, *, minutes: float = 120, per_day: str = "100", **values: Any) -> RepairJob:
    """A weld job on a new spalled frog, with an estimate of so many minutes on average."""
    frog = railway.component()
    railway.install(frog, where)
    given = {
        "reference": f"R-{next(_number)}",
        "disposition": "weld_in_track",
        "procedure": PROCEDURE,
        "value_reason": "trains lose time",
    } | values
    row = RepairJob.objects.create(
        turnout=where, component=frog, value_per_day=Decimal(per_day), **given
    )
    JobDefect.objects.create(
        job=row, defect=(spall := _spall(where, frog)), decision=_decided(spall)
    )
    estimate(row, minutes)
    return row


def long_job(where: Turnout, *zones: str, **values: Any) -> RepairJob:
    """A weld job on spalls in several zones of one frog, with its estimate as it comes."""
    row = job(where, **values)
    Defect.objects.filter(treated_by__job=row).update(zone=zones[0])
    for zone in zones[1:]:
        spall = _spall(where, row.component)
        Defect.objects.filter(pk=spall.pk).update(zone=zone)
        JobDefect.objects.create(job=row, defect=spall, decision=_decided(spall))
    row.estimates.all().delete()
    answer = worked_out(work_of(row), row.procedure, MONDAY)
    estimate_row(job=row, answer=answer, at=at(-3, 9)).save()
    return row


def _spall(where: Turnout, frog: Component) -> Defect:
    sizes = {"length_mm": Decimal(120), "width_mm": Decimal(40), "depth_mm": Decimal(12)}
    found = railway.inspection(where, inspected_at=at(-5, 9))
    return railway.defect(frog, found, state="triaged", **sizes)


def _decided(spall: Defect) -> Decision:
    return Decision.objects.create(
        defect=spall,
        decided_at=at(-4, 9),
        decided_on=MONDAY - timedelta(days=4),
        rule_set="federal",
        traffic="class_speed",
        disposition="weld_in_track",
        due_reason="the railway's own rule",
        sentence="Weld it in track.",
        detail={},
    )


def estimate(of: RepairJob, minutes: float) -> Estimate:
    """The real estimate of the job, stretched to so many minutes with a tenth of spread."""
    answer = worked_out(work_of(of), of.procedure, MONDAY)
    row = estimate_row(job=of, answer=answer, at=at(-3, 9))
    row.mean_min, row.sd_min, row.shared = minutes, minutes / 10, 0.3
    row.save()
    return row
