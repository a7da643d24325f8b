"""What a job sheet says, put together once when it is issued; page and paper show the same."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from repairs.models import Decision, Estimate, Qualification, RepairJob
from repairs.services.plain import as_json
from repairs.welding.briefing import briefing
from repairs.welding.procedures import procedure_in_force
from turnouts.models import Defect, Person

GRINDING = "grinding"
TIMES = ("p50_min", "p80_min", "p95_min")


@dataclass(frozen=True)
class TrackTime:
    """The track time a crew is given, as the dispatcher and the crew speak of it."""

    starts_at: datetime
    hand_back_at: datetime
    window: str
    track: str
    from_milepost: Decimal
    to_milepost: Decimal
    protection: str
    employee_in_charge: str


@dataclass(frozen=True)
class Issue:
    """Everything a sheet is made from."""

    job: RepairJob
    estimate: Estimate
    crew: str
    people: Sequence[Person]
    track_time: TrackTime
    planned_start: datetime
    chance: float


def content_of(issue: Issue) -> dict[str, Any]:
    """The whole sheet as plain JSON. Lengths are in mm, times carry their offset."""
    detail = issue.estimate.detail
    return {
        "where": _where(issue.job),
        "track_time": as_json(issue.track_time)
        | {
            "starts_at": issue.track_time.starts_at.isoformat(),
            "hand_back_at": issue.track_time.hand_back_at.isoformat(),
            "planned_start": issue.planned_start.isoformat(),
            "chance": issue.chance,
        },
        "crew": {"name": issue.crew, "people": _people(issue)},
        "briefing": [asdict(point) for point in briefing()],
        "component": _component(issue.job),
        "work": issue.job.disposition,
        "defects": _defects(issue.job),
        "procedure": _procedure(issue),
        "stages": _stages(issue),
        "times": {
            name: getattr(issue.estimate, name) for name in ("p50_min", "p80_min", "p95_min")
        },
        "zones": detail.get("zones", []),
        **{
            name: detail.get(name, [])
            for name in ("hold_points", "steps", "materials", "cautions", "assumptions")
        },
    }


def _where(job: RepairJob) -> dict[str, Any]:
    turnout = job.turnout
    line = turnout.track.line
    return {
        "territory": line.territory.name,
        "line": line.name,
        "track": turnout.track.name,
        "milepost": str(turnout.milepost),
        "milepost_unit": line.milepost_unit,
        "turnout": turnout.code,
        "hand": turnout.hand,
        "faces": turnout.get_faces_display(),
        "frog_number": str(turnout.frog_number.normalize()),
        "rail_section": turnout.rail_section,
        "access": turnout.access,
    }


def _people(issue: Issue) -> list[dict[str, Any]]:
    """Who is in the gang and what each holds on the day."""
    day = issue.planned_start.date()
    held: dict[int, list[str]] = {person.pk: [] for person in issue.people}
    for row in Qualification.objects.filter(person__in=held).order_by("procedure"):
        if row.valid_on(day) and row.procedure not in held[row.person_id]:
            held[row.person_id].append(row.procedure)
    return [{"name": str(person), "holds": held[person.pk]} for person in issue.people]


def _component(job: RepairJob) -> dict[str, Any]:
    row = job.component
    return {"serial": row.serial, "kind": row.kind, "design": row.design, "steel": row.steel}


def _defects(job: RepairJob) -> list[dict[str, Any]]:
    rows = job.treats.select_related("defect", "decision").order_by("defect__reference")
    return [_defect(row.defect, row.decision) for row in rows]


def _defect(defect: Defect, decision: Decision) -> dict[str, Any]:
    names = ("length_mm", "width_mm", "depth_mm", "behind_point_mm")
    return {
        "reference": defect.reference,
        "kind": defect.kind,
        "zone": defect.zone,
        "orientation": defect.orientation,
        "breaks_surface": defect.breaks_surface,
        "note": defect.note,
        **{name: _text(getattr(defect, name)) for name in names},
        "traffic": decision.traffic,
        "speed_kmh": _text(decision.speed_kmh),
        "sentence": decision.sentence,
        "due_on": decision.due_on.isoformat() if decision.due_on else None,
    }


def _text(value: Decimal | None) -> str | None:
    return None if value is None else str(value)


def _procedure(issue: Issue) -> dict[str, Any]:
    """The procedure's settings as they stood when the job was estimated."""
    if issue.job.procedure == GRINDING:
        return {"id": GRINDING, "title": "Grinding without welding", "settings": []}
    procedure = procedure_in_force(issue.job.procedure, issue.estimate.procedure_since)
    rows = procedure.rows.values()
    return {
        "id": procedure.id,
        "title": procedure.title,
        "since": procedure.start.isoformat(),
        "process": procedure.process,
        "interpass": as_json(procedure.interpass),
        "settings": [
            {"name": row.key, "value": row.value, "unit": row.unit, "mark": row.mark.value}
            for row in rows
        ],
    }


def _stages(issue: Issue) -> list[dict[str, Any]]:
    """Each stage with the clock time it should begin and the last at which it may.

    Planned times add up the medians; the last moment leaves the 95 % time of all that follows.
    """
    begins = issue.planned_start
    stages = []
    for stage in issue.estimate.detail.get("stages", []):
        last = issue.track_time.hand_back_at - timedelta(minutes=stage["remaining_p95_min"])
        stages.append(
            {name: stage[name] for name in ("key", "name", "median_min", "p80_min", "open_cavity")}
            | {
                "hand_back": stage["hand_back"],
                "begins_at": begins.isoformat(),
                "last_start_at": last.isoformat(),
            }
        )
        begins += timedelta(minutes=stage["median_min"])
    return stages
