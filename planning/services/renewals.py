"""Certificates of the crews that run out soon, so that renewal comes before the last day."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q, QuerySet

from planning.models import CrewMember
from repairs.models import Qualification
from turnouts.access import Action, visible
from turnouts.models import Person

AHEAD = timedelta(days=60)
"""How long before the last day it is listed; assumed, time for a test plate and its papers."""


@dataclass(frozen=True)
class RenewalDue:
    """The last whole certificate of a crew member for a procedure or duty; ``days`` below 0: run
    out."""

    person: str
    username: str
    crew: str
    procedure: str
    expires_on: date
    days: int


def renewals_due(reader: Person, on: date) -> list[RenewalDue]:
    """What runs out within AHEAD or has run out, of members of crews the reader plans for.

    The earliest first. A certificate with a later one of the same kind behind it is not
    listed, and one whose evidence is not whole renews nothing.
    """
    crew_of = {m.person_id: m.crew.name for m in _members(reader, on)}
    last: dict[tuple[int, str], Qualification] = {}
    held = Qualification.objects.filter(person__in=crew_of, issued_on__lte=on)
    for row in held.select_related("person").order_by("issued_on", "pk"):
        if not row.faults:
            last[(row.person_id, row.procedure)] = row
    due = [_due(row, crew_of[row.person_id], on) for row in last.values() if _soon(row, on)]
    return sorted(due, key=lambda one: (one.expires_on, one.person, one.procedure))


def _soon(row: Qualification, on: date) -> bool:
    return row.expires_on is not None and row.expires_on <= on + AHEAD


def _due(row: Qualification, crew: str, on: date) -> RenewalDue:
    assert row.expires_on is not None  # noqa: S101 - asked by the caller
    days = (row.expires_on - on).days
    person = row.person
    return RenewalDue(str(person), person.username, crew, row.procedure, row.expires_on, days)


@dataclass(frozen=True)
class Held:
    """The certificate of a crew member that stands for a procedure or duty; ``stands`` says how."""

    crew: str
    person: str
    username: str
    procedure: str
    expires_on: date | None
    valid: bool
    stands: str


def crew_certificates(reader: Person, on: date) -> list[Held]:
    """What the members of crews the reader plans for hold on a day, by crew and person.

    Of several for one thing the valid one, else the last issued; somebody without any has a row
    without a procedure.
    """
    members = list(_members(reader, on).order_by("crew__name", "since", "pk"))
    of: dict[int, dict[str, Qualification]] = {m.person_id: {} for m in members}
    rows = Qualification.objects.filter(person__in=of).select_related("person")
    for row in rows.order_by("procedure", "issued_on", "pk"):
        before = of[row.person_id].get(row.procedure)
        if before is None or row.valid_on(on) or not before.valid_on(on):
            of[row.person_id][row.procedure] = row
    return [one for member in members for one in _held(member, of[member.person_id], on)]


def _held(member: CrewMember, rows: dict[str, Qualification], on: date) -> list[Held]:
    who = (member.crew.name, str(member.person), member.person.username)
    if not rows:
        return [Held(*who, "", None, False, "No certificate on record.")]
    return [
        Held(*who, row.procedure, row.expires_on, row.valid_on(on), row.said_on(on))
        for row in rows.values()
    ]


def _members(reader: Person, on: date) -> QuerySet[CrewMember]:
    rows = visible(reader, CrewMember.objects.filter(since__lte=on), Action.PLAN)
    rows = rows.filter(Q(until__isnull=True) | Q(until__gt=on))
    return rows.select_related("crew", "person")
