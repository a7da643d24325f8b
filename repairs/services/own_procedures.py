"""The railway's own editions of procedures: proposed by one engineer, answered by another."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from repairs.models import OwnerProcedure, OwnerSetting
from repairs.services.editions import approved_editions, edition_of
from repairs.services.queue import request_renewal
from repairs.welding.own_editions import Change, OwnEdition, laid_over
from repairs.welding.procedures import Procedure, procedure_in_force
from repairs.welding.refusals import WeldingRefusal
from turnouts.access import Action, Forbidden, require, territory_ids
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict, Refused, check_version
from turnouts.services.runs import newest_run

LETTERS = 300
WORDS_LETTERS = 200
LIST_ENTRIES = 10
PREVIEW = "edition preview"
"""The kind of the long run that shows what a proposed edition would change."""


@dataclass(frozen=True)
class OwnInterpass:
    """An interpass ceiling of the railway's own: degC, mm from the weld (0: on it), and why."""

    limit_degc: float
    place_mm: float
    reason: str


@dataclass(frozen=True)
class EditionProposal:
    """What an engineer asks for: every setting that is to differ from the shipped edition.

    ``seen`` is the id of the railway's newest approved edition as the person saw it, 0 for none.
    """

    procedure: str
    starts_on: date
    changes: Sequence[Change]
    interpass: str | OwnInterpass
    reason: str
    seen: int


@transaction.atomic
def propose_edition(
    *, by: Person, proposal: EditionProposal, on: date, at: datetime
) -> OwnerProcedure:
    """Keep the proposal, or refuse with the sentence that says why it could not stand.

    It changes nothing until a second engineer has seen what it would do and approves it.
    """
    require_everywhere(by)
    _check_words(proposal)
    if proposal.starts_on < on:
        raise Refused(
            f"An edition cannot begin on {proposal.starts_on}, before today: work was done by the "
            "one in force then. Give today or a later day."
        )
    if proposal.seen != newest_approved(proposal.procedure):
        raise Conflict(
            "Another edition of this procedure was approved while you had it open. Nothing of "
            "yours was saved; look at what is in force now and propose again."
        )
    row, settings = _rows(proposal, by, at)
    _check_differs(edition_of(row, settings))
    row.save()
    for one in settings:
        one.save()
    return row


def require_everywhere(by: Person) -> None:
    """The right to change procedures; they hold on the whole railway, so it takes all of it."""
    require(by, Action.EDIT_PROCEDURES)
    if territory_ids(by, Action.EDIT_PROCEDURES) is not None:
        raise Forbidden(
            "A procedure holds in all territories, so its editions take an engineer of all of them."
        )


def newest_approved(procedure: str) -> int:
    """The id of the railway's edition of a procedure that was approved last; 0 where none was."""
    rows = OwnerProcedure.objects.filter(procedure=procedure, state="approved")
    return rows.order_by("-answered_at", "-pk").values_list("pk", flat=True).first() or 0


@transaction.atomic
def approve_edition(
    *,
    by: Person,
    edition: OwnerProcedure,
    version: int,
    preview: LongRun | None,
    on: date,
    at: datetime,
    note: str = "",
) -> LongRun:
    """Put the edition in force from its day, and queue new estimates for jobs not yet issued.

    ``preview`` is the run whose result the person has before them; it must be of today and of the
    editions that stand now.
    """
    row = _locked(edition, by, version)
    reason = why_not_approve(row, preview, on)
    if reason:
        raise Conflict(reason)
    row.begins_on = max(row.starts_on, on)
    same_day = OwnerProcedure.objects.filter(state="approved", begins_on=row.begins_on)
    if same_day.filter(procedure=row.procedure).exists():
        raise Conflict(
            f"Another edition of this procedure begins on {row.begins_on}. Reject this one and "
            "propose it from a later day."
        )
    _check_differs(edition_of(row, list(row.changes.all())))
    _answer(row, "approved", by, at, note)
    return request_renewal(by=by, on=on, request_key=f"own edition {row.pk} approved")


@transaction.atomic
def reject_edition(
    *, by: Person, edition: OwnerProcedure, version: int, note: str, at: datetime
) -> OwnerProcedure:
    """Say no, with words; the proposal is kept."""
    row = _locked(edition, by, version)
    if not note.strip():
        raise Refused("Say in words why the edition is rejected.")
    return _answer(row, "rejected", by, at, note)


@transaction.atomic
def withdraw_edition(
    *, by: Person, edition: OwnerProcedure, version: int, at: datetime, note: str = ""
) -> OwnerProcedure:
    """Take one's own proposal back before it is answered; it is kept."""
    require_everywhere(by)
    row = _waiting(edition, version)
    if row.proposed_by_id != by.pk:
        raise Forbidden("Only the person who proposed an edition withdraws it. Reject it instead.")
    return _answer(row, "withdrawn", by, at, note)


def why_not_approve(edition: OwnerProcedure, preview: LongRun | None, on: date) -> str:
    """Why the edition cannot be approved on this preview; nothing when it can."""
    if preview is None or preview.kind != PREVIEW or preview.asked.get("edition") != edition.pk:
        return "Look first at what the edition would change: ask for the preview."
    if preview.state != "done":
        return "The preview has not come to its end. Wait for it, or ask for it again."
    if preview.asked["on"] != on.isoformat():
        return f"The preview is of {preview.asked['on']}. Ask for one of today."
    if preview.result["standing"] != [own.id for own in approved_editions()]:
        return "Another edition was approved since the preview. Ask for it again."
    return ""


def newest_preview(edition: OwnerProcedure) -> LongRun | None:
    """The last preview that anybody asked for."""
    return newest_run(PREVIEW, {"edition": edition.pk})


def as_proposed(edition: OwnerProcedure) -> Procedure:
    """The whole procedure as the edition makes it."""
    return laid_over(edition_of(edition, list(edition.changes.all())))


def _answer(row: OwnerProcedure, state: str, by: Person, at: datetime, note: str) -> OwnerProcedure:
    if len(note) > LETTERS:
        raise Refused(f"The words are too long: {LETTERS} letters at most.")
    row.state, row.answered_by, row.answered_at, row.answer_note = state, by, at, note.strip()
    row.version += 1
    row.save()
    return row


def _locked(edition: OwnerProcedure, by: Person, version: int) -> OwnerProcedure:
    """The proposal, held until the transaction ends, if this person may answer it."""
    require_everywhere(by)
    # All editions are held: two approved at once could not both have been seen by either.
    list(OwnerProcedure.objects.select_for_update().values_list("pk"))
    row = _waiting(edition, version)
    if row.proposed_by_id == by.pk:
        raise Forbidden("You proposed this edition; a second engineer has to answer it.")
    return row


def _waiting(edition: OwnerProcedure, version: int) -> OwnerProcedure:
    row = OwnerProcedure.objects.select_for_update().get(pk=edition.pk)
    if row.state != "proposed":
        raise Conflict(f"This edition is {row.get_state_display().lower()} already.")
    check_version("This edition", row.version, version)
    return row


def _rows(
    proposal: EditionProposal, by: Person, at: datetime
) -> tuple[OwnerProcedure, list[OwnerSetting]]:
    """The rows as they are to be saved. The shipped edition is the one of the day it begins."""
    try:
        base = procedure_in_force(proposal.procedure, proposal.starts_on)
    except WeldingRefusal as refusal:
        raise Refused(str(refusal)) from refusal
    own = proposal.interpass if isinstance(proposal.interpass, OwnInterpass) else None
    row = OwnerProcedure(
        procedure=base.id,
        base_since=base.start,
        starts_on=proposal.starts_on,
        interpass_rule="" if isinstance(proposal.interpass, OwnInterpass) else proposal.interpass,
        interpass_limit_degc=own.limit_degc if own else None,
        interpass_place_mm=own.place_mm if own else None,
        interpass_reason=own.reason.strip() if own else "",
        reason=proposal.reason.strip(),
        proposed_by=by,
        proposed_at=at,
    )
    return row, [_setting(row, base, change) for change in proposal.changes]


def _setting(edition: OwnerProcedure, base: Procedure, change: Change) -> OwnerSetting:
    unit = base.rows[change.key].unit if change.key in base.rows else ""
    value = list(change.value) if isinstance(change.value, tuple) else change.value
    return OwnerSetting(
        edition=edition, key=change.key, value=value, unit=unit, reason=change.reason.strip()
    )


def _check_differs(edition: OwnEdition) -> None:
    """Raise Refused where the edition cannot stand, or is what is in force on its day anyway."""
    try:
        new = laid_over(edition)
        present = procedure_in_force(edition.procedure, edition.start, approved_editions())
    except WeldingRefusal as refusal:
        raise Refused(str(refusal)) from refusal
    same_rule = (new.interpass.limit_degc, new.interpass.place_mm) == (
        present.interpass.limit_degc,
        present.interpass.place_mm,
    )
    if new.settings == present.settings and same_rule:
        raise Refused("This is what is in force already. Change at least one setting.")


def _check_words(proposal: EditionProposal) -> None:
    own = proposal.interpass.reason if isinstance(proposal.interpass, OwnInterpass) else ""
    if not proposal.reason.strip():
        raise Refused("Say in words why the railway wants an edition of its own.")
    if max(len(text) for text in (proposal.reason, own, *(c.reason for c in proposal.changes))) > (
        LETTERS
    ):
        raise Refused(f"The reason is too long: {LETTERS} letters at most.")
    keys = [change.key for change in proposal.changes]
    if len(set(keys)) != len(keys):
        raise Refused("A setting is given twice; give it once.")
    for change in proposal.changes:
        parts = change.value if isinstance(change.value, tuple) else (change.value,)
        if len(parts) > LIST_ENTRIES or any(len(str(part)) > WORDS_LETTERS for part in parts):
            raise Refused(f"{change.key} is too long: {WORDS_LETTERS} letters at most in a line.")
