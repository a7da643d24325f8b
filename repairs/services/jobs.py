"""Repair jobs: made from decisions that call for work in track, and estimated at once."""

import dataclasses
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zlib import crc32

from django.db import transaction
from django.db.models import Prefetch, Q

from repairs.models import Decision, Estimate, JobDefect, Overrule, RepairJob
from repairs.services.editions import approved_editions
from repairs.services.estimates import (
    Known,
    Work,
    edition_on,
    estimate_row,
    known_of,
    lance_for,
    procedure_for,
    worked_out,
)
from repairs.services.learning import learnt
from repairs.services.standing import as_it_stands
from repairs.services.worth import trains_by_turnout, worth_of
from repairs.welding import result as welding
from repairs.welding.learning import Experience
from repairs.welding.own_editions import OwnEdition
from repairs.welding.refusals import WeldingRefusal
from turnouts.access import Action, require, visible
from turnouts.analysis.terms import DefectState, Disposition
from turnouts.models import Person, Territory
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import Progress

IN_TRACK = (Disposition.WELD_IN_TRACK, Disposition.GRIND)
"""Dispositions that crews carry out in track time; the others are bought, sent or watched."""

TREATED = (DefectState.TRIAGED, DefectState.PLANNED, DefectState.IN_WORK)
"""Defects a job may be for: judged, and not yet repaired."""

OPEN = ("estimated", "issued", "in_work")

CURRENT_EDITION = Prefetch(
    "estimates",
    Estimate.objects.filter(current=True).only(
        "job", "procedure", "procedure_since", "own_edition", "lance_w_per_m2_k"
    ),
    to_attr="current_edition",
)
"""Which edition each job's current estimate was made by."""


@dataclasses.dataclass(frozen=True)
class JobsResult:
    """What making the jobs changed; ``refused`` holds a sentence for each job that was not made."""

    made: int
    changed: int
    unchanged: int
    cancelled: int
    refused: list[str]


@dataclasses.dataclass(frozen=True)
class _Settled:
    """One job as it is to be: a new one where ``job`` is not saved yet."""

    job: RepairJob
    decisions: list[Decision]
    answer: welding.Estimate


Wanted = dict[tuple[int, str], list[Decision]]


@transaction.atomic
def make_jobs(*, by: Person, on: date, at: datetime, progress: Progress) -> JobsResult:
    """One job for each component and kind of work that current decisions call for.

    A job that is already issued stays as it is. What the welding knowledge refuses (no procedure,
    a cavity too deep) makes no job and is reported with its sentence; it stops nothing else.
    """
    require(by, Action.ESTIMATE)
    _one_at_a_time(by)
    wanted = _wanted(by)
    present = _open_jobs(wanted)
    trains = trains_by_turnout({d[0].defect.turnout_id for d in wanted.values()}, on)
    own, known = approved_editions(), learnt()
    settled: list[_Settled] = []
    refused: list[str] = []
    for done, (key, decisions) in enumerate(sorted(wanted.items()), start=1):
        try:
            job = _settle(present.get(key), decisions, trains, on, own, known)
        except (Refused, WeldingRefusal) as refusal:
            refused.append(f"{decisions[0].defect.component.serial}: {refusal}")
        else:
            settled += [job] if job is not None else []
        progress(done, len(wanted), "Estimating repairs")
    made = _write(settled, at, own, known)
    return JobsResult(
        made=made,
        changed=len(settled) - made,
        unchanged=len(wanted) - len(settled) - len(refused),
        cancelled=_cancel_unwanted(by, wanted),
        refused=refused,
    )


@transaction.atomic
def reestimate_job(*, by: Person, job: RepairJob, on: date, at: datetime) -> Estimate:
    """Work an estimated job out anew from its defects as they are recorded now.

    It is done by the procedure in force on the day; the earlier estimate is kept.
    """
    require(by, Action.ESTIMATE, job.turnout.territory)
    row = RepairJob.objects.select_for_update().get(pk=job.pk)
    if row.state != "estimated":
        raise Conflict(
            f"Job {row.reference} is {row.get_state_display().lower()}; its estimate stands. "
            "Withdraw the job sheet first."
        )
    work = work_of(row)
    own = approved_editions()
    row.procedure = procedure_for(work, on, own)
    answer = worked_out(work, row.procedure, on, own)
    row.version += 1
    row.save(update_fields=["procedure", "version"])
    row.estimates.filter(current=True).update(current=False)
    _drop_parts([row])
    made = estimate_row(job=row, answer=answer, at=at, own=own)
    made.save()
    return made


def make_job_of_rest(
    *, job: RepairJob, treats: Sequence[JobDefect], on: date, at: datetime
) -> RepairJob:
    """A new job for what a broken-off one left, estimated at once.

    Raises Refused or a WeldingRefusal where no estimate can be made; then the defects wait, judged,
    for the next making of jobs. The caller holds the right and the transaction.
    """
    own, known = approved_editions(), learnt()
    work = Work(job.component, Disposition(job.disposition), tuple(row.defect for row in treats))
    rest = RepairJob(
        turnout=job.turnout,
        component=job.component,
        disposition=job.disposition,
        procedure=procedure_for(work, on, own),
        due_on=job.due_on,
        value_per_day=job.value_per_day,
        value_reason=job.value_reason,
        follows=job,
        part_of=job.part_of,
        part_number=job.part_number,
        part_count=job.part_count,
    )
    answer = worked_out(work, rest.procedure, on, own, known)
    _write([_Settled(rest, [row.decision for row in treats], answer)], at, own, known)
    return rest


def work_of(job: RepairJob) -> Work:
    """What a job does: its component and the defects it treats, in the order they were found."""
    rows = job.treats.select_related("defect").order_by("defect__reported_on", "defect__reference")
    return Work(job.component, Disposition(job.disposition), tuple(row.defect for row in rows))


def _one_at_a_time(by: Person) -> None:
    """Two runs at once would each make the same job; the second waits for the first to end."""
    rows = visible(by, Territory.objects.order_by("pk"), Action.ESTIMATE)
    list(rows.select_for_update(no_key=True).values_list("pk"))


def _wanted(by: Person) -> Wanted:
    """Current decisions for work in track on open defects, by component and kind of work.

    An engineer's word goes before the machine's, for the kind of work as for its due date.
    """
    overruled = Overrule.objects.values("decision__defect")
    decisions = (
        visible(by, Decision.objects.current(), Action.ESTIMATE)
        .filter(Q(disposition__in=IN_TRACK) | Q(defect__in=overruled), defect__state__in=TREATED)
        .select_related("defect__component", "defect__turnout")
        .order_by("defect__reported_on", "defect__reference")
    )
    found: Wanted = defaultdict(list)
    for decision in as_it_stands(list(decisions)):
        if decision.disposition in IN_TRACK:
            found[(decision.defect.component_id, decision.disposition)].append(decision)
    return found


def _open_jobs(wanted: Wanted) -> dict[tuple[int, str], RepairJob]:
    rows = RepairJob.objects.whole().filter(component__in={k[0] for k in wanted}, state__in=OPEN)
    rows = rows.prefetch_related("treats", CURRENT_EDITION)
    return {(job.component_id, job.disposition): job for job in rows}


def _settle(
    job: RepairJob | None,
    decisions: list[Decision],
    trains: dict[int, float],
    on: date,
    own: tuple[OwnEdition, ...],
    known: Mapping[str, Experience],
) -> _Settled | None:
    """The job in line with the decisions, or None where it is so already."""
    first = decisions[0].defect
    if job is not None and job.state != "estimated":
        return None
    work = Work(
        first.component, Disposition(decisions[0].disposition), tuple(d.defect for d in decisions)
    )
    worth = worth_of(decisions, trains[first.turnout_id], on)
    values: dict[str, Any] = {
        "procedure": procedure_for(work, on, own),
        "due_on": min((d.due_on for d in decisions if d.due_on), default=None),
        "value_per_day": Decimal(f"{worth.per_day:.2f}"),
        "value_reason": worth.reason[:300],
    }
    if (
        job is not None
        and _as_it_was(job, values, decisions)
        and edition_stands(job, on, own, known)
    ):
        return None
    answer = worked_out(work, values["procedure"], on, own, known)
    if job is None:
        job = RepairJob(
            turnout=first.turnout, component=first.component, disposition=decisions[0].disposition
        )
    for name, value in values.items():
        setattr(job, name, value)
    return _Settled(job, decisions, answer)


def _as_it_was(job: RepairJob, values: dict[str, Any], decisions: Sequence[Decision]) -> bool:
    treated = {row.decision_id for row in job.treats.all()}
    return treated == {d.pk for d in decisions} and all(
        getattr(job, name) == value for name, value in values.items()
    )


def edition_stands(job: RepairJob, on: date, own: tuple[OwnEdition, ...], known: Known) -> bool:
    """Whether the current estimate is by the edition and the lance in force.

    The job is read with CURRENT_EDITION.
    """
    edition = edition_on(job.procedure, on, own)
    if edition is None:
        return True
    lance = lance_for(edition, known_of(job.procedure, known))
    made_by = [
        (e.procedure, e.procedure_since, e.own_edition_id, e.lance_w_per_m2_k)
        for e in job.current_edition  # type: ignore[attr-defined]
    ]
    return made_by == [(edition.id, edition.start, edition.own_edition, lance)]


def _write(
    settled: Sequence[_Settled],
    at: datetime,
    own: tuple[OwnEdition, ...],
    known: Mapping[str, Experience],
) -> int:
    """Save the jobs with what they treat and their estimates; how many of them are new."""
    new = [one for one in settled if one.job.pk is None]
    old = [one.job for one in settled if one.job.pk is not None]
    _name(new)
    RepairJob.objects.bulk_create([one.job for one in new])
    for job in old:
        job.version += 1
    RepairJob.objects.bulk_update(
        old, ["procedure", "due_on", "value_per_day", "value_reason", "version"]
    )
    _drop_parts(old)
    JobDefect.objects.filter(job__in=old).delete()
    JobDefect.objects.bulk_create(
        JobDefect(job=one.job, defect=decision.defect, decision=decision)
        for one in settled
        for decision in one.decisions
    )
    Estimate.objects.filter(job__in=old, current=True).update(current=False)
    Estimate.objects.bulk_create(
        estimate_row(job=one.job, answer=one.answer, at=at, own=own, known=known) for one in settled
    )
    return len(new)


def _drop_parts(jobs: Sequence[RepairJob]) -> None:
    """Parts share a job's zones out as it was estimated; of a new estimate they are cut anew."""
    RepairJob.objects.filter(part_of__in=jobs, state="estimated").update(state="cancelled")


def _name(new: Sequence[_Settled]) -> None:
    """``R-`` and the first defect's reference; a later job on the same defect is numbered on."""
    rows = RepairJob.objects.filter(component__in=[one.job.component_id for one in new])
    taken = set(rows.values_list("reference", flat=True))
    for one in new:
        stem = _stem(one.decisions[0].defect.reference)
        later = (f"{stem}-{number}" for number in range(2, len(taken) + 3))
        one.job.reference = next(name for name in (stem, *later) if name not in taken)
        taken.add(one.job.reference)


def _stem(reference: str) -> str:
    """At most 36 letters, so that a number still fits; a long reference is shortened, never cut
    to the same as another."""
    if len(reference) <= 34:
        return f"R-{reference}"
    return f"R-{reference[:25]}-{crc32(reference.encode()):08x}"


def _cancel_unwanted(by: Person, wanted: Wanted) -> int:
    """Jobs not yet issued whose decisions no longer call for them are cancelled, and kept."""
    rows = visible(by, RepairJob.objects.filter(state="estimated"), Action.ESTIMATE)
    gone = [job for job in rows if (job.component_id, job.disposition) not in wanted]
    for job in gone:
        job.state = "cancelled"
        job.version += 1
    return RepairJob.objects.bulk_update(gone, ["state", "version"])
