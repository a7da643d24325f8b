"""What a job sheet says, put together once when it is issued; page and paper show the same."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.contrib.auth.hashers import UNUSABLE_PASSWORD_PREFIX
from django.db.models import Q
from django.utils import timezone

from repairs.models import Decision, Estimate, Qualification, RepairJob
from repairs.services.acceptance import limits_for, penetrant
from repairs.services.editions import edition_used
from repairs.services.estimates import GRINDING
from repairs.services.parts import share_of, treated_in_order
from repairs.services.plain import as_json
from repairs.services.sheet_times import hand_back_states, stages_by_the_clock
from repairs.services.standing import Standing, overruled_words, standing_for
from repairs.welding.briefing import briefing
from repairs.welding.procedures import Procedure
from turnouts.analysis.terms import Role
from turnouts.models import Defect, Person, RoleGrant

TIMES = ("p50_min", "p80_min", "p95_min", "cavity_cm3", "filler_kg")
FROM_ESTIMATE = ("zones", "hold_points", "steps", "materials", "cautions", "assumptions")


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
    set_chance: float


def content_of(issue: Issue) -> dict[str, Any]:
    """The whole sheet as plain JSON. Lengths are in mm, times carry their offset."""
    detail = issue.estimate.detail
    rows = treated_in_order(issue.job)
    standing = standing_for([row.decision for row in rows])
    procedure = _edition(issue)
    return {
        "job": issue.job.reference,
        "part": share_of(issue.job),
        "where": _where(issue.job),
        "track_time": as_json(issue.track_time)
        | {
            "from_milepost": _plain(issue.track_time.from_milepost),
            "to_milepost": _plain(issue.track_time.to_milepost),
            "employee_in_charge": issue.track_time.employee_in_charge,
            "starts_at": issue.track_time.starts_at.isoformat(),
            "hand_back_at": issue.track_time.hand_back_at.isoformat(),
            "planned_start": issue.planned_start.isoformat(),
            "chance": issue.chance,
        },
        "crew": {"name": issue.crew, "people": _people(issue)},
        "briefing": [asdict(point) for point in briefing()],
        "component": _component(issue.job),
        "work": issue.job.disposition,
        "defects": [_defect(row.defect, row.decision, standing[row.decision_id]) for row in rows],
        "procedure": _procedure(procedure),
        "stages": stages_by_the_clock(detail, issue.planned_start, issue.track_time.hand_back_at),
        "probabilities": detail.get("remaining", {}).get("probabilities", []),
        "set_chance": issue.set_chance,
        "states": hand_back_states(detail["stages"]),
        "times": {name: getattr(issue.estimate, name) for name in TIMES},
        "acceptance": limits_for(rows[0].defect, timezone.localdate(issue.planned_start)),
        "penetrant": penetrant(procedure),
        "call": _call(issue),
        "cooling": _cooling(detail.get("heat")),
        **{name: detail[name] for name in FROM_ESTIMATE},
    }


def _cooling(heat: dict[str, Any] | None) -> dict[str, Any] | None:
    """How the measuring place cools after each layer, so that a phone without signal can say how
    long to wait from a reading; None for grinding."""
    if heat is None:
        return None
    return {name: heat[name] for name in ("limit_degc", "air_degc")} | {"layers": heat["cooling"]}


def _where(job: RepairJob) -> dict[str, Any]:
    turnout = job.turnout
    line = turnout.track.line
    return {
        "territory": line.territory.name,
        "line": line.name,
        "track": turnout.track.name,
        "milepost": _plain(turnout.milepost),
        "milepost_unit": line.milepost_unit,
        "turnout": turnout.code,
        "hand": turnout.hand,
        "faces": turnout.get_faces_display(),
        "frog_number": _plain(turnout.frog_number),
        "rail_section": turnout.rail_section,
        "access": turnout.access,
        "latitude": _text(turnout.latitude),
        "longitude": _text(turnout.longitude),
    }


def _plain(number: Decimal) -> str:
    """Without trailing zeros or an exponent: 10.00 is No. 10."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _people(issue: Issue) -> list[dict[str, Any]]:
    """Who is in the gang and what each holds on the day."""
    day = timezone.localdate(issue.planned_start)
    held: dict[int, list[str]] = {person.pk: [] for person in issue.people}
    for row in Qualification.objects.filter(person__in=held).order_by("procedure"):
        if row.valid_on(day) and row.procedure not in held[row.person_id]:
            held[row.person_id].append(row.procedure)
    return [{"name": str(person), "holds": held[person.pk]} for person in issue.people]


def _component(job: RepairJob) -> dict[str, Any]:
    row = job.component
    return {"serial": row.serial, "kind": row.kind, "design": row.design, "steel": row.steel}


def _defect(defect: Defect, decision: Decision, holds: Standing) -> dict[str, Any]:
    names = ("length_mm", "width_mm", "depth_mm", "behind_point_mm")
    return {
        "reference": defect.reference,
        "kind": defect.kind,
        "zone": defect.zone,
        "orientation": defect.orientation,
        "breaks_surface": defect.breaks_surface,
        "note": defect.note,
        **{name: _text(getattr(defect, name)) for name in names},
        "traffic": holds.traffic,
        "speed_kmh": _text(holds.speed_kmh),
        "sentence": f"{overruled_words(holds)} {decision.sentence}".strip(),
        "due_on": holds.due_on.isoformat() if holds.due_on else None,
    }


def _text(value: Decimal | None) -> str | None:
    return None if value is None else str(value)


def _edition(issue: Issue) -> Procedure | None:
    """The procedure as it stood when the job was estimated; None for grinding alone."""
    if issue.job.procedure == GRINDING:
        return None
    return edition_used(issue.estimate)


def _procedure(edition: Procedure | None) -> dict[str, Any]:
    if edition is None:
        return {"id": GRINDING, "title": "Grinding without welding", "settings": []}
    return {
        "id": edition.id,
        "title": edition.title,
        "since": edition.start.isoformat(),
        "own_edition": edition.own_edition,
        "process": edition.process,
        "interpass": as_json(edition.interpass),
        "settings": [
            {
                "key": row.key,
                "value": list(row.value) if isinstance(row.value, tuple) else row.value,
                "unit": row.unit,
                "mark": row.mark.value,
                "source": row.source,
                "clause": row.clause,
            }
            for row in edition.rows.values()
        ],
    }


def _call(issue: Issue) -> list[dict[str, str]]:
    """Whom to call, in the order to try. Numbers stand on the railway's own list, not here."""
    territory = issue.job.turnout.territory
    grants = RoleGrant.objects.filter(
        Q(territory=territory) | Q(territory__isnull=True),
        role__in=[Role.SUPERVISOR.value, Role.ENGINEER.value],
        person__is_active=True,
    ).exclude(person__password__startswith=UNUSABLE_PASSWORD_PREFIX)  # stand-ins answer no call
    people = {
        (grant.role, str(grant.person)): grant.person.email
        for grant in grants.select_related("person").order_by("-role", "person__username")
    }
    first = {"who": issue.track_time.employee_in_charge, "as": "Employee in charge", "email": ""}
    return [first] + [
        {"who": name, "as": Role(role).label, "email": email}
        for (role, name), email in people.items()
    ]
