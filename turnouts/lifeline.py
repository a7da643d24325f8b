"""The life line of a component: everything that happened to it, in the order it happened.

Each app tells what it knows through a provider, added in its ``AppConfig.ready``; this module
knows none of the others. A provider takes the component and gives its events:

    lifeline.add_provider(repairs_of)
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.urls import reverse
from django.utils.timezone import get_current_timezone

from turnouts.access import Action, territory_ids
from turnouts.analysis.terms import DefectKind, Position, Zone
from turnouts.models import Component, Defect, Person, Photograph


@dataclass(frozen=True)
class Event:
    """Something that happened to a component.

    ``kind`` is the lane of the picture and the first word of the table's row ("Inspection").
    ``href`` leads to the record, or is empty. A reader who may not see ``territory_id`` reads the
    event, because a component's history goes with it, but is given no link.
    """

    at: datetime
    kind: str
    words: str
    href: str = ""
    detail: str = ""
    territory_id: int | None = None


Provider = Callable[[Component], Iterable[Event]]

_providers: list[Provider] = []


def add_provider(provider: Provider) -> None:
    """Called once for each provider, from the app's ``ready``."""
    if provider not in _providers:
        _providers.append(provider)


def life_line(component: Component, reader: Person) -> list[Event]:
    """Every event of the component, the latest first, with the links this reader may follow."""
    where = territory_ids(reader, Action.SEE)
    events = [_seen(event, where) for provider in _providers for event in provider(component)]
    return sorted(events, key=lambda event: event.at, reverse=True)


LANES = ("In track", "Shop", "Inspection", "Defect", "Defect ended", "Photograph")
"""The lanes this app fills, from the top; those of other apps follow."""


def at_start_of(day: date) -> datetime:
    """A day without an hour, as the moment it stands at on the line, in the railway's time."""
    return datetime(day.year, day.month, day.day, tzinfo=get_current_timezone())


def _seen(event: Event, where: set[int] | None) -> Event:
    if where is None or event.territory_id is None or event.territory_id in where:
        return event
    return replace(event, href="")


def installations(component: Component) -> Iterable[Event]:
    """When it went in and came out, and where."""
    stays = component.installations.select_related("turnout__track__line")
    for stay in stays:
        place = f"{stay.turnout.code}, {Position(stay.position).label.lower()}"
        href = reverse("turnout", args=[stay.turnout.code])
        territory = stay.turnout.track.line.territory_id
        yield Event(
            at_start_of(stay.installed_on), "In track", f"Put in at {place}", href, "", territory
        )
        if stay.removed_on:
            yield Event(
                at_start_of(stay.removed_on),
                "In track",
                f"Taken out at {place}",
                href,
                stay.reason_removed,
                territory,
            )


def shop_visits(component: Component) -> Iterable[Event]:
    for visit in component.shop_visits.all():
        yield Event(
            at_start_of(visit.arrived_on), "Shop", f"Arrived at {visit.shop}", detail=visit.work
        )
        if visit.left_on:
            yield Event(at_start_of(visit.left_on), "Shop", f"Left {visit.shop}", detail=visit.work)


def inspections(component: Component) -> Iterable[Event]:
    """Visits at which this component was measured or found defective."""
    readings = component.measurements.select_related("inspection__turnout__track__line")
    visits = {reading.inspection: 0 for reading in readings}
    for reading in readings:
        visits[reading.inspection] += 1
    for visit, count in visits.items():
        yield Event(
            visit.inspected_at,
            "Inspection",
            f"{visit.get_kind_display()} at {visit.turnout.code}",
            reverse("inspection", args=[visit.reference]),
            f"{count} reading{'' if count == 1 else 's'}",
            visit.turnout.track.line.territory_id,
        )


def defects(component: Component) -> Iterable[Event]:
    """Each defect when it was found, and when it was closed or the component replaced."""
    rows = component.defects.select_related("turnout__track__line").prefetch_related("steps")
    for defect in rows:
        territory = defect.turnout.track.line.territory_id
        what = f"{DefectKind(defect.kind).label}, {Zone(defect.zone).label.lower()}"
        yield Event(
            at_start_of(defect.reported_on),
            "Defect",
            what,
            defect.get_absolute_url(),
            f"{defect.reference}: {defect.get_state_display().lower()}",
            territory,
        )
        yield from _ended(defect, what, territory)


def _ended(defect: Defect, what: str, territory: int) -> Iterable[Event]:
    for step in defect.steps.all():
        if step.state in ("closed", "replaced"):
            yield Event(
                step.at,
                "Defect ended",
                f"{what}: {step.get_state_display().lower()}",
                defect.get_absolute_url(),
                defect.reference,
                territory,
            )


def photographs(component: Component) -> Iterable[Event]:
    rows = Photograph.objects.filter(defect__component=component)
    for picture in rows.select_related("defect__turnout__track__line"):
        yield Event(
            picture.added_at,
            "Photograph",
            picture.caption,
            reverse("photograph", args=[picture.pk]),
            picture.defect.reference,
            picture.defect.turnout.track.line.territory_id,
        )
