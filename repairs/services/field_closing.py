"""What closing a job does to it, its defects, and what is left of the work."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from repairs.field.sheet import FieldSheet
from repairs.field.state import FieldState, Proof
from repairs.models import FieldRecord, JobDefect, JobSheet, RepairJob
from repairs.services.field_effects import as_it_happened
from repairs.services.jobs import OPEN, make_job_of_rest
from repairs.services.parts import bring_whole_in_line
from repairs.welding.refusals import WeldingRefusal
from turnouts.analysis.terms import DefectState
from turnouts.models import Person
from turnouts.services.errors import Refused
from turnouts.services.history import advance_defect


@dataclass(frozen=True)
class Closed:
    """What became of the job: its state, the defects repaired and left, the job of the rest.

    ``sentence`` says why there is no new job where something is left and none could be estimated.
    """

    job_state: str
    repaired: tuple[str, ...]
    left: tuple[str, ...]
    rest: str
    sentence: str


def close_job(
    *, sheet: JobSheet, facts: FieldSheet, state: FieldState, by: Person, at: datetime
) -> Closed:
    """Bring job and defects in line with what the record says; nothing of the work is lost.

    A defect is repaired when its zone is finished and nothing failed. The others wait, judged, and
    a new job is made for them.
    """
    job = RepairJob.objects.with_place().select_for_update(of=("self",)).get(pk=sheet.job_id)
    rows = list(
        job.treats.select_related("defect__turnout", "defect__component", "decision").order_by("pk")
    )
    became = came_to(sheet, facts, state)
    finished = [row for row in rows if became[row.defect.reference] != "left"]
    left = [row for row in rows if became[row.defect.reference] == "left"]
    job.state = "broken_off" if left else "done"
    job.version += 1
    job.save(update_fields=["state", "version"])
    _advance(finished, left, state, sheet, by, at)
    rest, sentence = rest_of(job, left, at) if left else ("", "")
    bring_whole_in_line(job)
    return Closed(
        job.state,
        tuple(row.defect.reference for row in finished),
        tuple(row.defect.reference for row in left),
        rest,
        sentence,
    )


def came_to(sheet: JobSheet, facts: FieldSheet, state: FieldState) -> dict[str, str]:
    """What each defect of the sheet's job came to: ``proved``, ``repaired`` or ``left``."""
    finished = {zone.defect for zone in facts.zones if zone.key in state.finished_zones}
    done = set() if state.failed else finished
    good = "proved" if state.proved and state.proof is Proof.CLEAN else "repaired"
    names = sheet.job.treats.values_list("defect__reference", flat=True)
    return {name: good if name in done else "left" for name in names}


def became_of(record: FieldRecord) -> dict[str, str]:
    """The same, as the first signature of a sheet left it."""
    closed, state = record.content["closed"], record.content["state"]
    readings = [one for one in state["measurements"] if one["governs"]]
    judged = [finding["within"] for one in readings for finding in one["findings"]]
    clean = state["proof"] == Proof.CLEAN.value and not state["missing"] and False not in judged
    good = "proved" if clean else "repaired"
    return dict.fromkeys(closed["repaired"], good) | dict.fromkeys(closed["left"], "left")


def _advance(
    finished: list[JobDefect],
    left: list[JobDefect],
    state: FieldState,
    sheet: JobSheet,
    by: Person,
    at: datetime,
) -> None:
    note = f"Job sheet {sheet.number}"
    proved = state.proved and state.proof is Proof.CLEAN
    ended = state.ended_at or at
    for row in finished:
        when = as_it_happened(row.defect, ended, at)
        steps = [DefectState.REPAIRED, *([DefectState.PROVED] if proved else [])]
        for step in steps:
            advance_defect(by=by, defect=row.defect, state=step, at=when, note=note)
    for row in left:
        word = f"{note}: not finished"
        when = as_it_happened(row.defect, ended, at)
        advance_defect(by=by, defect=row.defect, state=DefectState.TRIAGED, at=when, note=word)


def rest_of(job: RepairJob, left: list[JobDefect], at: datetime) -> tuple[str, str]:
    """The reference of a new job for what is left, or the sentence that says why there is none."""
    open_ones = RepairJob.objects.whole().filter(
        component=job.component_id, disposition=job.disposition, state__in=OPEN
    )
    if job.part_of is not None:  # the rest of a part is a part of the same job
        open_ones = open_ones.exclude(pk=job.part_of.pk)
    if (other := open_ones.first()) is not None:
        return "", (
            f"Job {other.reference} is open on this component; what is left waits, judged, for "
            "the next making of jobs."
        )
    for row in left:
        row.defect.refresh_from_db()
        row.decision = row.defect.decisions.filter(current=True).first() or row.decision
    try:
        with transaction.atomic():
            made = make_job_of_rest(job=job, treats=left, on=timezone.localdate(at), at=at)
    except (Refused, WeldingRefusal) as refusal:
        return "", str(refusal)
    return made.reference, ""
