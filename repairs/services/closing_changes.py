"""What a correction after the signature changes of a job's closing: proposed, then answered.

A reading put right may make a proved repair a failed one, or a failed one good. Nothing of the job
or its defects changes by that alone: a second, qualified person answers. Only that trains may be in
question is said at once, as a restriction that waits for the same kind of word.
"""

from collections.abc import Mapping
from datetime import datetime

from celery import current_app
from django.conf import settings
from django.db import transaction

from repairs.field.sheet import FieldSheet
from repairs.field.state import FieldState
from repairs.models import ClosingChange, ClosingNotice, FieldRecord, JobDefect, JobSheet, RepairJob
from repairs.services.field_closing import became_of, came_to, rest_of
from repairs.services.field_effects import question_the_track
from repairs.services.field_watch import TASK, supervisors_of
from repairs.services.jobs import OPEN
from repairs.services.parts import bring_whole_in_line
from turnouts.access import Action, Forbidden, require, visible
from turnouts.analysis.terms import DefectState
from turnouts.models import Defect, Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.history import advance_defect

LEFT = "left"
WORDS = {"proved": "repaired and proved", "repaired": "repaired, not proved", LEFT: "not repaired"}

_S = DefectState
STEPS: dict[tuple[DefectState, str], tuple[DefectState, ...]] = {
    (_S.PROVED, LEFT): (_S.IN_WORK, _S.TRIAGED),
    (_S.REPAIRED, LEFT): (_S.IN_WORK, _S.TRIAGED),
    (_S.PROVED, "repaired"): (_S.IN_WORK, _S.REPAIRED),
    (_S.REPAIRED, "proved"): (_S.PROVED,),
    (_S.TRIAGED, "repaired"): (_S.IN_WORK, _S.REPAIRED),
    (_S.PLANNED, "repaired"): (_S.IN_WORK, _S.REPAIRED),
    (_S.TRIAGED, "proved"): (_S.IN_WORK, _S.REPAIRED, _S.PROVED),
    (_S.PLANNED, "proved"): (_S.IN_WORK, _S.REPAIRED, _S.PROVED),
}
"""The steps of a defect's life from where it is to what the corrected record says of it."""


def propose_closing_change(
    *, record: FieldRecord, facts: FieldSheet, state: FieldState, at: datetime
) -> ClosingChange | None:
    """Ask for an answer where a correction says another thing of the repair than the closing does.

    None where the closing stands; what waited for an answer before is overtaken either way.
    """
    sheet = record.sheet
    ClosingChange.objects.filter(record__sheet=sheet, state="proposed").update(state="overtaken")
    stood, should_be = standing_closing(sheet), came_to(sheet, facts, state)
    if stood == should_be:
        return None
    made = ClosingChange.objects.create(
        record=record,
        stood=stood,
        should_be=should_be,
        reason=_reason(stood, should_be, state)[:300],
        proposed_by=record.signed_by,
        proposed_at=at,
    )
    if any(should_be[name] == LEFT != stood[name] for name in should_be):
        question_the_track(
            sheet, f"By a correction signed by {record.signed_name}: {made.reason}", at
        )
    _tell(made)
    return made


def standing_closing(sheet: JobSheet) -> dict[str, str]:
    """What each defect stands as: by the last approved change, else by the first signature."""
    changes = ClosingChange.objects.filter(record__sheet=sheet, state="approved")
    last = changes.order_by("-record__number").first()
    if last is not None:
        return dict(last.should_be)
    return became_of(sheet.records.get(number=1))


def waiting_closings(person: Person) -> list[ClosingChange]:
    """What waits for an answer where somebody supervises, the longest waiting first."""
    rows = visible(person, ClosingChange.objects.filter(state="proposed"), Action.LET_START)
    return list(
        rows.select_related("record__sheet__job__turnout", "proposed_by").order_by("proposed_at")
    )


def _reason(stood: Mapping[str, str], should_be: Mapping[str, str], state: FieldState) -> str:
    changed = [
        f"{name} stands as {WORDS[stood[name]]}; by the corrected record it is {WORDS[now]}."
        for name, now in sorted(should_be.items())
        if stood[name] != now
    ]
    return " ".join([*changed, *state.failed])


def _tell(change: ClosingChange) -> None:
    """Write to each supervisor of the territory who has an address."""
    sheet = change.record.sheet
    lines = [
        f"Job {sheet.job.reference} at turnout {sheet.job.turnout.code}, sheet {sheet.number}.",
        "",
        change.reason,
        "",
        f"Corrected by {change.record.signed_name}: {change.record.statement}",
        "Job and defects stay as they are until a second, qualified person answers.",
    ]
    if settings.SITE_URL:
        lines.append(f"{settings.SITE_URL}/sheets/{sheet.number}/record/")
    ClosingNotice.objects.bulk_create(
        ClosingNotice(
            change=change,
            person=person,
            subject=f"{sheet.job.turnout.code}: a signed record was corrected, the closing waits",
            text="\n".join(lines),
        )
        for person in supervisors_of(sheet.job.turnout.territory)
    )
    transaction.on_commit(lambda: current_app.signature(TASK).apply_async(), robust=True)


@transaction.atomic
def approve_closing_change(
    *, by: Person, change: ClosingChange, at: datetime, note: str = ""
) -> ClosingChange:
    """Bring job and defects in line with the corrected record, as the second qualified person.

    Conflict where it was answered, or where work on what is left has begun or is issued.
    """
    row = _held(by, change)
    row.done = _carried_out(row, by, at)
    return _answered(row, "approved", by, note, at)


@transaction.atomic
def reject_closing_change(
    *, by: Person, change: ClosingChange, note: str, at: datetime
) -> ClosingChange:
    """Leave the closing as it stands, with words; the proposal is kept."""
    row = _held(by, change)
    if not note.strip():
        raise Refused("Say in words why the closing stays as it is.")
    return _answered(row, "rejected", by, note, at)


def _held(by: Person, change: ClosingChange) -> ClosingChange:
    """The proposal, held until the transaction ends, if this person may answer it."""
    rows = ClosingChange.objects.select_for_update(of=("self",)).select_related("record__sheet")
    row = rows.get(pk=change.pk)
    require(by, Action.CONFIRM, row.record.sheet.job.turnout.territory)
    if row.proposed_by_id == by.pk:
        raise Forbidden("You signed this correction; a second qualified person has to answer it.")
    if row.state != "proposed":
        raise Conflict(f"This was answered meanwhile: {row.get_state_display().lower()}.")
    return row


def _answered(row: ClosingChange, state: str, by: Person, note: str, at: datetime) -> ClosingChange:
    row.state, row.answered_by, row.answered_at = state, by, at
    row.answer_note = note.strip()[:300]
    row.save()
    return row


def _carried_out(row: ClosingChange, by: Person, at: datetime) -> list[str]:
    """What approving did, in sentences."""
    sheet = row.record.sheet
    job = RepairJob.objects.with_place().select_for_update(of=("self",)).get(pk=sheet.job_id)
    treats = list(
        job.treats.select_related("defect__turnout", "defect__component", "decision").order_by("pk")
    )
    made_good = any(row.stood[name] == LEFT != now for name, now in row.should_be.items())
    said = _without_rest(job, made_good)
    for one in treats:
        said += _stepped(one.defect, row.should_be[one.defect.reference], row, by, at)
    left = [one for one in treats if row.should_be[one.defect.reference] == LEFT]
    job.state = "broken_off" if left else "done"
    job.version += 1
    job.save(update_fields=["state", "version"])
    bring_whole_in_line(job)
    said.append(f"Job {job.reference} is {job.get_state_display().lower()}.")
    return said + (_with_rest(job, left, at) if left else [])


def _without_rest(job: RepairJob, made_good: bool) -> list[str]:
    """Take back the job of the rest, which was made for what stood as left.

    Where it is issued or under way it stays, and nothing that it treats can be called good.
    """
    said = []
    for rest in job.rest.select_for_update().filter(state__in=OPEN):
        if rest.state != "estimated":
            if not made_good:
                continue
            raise Conflict(
                f"Job {rest.reference} does the rest of this one and is "
                f"{rest.get_state_display().lower()}. Withdraw its sheet first, or reject this."
            )
        rest.state = "cancelled"
        rest.version += 1
        rest.save(update_fields=["state", "version"])
        said.append(f"Job {rest.reference}, made for the rest, is cancelled.")
    return said


def _with_rest(job: RepairJob, left: list[JobDefect], at: datetime) -> list[str]:
    waiting = [
        one for one in left if Defect.objects.get(pk=one.defect_id).state == _S.TRIAGED.value
    ]
    if not waiting:
        return []
    reference, sentence = rest_of(job, waiting, at)
    return [f"What is left is job {reference}." if reference else sentence]


def _stepped(
    defect: Defect, target: str, row: ClosingChange, by: Person, at: datetime
) -> list[str]:
    """Bring one defect to what the record says of it; a sentence where it has gone another way."""
    present = DefectState(defect.state)
    record = row.record
    note = f"Job sheet {record.sheet.number}, record {record.number} corrected: {WORDS[target]}"
    if _stands(present, target):
        return []
    steps = STEPS.get((present, target))
    if steps is None:
        return [
            f"{defect.reference} is {present.label.lower()} and stays so; report a new defect "
            "where it needs one."
        ]
    for step in steps:
        advance_defect(by=by, defect=defect, state=step, at=at, note=note)
    return [f"{defect.reference} is now {WORDS[target]}."]


def _stands(present: DefectState, target: str) -> bool:
    waits = (_S.REPORTED, _S.TRIAGED, _S.PLANNED)
    return present in waits if target == LEFT else present.value == target
