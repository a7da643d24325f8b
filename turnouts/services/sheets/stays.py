"""Which component stood in a position on a day."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from turnouts.models import Inspection, Installation
from turnouts.services.sheets.faults import CellFault


@dataclass(frozen=True, slots=True)
class Stay:
    turnout: int
    position: str
    component: int
    serial: str
    since: date
    until: date | None

    def touches(self, day: date) -> bool:
        """Whether it stood there on ``day``, the day it came out included."""
        return self.since <= day and (self.until is None or day <= self.until)


@dataclass(frozen=True, slots=True)
class Visit:
    """What a row takes from the inspection it belongs to."""

    reference: str
    turnout: int
    turnout_code: str
    at: datetime
    inspector: int
    day: date
    """By the railway's own clock."""


class Stays:
    """The stays in some turnouts, read in one query."""

    def __init__(self, turnouts: Collection[int]) -> None:
        self._in_turnout: dict[int, list[Stay]] = defaultdict(list)
        self._of_component: dict[tuple[int, int], list[Stay]] = defaultdict(list)
        rows = (
            Installation.objects.filter(turnout_id__in=turnouts)
            .order_by("pk")
            .values_list(
                "turnout_id",
                "position",
                "component_id",
                "component__serial",
                "installed_on",
                "removed_on",
            )
        )
        for row in rows:
            stay = Stay(*row)
            self._in_turnout[stay.turnout].append(stay)
            self._of_component[stay.turnout, stay.component].append(stay)

    def component(self, visit: Visit, position: str, serial: str) -> int:
        """The component that stood in ``position`` at the visit; CellFault when that is not clear.

        On the day of an exchange two did, and ``serial`` has to say which.
        """
        found = [
            stay
            for stay in self._in_turnout[visit.turnout]
            if stay.position == position and stay.touches(visit.day)
        ]
        named = [stay for stay in found if serial in ("", stay.serial)]
        if len({stay.component for stay in named}) == 1:
            return named[0].component
        where = f"at the {position.replace('_', ' ')} of {visit.turnout_code} on {visit.day}"
        if not found:
            raise CellFault(f"No component stood {where}. Enter its installation first.")
        if not named:
            raise CellFault(f"Component {serial} did not stand {where}; {found[0].serial} did.")
        serials = " and ".join(stay.serial for stay in named)
        raise CellFault(f"Both {serials} stood {where}: name the one in column component.")

    def position(self, visit: Visit, component: int) -> str | None:
        """Where ``component`` stood at the visit."""
        for stay in self._of_component.get((visit.turnout, component), ()):
            if stay.touches(visit.day):
                return stay.position
        return None


def visits(inspections: Collection[int]) -> dict[int, Visit]:
    """Visits by the id of their inspection, in one query."""
    rows = (
        Inspection.objects.filter(pk__in=inspections)
        .order_by()
        .values_list(
            "pk", "reference", "turnout_id", "turnout__code", "inspected_at", "inspector_id"
        )
    )
    here = timezone.get_default_timezone()
    return {row[0]: Visit(*row[1:], day=row[4].astimezone(here).date()) for row in rows}
