"""Defects on their way to a job sheet, made through the services: what most tests begin with."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from repairs.models import Estimate, JobSheet, RepairJob, TerritoryRules
from repairs.services.job_sheets import TrackTime, issue_job_sheet
from repairs.services.jobs import JobsResult, make_jobs
from repairs.services.triage import TriageResult, triage_open
from tests import railway
from tests.certificates import certificate
from turnouts.analysis.terms import Quantity
from turnouts.models import Defect, Person, Territory, Turnout

DAY = date(2026, 3, 4)
"""Two days after the inspection of the invented railway."""

NOW = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
NIGHT = datetime(2026, 3, 5, 22, 0, tzinfo=UTC)
"""When the track time begins."""

GOOD = {
    Quantity.FLANGEWAY_WIDTH: "48",
    Quantity.FLANGEWAY_DEPTH: "45",
    Quantity.GUARD_CHECK_GAGE: "1388",
    Quantity.GUARD_FACE_GAGE: "1340",
    Quantity.POINT_WEAR_DEPTH: "3",
    Quantity.TREAD_WEAR: "3",
}
"""Readings in mm well inside the limits of class 3 (49 CFR 213.137 and 213.143)."""


def quiet(done: int, total: int, words: str) -> None:
    """Progress that nobody looks at."""


def spalled_point(at: Turnout | None = None, **values: Any) -> Defect:
    """A manganese point spalled 9 mm deep on class 3 track, with every gage measured and good.

    Shallower than the 3/8 in and 5/8 in of 49 CFR 213.137(b) and (c): welded, without a stop.
    """
    spot = at or railway.turnout()
    if not spot.track.classes.exists():
        railway.track_class(spot.track, 3)
    given: dict[str, Any] = {
        "zone": "point",
        "length_mm": Decimal(70),
        "width_mm": Decimal(20),
        "depth_mm": Decimal(9),
        "breaks_surface": True,
        "reaches_edge": False,
        "reaches_base": False,
    }
    defect = railway.spalled_frog(spot, **(given | values))
    for quantity, mm in GOOD.items():
        railway.measurement(defect.inspection, quantity, mm, defect.component)
    return defect


def judged(by: Person, on: date = DAY) -> TriageResult:
    return triage_open(by=by, on=on, at=NOW, progress=quiet)


def made(by: Person, on: date = DAY) -> JobsResult:
    return make_jobs(by=by, on=on, at=NOW, progress=quiet)


def under(territory: Territory, *names: str) -> None:
    """Put a territory under these shipped rule sets, as if two engineers had said so."""
    territory.rule_sets.all().delete()
    TerritoryRules.objects.bulk_create(
        TerritoryRules(territory=territory, rule_set=name) for name in names
    )


def job(defect: Defect | None = None, by: Person | None = None) -> RepairJob:
    """A repair job for the defect, judged and estimated."""
    defect = defect or spalled_point()
    by = by or railway.person("engineer", defect.turnout.territory)
    judged(by)
    made(by)
    return RepairJob.objects.with_place().get(treats__defect=defect)


def estimate_of(of: RepairJob) -> Estimate:
    return of.estimates.get(current=True)


def qualified(person: Person, *procedures: str) -> Person:
    """With certificates that hold in the week of the tests."""
    for procedure in procedures:
        certificate(person, procedure, date(2025, 3, 1), date(2027, 3, 1))
    return person


def welder(of: RepairJob, **values: Any) -> Person:
    """A welder of the job's territory who is qualified for it and may be in charge."""
    person = railway.person("welder", of.turnout.territory, **values)
    return qualified(person, of.procedure, "employee_in_charge")


def track_time(of: RepairJob, hours: int = 8, starts_at: datetime = NIGHT) -> TrackTime:
    return TrackTime(
        starts_at=starts_at,
        hand_back_at=starts_at + timedelta(hours=hours),
        window="W-1",
        track=str(of.turnout.track),
        from_milepost=Decimal(4),
        to_milepost=Decimal(6),
        protection="Exclusive track occupancy",
        employee_in_charge="Ada Lund",
    )


def sheet(
    of: RepairJob | None = None,
    people: Sequence[Person] | None = None,
    by: Person | None = None,
    **values: Any,
) -> JobSheet:
    """A job sheet issued to a qualified welder, for a night of eight hours."""
    of = of or job()
    given: dict[str, Any] = {
        "by": by or railway.person("supervisor", of.turnout.territory),
        "job": of,
        "estimate": estimate_of(of),
        "crew": "Night crew 1",
        "people": people if people is not None else [welder(of)],
        "track_time": track_time(of),
        "planned_start": NIGHT + timedelta(minutes=15),
        "chance": 0.97,
        "at": NOW,
    }
    return issue_job_sheet(**(given | values))
