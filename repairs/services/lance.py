"""The cooling under the air lance, taken over from signed records by two engineers."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction

from repairs.models import LanceCooling
from repairs.services.lance_in_force import lance_in_force, row_w_per_m2_k
from repairs.services.own_procedures import require_everywhere
from repairs.services.queue import request_renewal
from repairs.welding.heat.fit import Pooled, pooled
from repairs.welding.refusals import OutsideValidity
from turnouts.access import Forbidden
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict, Refused

LETTERS = 300


def waiting_lance() -> LanceCooling | None:
    """The proposal that waits for its answer; there is one at most."""
    return LanceCooling.objects.filter(state="proposed").select_related("proposed_by").first()


def lance_fits(run: LongRun | None) -> list[dict[str, Any]]:
    """Sheet, value and deviation of each record of a fit that had a lance."""
    if run is None or run.state != "done":
        return []
    return [
        {"sheet": one["sheet"], "value": one["loss_w_per_m2_k"], "sd": one["sd_w_per_m2_k"]}
        for one in run.result["fits"]
        if one.get("of") == "lance"
    ]


def pooled_lance(fits: Sequence[dict[str, Any]]) -> Pooled | str:
    """The coefficient that some fits have together, or the sentence that says why there is none."""
    try:
        return pooled([(one["value"], one["sd"]) for one in fits])
    except OutsideValidity as refusal:
        return str(refusal)


@transaction.atomic
def propose_lance(*, by: Person, run: LongRun | None, reason: str, at: datetime) -> LanceCooling:
    """Keep the wish that estimates reckon with what the person's own fit of the records gives.

    It changes nothing until a second engineer approves it.
    """
    require_everywhere(by)
    if run is None or run.requested_by_id != by.pk:
        raise Refused("There is no fit of yours to take over. Fit the cooling from the records.")
    if not reason.strip():
        raise Refused("Say in words why estimates are to reckon with it.")
    if len(reason) > LETTERS:
        raise Refused(f"The reason is too long: {LETTERS} letters at most.")
    if LanceCooling.objects.select_for_update().filter(state="proposed").exists():
        raise Conflict("A cooling of the lance waits for its answer already. Answer that first.")
    fits = lance_fits(run)
    found = pooled_lance(fits)
    if isinstance(found, str):
        raise Refused(found)
    present = lance_in_force()
    return LanceCooling.objects.create(
        w_per_m2_k=round(found.w_per_m2_k, 1),
        spread=found.spread,
        fits=fits,
        stood=present.w_per_m2_k if present else row_w_per_m2_k(),
        reason=reason.strip(),
        proposed_by=by,
        proposed_at=at,
    )


@transaction.atomic
def approve_lance(
    *, by: Person, lance: LanceCooling, on: date, at: datetime, note: str = ""
) -> LongRun:
    """Have estimates reckon with it from now on, and queue new ones for jobs not yet issued."""
    row = _held(lance, by)
    _answer(row, "approved", by, at, note)
    return request_renewal(by=by, on=on, request_key=f"lance cooling {row.pk} approved")


@transaction.atomic
def reject_lance(*, by: Person, lance: LanceCooling, note: str, at: datetime) -> LanceCooling:
    """Say no, with words; the proposal is kept."""
    row = _held(lance, by)
    if not note.strip():
        raise Refused("Say in words why it is rejected.")
    return _answer(row, "rejected", by, at, note)


def _held(lance: LanceCooling, by: Person) -> LanceCooling:
    """The proposal, held until the transaction ends, if this person may answer it."""
    require_everywhere(by)
    row = LanceCooling.objects.select_for_update().get(pk=lance.pk)
    if row.proposed_by_id == by.pk:
        raise Forbidden("You proposed this; a second engineer has to answer it.")
    if row.state != "proposed":
        raise Conflict(f"This is {row.get_state_display().lower()} already.")
    return row


def _answer(row: LanceCooling, state: str, by: Person, at: datetime, note: str) -> LanceCooling:
    if len(note) > LETTERS:
        raise Refused(f"The words are too long: {LETTERS} letters at most.")
    row.state, row.answered_by, row.answered_at, row.answer_note = state, by, at, note.strip()
    row.save()
    return row
