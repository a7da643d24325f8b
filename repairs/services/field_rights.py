"""Who may write on a job sheet, who may start it, and a supervisor's word in an emergency."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction

from repairs.models import JobSheet, Qualification, StartOverride
from turnouts.access import Action, Forbidden, acting_role, may, require
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused


@dataclass(frozen=True)
class MayStart:
    """Whether somebody may start a sheet on a day, and why, in a sentence."""

    yes: bool
    sentence: str


def may_write(person: Person, sheet: JobSheet) -> bool:
    """Those on the sheet, and the supervisors of its territory."""
    if may(person, Action.LET_START, sheet.job.turnout.territory):
        return True
    on_it = sheet.people.filter(pk=person.pk).exists()
    return on_it and may(person, Action.RECORD, sheet.job.turnout.territory)


def require_write(person: Person, sheet: JobSheet) -> None:
    """Raise Forbidden unless the person may write on the sheet."""
    if not may_write(person, sheet):
        raise Forbidden(
            f"Only those named on sheet {sheet.number} and the territory's supervisors may write "
            "on it."
        )


def may_start(person: Person, sheet: JobSheet, day: date) -> MayStart:
    """Somebody qualified for the sheet's procedure that day, or let by a supervisor."""
    procedure = sheet.job.procedure
    if not may_write(person, sheet):
        return MayStart(False, f"{person} is not on sheet {sheet.number}.")
    if qualification_on(person, procedure, day) is not None:
        return MayStart(True, f"{person} is qualified for {procedure} on {day:%Y-%m-%d}.")
    let = sheet.start_overrides.filter(person=person).select_related("by").first()
    if let is not None:
        return MayStart(
            True, f"{let.by} let {person} start without a certificate, because: {let.reason}"
        )
    return MayStart(
        False,
        f"{person} is not qualified for {procedure} on {day:%Y-%m-%d}, so somebody who is must "
        "start. In an emergency a supervisor may let it be done, with a reason that is kept."
        f"{_what_is_missing(person, procedure, day)}",
    )


def _what_is_missing(person: Person, procedure: str, day: date) -> str:
    """What the evidence of a certificate lacks whose time it would be; nothing without one."""
    rows = Qualification.objects.filter(person=person, procedure=procedure)
    newest = next((r for r in rows.order_by("-issued_on") if r.in_its_days(day)), None)
    return f" The certificate on record: {newest.not_valid}" if newest else ""


def qualification_on(person: Person, procedure: str, day: date) -> Qualification | None:
    """The certificate somebody holds for a procedure on a day, the latest issued."""
    rows = Qualification.objects.filter(person=person, procedure=procedure)
    held = [row for row in rows.order_by("-issued_on") if row.valid_on(day)]
    return held[0] if held else None


@transaction.atomic
def let_start(
    *, by: Person, sheet: JobSheet, person: Person, reason: str, at: datetime
) -> StartOverride:
    """Let somebody on the sheet start it without a certificate. Kept, with the reason."""
    territory = sheet.job.turnout.territory
    require(by, Action.LET_START, territory)
    if not reason.strip():
        raise Refused("Say why nobody qualified can start; the reason is kept with the sheet.")
    if not sheet.people.filter(pk=person.pk).exists():
        raise Refused(f"{person} is not on sheet {sheet.number}; issue it anew with them on it.")
    if not may_write(person, sheet):
        raise Refused(
            f"{person} has no role in this territory that may record work, so the sheet would not "
            "open for them; an administrator must give them that role first, or let somebody else."
        )
    try:
        with transaction.atomic():
            return StartOverride.objects.create(
                sheet=sheet,
                person=person,
                by=by,
                role=acting_role(by, Action.LET_START, territory).value,
                reason=reason.strip()[:300],
                at=at,
            )
    except IntegrityError:
        raise Conflict(f"{person} was let start sheet {sheet.number} already.") from None
