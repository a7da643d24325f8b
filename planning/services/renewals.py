"""Certificates of the crews that run out soon, so that renewal comes before the last day."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from planning.models import CrewMember
from repairs.models import Qualification
from turnouts.access import Action, visible
from turnouts.models import Person

AHEAD = timedelta(days=60)
"""How long before the last day it is listed; assumed, time for a test plate and its papers."""


@dataclass(frozen=True)
class RenewalDue:
    """The last certificate of a crew member for a procedure or duty; ``days`` below 0: run out."""

    person: str
    crew: str
    procedure: str
    expires_on: date
    days: int


def renewals_due(reader: Person, on: date) -> list[RenewalDue]:
    """What runs out within AHEAD or has run out, of members of crews the reader plans for.

    The earliest first. A certificate with a later one of the same kind behind it is not listed,
    nor one that failed.
    """
    members = visible(reader, CrewMember.objects.filter(since__lte=on), Action.PLAN)
    members = members.filter(Q(until__isnull=True) | Q(until__gt=on))
    crew_of = {m.person_id: m.crew.name for m in members.select_related("crew")}
    last: dict[tuple[int, str], Qualification] = {}
    held = Qualification.objects.filter(person__in=crew_of, issued_on__lte=on)
    for row in held.select_related("person").order_by("issued_on", "pk"):
        if not row.failed:
            last[(row.person_id, row.procedure)] = row
    due = [_due(row, crew_of[row.person_id], on) for row in last.values() if _soon(row, on)]
    return sorted(due, key=lambda one: (one.expires_on, one.person, one.procedure))


def _soon(row: Qualification, on: date) -> bool:
    return row.expires_on is not None and row.expires_on <= on + AHEAD


def _due(row: Qualification, crew: str, on: date) -> RenewalDue:
    assert row.expires_on is not None  # noqa: S101 - asked by the caller
    days = (row.expires_on - on).days
    return RenewalDue(str(row.person), crew, row.procedure, row.expires_on, days)
