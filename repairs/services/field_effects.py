"""What follows from events for the job and the track: work begun, a restriction to be confirmed."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from repairs.field.events import TrackState
from repairs.field.state import FieldState
from repairs.field.track import WORDS
from repairs.models import JobSheet, RepairJob, TrackRestriction
from repairs.services.field_rows import field_state
from repairs.services.parts import bring_whole_in_line
from turnouts.access import Action, acting_role, require
from turnouts.analysis.terms import DefectState
from turnouts.models import Defect, Person
from turnouts.services.errors import Conflict
from turnouts.services.history import advance_defect

BEFORE_WORK = ("estimated", "issued")


def after_events(*, sheet: JobSheet, by: Person, at: datetime) -> FieldState:
    """Bring job and restriction in line with what was entered. Doing it again changes nothing."""
    state = field_state(sheet)
    if state.started:
        _into_work(sheet, state, by, at)
    if state.handed_back is not None:
        _restrict(sheet, state, at)
    return state


def as_it_happened(defect: Defect, happened: datetime, at: datetime) -> datetime:
    """When something happened to a defect that the office heard of at ``at``.

    Never before the last step of its life, which would put the steps out of their order.
    """
    last = defect.steps.order_by("-at").values_list("at", flat=True).first()
    true = min(happened, at)
    return true if last is None else max(true, last)


def _into_work(sheet: JobSheet, state: FieldState, by: Person, at: datetime) -> None:
    """The job is in work from the first start on; work done by a withdrawn sheet is work too."""
    job = RepairJob.objects.select_for_update().get(pk=sheet.job_id)
    if job.state not in BEFORE_WORK:
        return
    job.state = "in_work"
    job.version += 1
    job.save(update_fields=["state", "version"])
    for treated in job.treats.select_related("defect"):
        advance_defect(
            by=by,
            defect=treated.defect,
            state=DefectState.IN_WORK,
            at=as_it_happened(treated.defect, state.started_at or at, at),
            note=f"Job sheet {sheet.number}",
        )
    bring_whole_in_line(job)


def _restrict(sheet: JobSheet, state: FieldState, at: datetime) -> None:
    """Write down what trains may do where the track went back as anything but whole."""
    said = state.handed_back
    if said is None or TrackRestriction.objects.filter(sheet=sheet).exists():
        return
    whole = state.track is TrackState.RESTORED and said.state is TrackState.RESTORED
    as_found = state.track is TrackState.AS_FOUND and said.state is TrackState.AS_FOUND
    if (whole and said.speed_kmh is None) or as_found:
        return
    TrackRestriction.objects.create(
        sheet=sheet, speed_kmh=said.speed_kmh, reason=_reason(state)[:1000], proposed_at=at
    )


def close_what_nobody_handed_back(sheet: JobSheet, state: FieldState, at: datetime) -> None:
    """Propose to close the track after a job broken off of which no handing back is entered.

    Only once the record is signed: until then the entry may still be on its way from a phone.
    """
    broken, untouched = state.broken_off, state.track is TrackState.AS_FOUND
    if broken is None or state.handed_back is not None or untouched:
        return
    question_the_track(
        sheet,
        f"Broken off ({broken.reason}), and nobody is entered as having handed the track back. "
        f"{WORDS[state.track]}",
        at,
    )


def question_the_track(sheet: JobSheet, reason: str, at: datetime) -> None:
    """Propose to close the track until a qualified person has spoken, where no word is awaited."""
    if not sheet.restrictions.filter(confirmed_at__isnull=True).exists():
        TrackRestriction.objects.create(sheet=sheet, reason=reason[:1000], proposed_at=at)


def _reason(state: FieldState) -> str:
    said = state.handed_back
    assert said is not None  # noqa: S101 - asked by the caller
    words = [f"Handed back as {said.state.label.lower()} by the word of {said.qualified_person}."]
    words += [said.note] if said.note else []
    words += [one.sentence for one in state.deviations if one.about.value in ("track", "limit")]
    return " ".join(dict.fromkeys([*words, *state.failed[:1]]))


@transaction.atomic
def confirm_restriction(
    *, by: Person, restriction: TrackRestriction, speed_kmh: Decimal | None, note: str, at: datetime
) -> TrackRestriction:
    """A qualified person's word on what trains may do; ``speed_kmh`` None: closed to traffic."""
    territory = restriction.sheet.job.turnout.territory
    require(by, Action.CONFIRM, territory)
    row = TrackRestriction.objects.select_for_update().get(pk=restriction.pk)
    if row.confirmed_at is not None:
        raise Conflict(f"The restriction after sheet {row.sheet} was confirmed already.")
    row.confirmed_at, row.confirmed_by, row.confirmed_note = at, by, note.strip()[:300]
    row.confirmed_role = acting_role(by, Action.CONFIRM, territory).value
    row.confirmed_kmh = speed_kmh
    row.save()
    return row
