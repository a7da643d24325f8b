"""Repair jobs: made from decisions that call for work in track, and estimated at once."""

import dataclasses
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from repairs.models import Decision, JobDefect, RepairJob
from repairs.services.estimates import Work, estimate_job, procedure_for
from repairs.triage.decision import Traffic, TrafficKind
from repairs.triage.priority import Worth, worth_per_day
from turnouts.access import Action, require, visible
from turnouts.analysis.terms import Disposition
from turnouts.models import Defect, Person
from turnouts.models import Traffic as TrafficRow
from turnouts.services.runs import Progress

IN_TRACK = (Disposition.WELD_IN_TRACK, Disposition.GRIND)
"""Dispositions that crews carry out in track time; the others are bought, sent or watched."""


@dataclasses.dataclass(frozen=True)
class JobsResult:
    """What making the jobs changed."""

    made: int
    changed: int
    unchanged: int
    cancelled: int
    refused: list[str]


def make_jobs(*, by: Person, on: date, at: datetime, progress: Progress) -> JobsResult:
    """One job for each component and kind of work that current decisions call for.

    A job that is already issued stays as it is. What the welding knowledge refuses (no procedure,
    a cavity too deep) makes no job and is reported with its sentence; it stops nothing else.
    """
    require(by, Action.ESTIMATE)
    wanted = _wanted(by)
    counts = {"made": 0, "changed": 0, "unchanged": 0}
    refused: list[str] = []
    for done, (_, decisions) in enumerate(sorted(wanted.items()), start=1):
        try:
            counts[_settle(decisions, on=on, at=at)] += 1
        except ValueError as refusal:
            refused.append(f"{decisions[0].defect.component.serial}: {refusal}")
        progress(done, len(wanted), "Estimating repairs")
    cancelled = _cancel_unwanted(by, wanted)
    return JobsResult(**counts, cancelled=cancelled, refused=refused)


Wanted = dict[tuple[int, str], list[Decision]]


def _wanted(by: Person) -> Wanted:
    """Current decisions for work in track on open defects, by component and kind of work."""
    decisions = (
        visible(by, Decision.objects.current(), Action.ESTIMATE)
        .filter(
            disposition__in=[d.value for d in IN_TRACK],
            defect__in=Defect.objects.still_open(),
        )
        .select_related("defect__component", "defect__turnout")
        .order_by("defect__reported_on", "defect__reference")
    )
    found: Wanted = defaultdict(list)
    for decision in decisions:
        found[(decision.defect.component_id, decision.disposition)].append(decision)
    return found


@transaction.atomic
def _settle(decisions: Sequence[Decision], *, on: date, at: datetime) -> str:
    """Bring the open job of one component and kind of work in line with the decisions."""
    first = decisions[0]
    job = _open_job(first)
    if job is not None and job.state != "estimated":
        return "unchanged"
    work = _work(decisions)
    procedure = procedure_for(work, on)
    worth = _worth(decisions, on)
    values = {
        "procedure": procedure,
        "due_on": min((d.due_on for d in decisions if d.due_on), default=None),
        "value_per_day": Decimal(f"{worth.per_day:.2f}"),
        "value_reason": worth.reason[:300],
    }
    if job is not None and _as_it_was(job, values, decisions):
        return "unchanged"
    said = "made" if job is None else "changed"
    job = _write(job, first, values)
    _treat(job, decisions)
    estimate_job(job=job, work=work, on=on, at=at)
    return said


def _open_job(decision: Decision) -> RepairJob | None:
    return (
        RepairJob.objects.select_for_update()
        .filter(
            component=decision.defect.component,
            disposition=decision.disposition,
            state__in=["estimated", "issued", "in_work"],
        )
        .first()
    )


def _as_it_was(job: RepairJob, values: dict[str, object], decisions: Sequence[Decision]) -> bool:
    treated = set(job.treats.values_list("decision_id", flat=True))
    return treated == {d.pk for d in decisions} and all(
        getattr(job, name) == value for name, value in values.items()
    )


def _write(job: RepairJob | None, first: Decision, values: dict[str, object]) -> RepairJob:
    if job is None:
        return RepairJob.objects.create(
            reference=_reference(first),
            turnout=first.defect.turnout,
            component=first.defect.component,
            disposition=first.disposition,
            **values,
        )
    for name, value in values.items():
        setattr(job, name, value)
    job.version += 1
    job.save(update_fields=[*values, "version"])
    return job


def _reference(first: Decision) -> str:
    """``R-`` and the first defect's reference; a later job on the same defect is numbered on."""
    stem = f"R-{first.defect.reference}"[:34]
    earlier = RepairJob.objects.filter(reference__startswith=stem).count()
    return f"{stem}-{earlier + 1}" if earlier else stem


def _treat(job: RepairJob, decisions: Iterable[Decision]) -> None:
    job.treats.all().delete()
    JobDefect.objects.bulk_create(
        JobDefect(job=job, defect=d.defect, decision=d) for d in decisions
    )


def _work(decisions: Sequence[Decision]) -> Work:
    first = decisions[0]
    return Work(
        component=first.defect.component,
        disposition=Disposition(first.disposition),
        defects=tuple(d.defect for d in decisions),
    )


def _worth(decisions: Sequence[Decision], on: date) -> Worth:
    """The dearest of the defects counts: repairing them together lifts one restriction."""
    trains = _trains_per_day(decisions[0].defect.turnout_id, on)
    line_kmh = float(decisions[0].defect.turnout.speed_through_kmh)
    worths = [
        worth_per_day(
            Traffic(TrafficKind(d.traffic), None, None, d.speed_kmh),
            line_kmh=line_kmh,
            trains_per_day=trains,
            growing=True,
            on=on,
        )
        for d in decisions
    ]
    return max(worths, key=lambda worth: worth.per_day)


def _trains_per_day(turnout_id: int, on: date) -> float:
    """Trains a day over both routes by the newest count of each."""
    rows = TrafficRow.objects.filter(turnout=turnout_id, since__lte=on).order_by("since")
    newest = {row.route: float(row.trains_per_day) for row in rows}
    return sum(newest.values())


def _cancel_unwanted(by: Person, wanted: Wanted) -> int:
    """Jobs not yet issued whose decisions no longer call for them are cancelled, and kept."""
    rows = visible(by, RepairJob.objects.filter(state="estimated"), Action.ESTIMATE)
    gone = [job for job in rows if (job.component_id, job.disposition) not in wanted]
    for job in gone:
        job.state = "cancelled"
        job.version += 1
    return RepairJob.objects.bulk_update(gone, ["state", "version"])
