"""What was changed of a certificate, by whom and when, read from the audit."""

from dataclasses import dataclass
from datetime import datetime

from pghistory.models import Events

from repairs.models import Qualification
from turnouts.models import Person


@dataclass(frozen=True)
class Change:
    """One change: ``said`` has field, before and after, none for the first entry."""

    at: datetime
    by: str
    said: tuple[tuple[str, str, str], ...]


def changes_of(row: Qualification) -> list[Change]:
    """All changes of a certificate, the first entry first."""
    found = list(
        Events.objects.tracks(row).order_by("pgh_created_at", "pgh_id")  # type: ignore[no-untyped-call]
    )
    users = {(event.pgh_context or {}).get("user") for event in found}
    people = Person.objects.in_bulk([user for user in users if user is not None])
    return [
        Change(
            event.pgh_created_at,
            _who(people.get((event.pgh_context or {}).get("user"))),
            _said(event.pgh_diff or {}),
        )
        for event in found
    ]


def _who(person: Person | None) -> str:
    return str(person) if person is not None else "not recorded"


def _said(diff: dict[str, list[object]]) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (name.replace("_", " "), _word(before), _word(after))
        for name, (before, after) in sorted(diff.items())
        if name != "version"
    )


def _word(value: object) -> str:
    return "nothing" if value in (None, "") else str(value)
