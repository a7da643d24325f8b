"""The calendar each crew's phones read: RFC 5545, at an address nobody can guess.

It tells where and when, and no more: no names, no findings. An entry keeps its UID for good; a
change counts SEQUENCE up, and a job the crew no longer does stays as a cancelled entry, because a
phone that once showed it must be told.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from icalendar import Calendar, Event

from planning.models import CalendarEntry, Crew, CrewCalendar, PlannedJob, WeekPlan
from planning.models.telling import new_key
from turnouts.access import Action, require
from turnouts.models import Person

KEPT = timedelta(days=28)
"""How long an entry stays in the feed after its end."""


def update_entries(plan: WeekPlan, before: Mapping[int, PlannedJob], at: datetime) -> None:
    """Bring the crews' entries to the published plan; ``before`` is what stood until now."""
    rows = plan.placed.select_related("job", "turnout__track__line", "crew", "window")
    new = {(one.crew_id, one.job_id): one for one in rows}
    old = {(one.crew_id, one.job_id) for one in before.values()}
    crews = {crew for crew, _ in {*new, *old}}
    found = CalendarEntry.objects.select_for_update().filter(crew__in=crews)
    entries = {(entry.crew_id, entry.job_id): entry for entry in found}
    for key, one in new.items():
        _write(entries.get(key), one, at)
    for key in old - new.keys():
        if key in entries:
            _change(entries[key], {"cancelled": True}, at)
    for crew in crews:
        CrewCalendar.objects.get_or_create(crew_id=crew, defaults={"renewed_at": at})


def _write(entry: CalendarEntry | None, one: PlannedJob, at: datetime) -> None:
    told = _told(one)
    if entry is not None:
        _change(entry, told, at)
        return
    CalendarEntry.objects.create(
        crew=one.crew, job=one.job, made_at=at, changed_at=at, sequence=0, **told
    )


def _change(entry: CalendarEntry, told: Mapping[str, object], at: datetime) -> None:
    if all(getattr(entry, name) == value for name, value in told.items()):
        return
    for name, value in told.items():
        setattr(entry, name, value)
    entry.sequence += 1
    entry.changed_at = at
    entry.save()


def _told(one: PlannedJob) -> dict[str, object]:
    window, track = one.window, one.turnout.track
    return {
        "starts_at": one.starts_at,
        "ends_at": one.ends_at,
        "cancelled": False,
        "summary": f"Turnout {one.turnout.code}, job {one.job.reference}",
        "place": f"{track.line.name}, {track.name}, milepost {one.turnout.milepost:f}",
        "words": (
            f"Work window {window.reference}, {window.get_protection_display().lower()}. "
            f"Hand back by {window.ends_at:%Y-%m-%d %H:%M} UTC. Leave the base at "
            f"{one.leaves_at:%H:%M} UTC. The job sheet and the employee in charge come first."
        ),
    }


@transaction.atomic
def renew_calendar(*, by: Person, crew: Crew, at: datetime) -> CrewCalendar:
    """A new address for the crew's calendar; the old one is dead from now on."""
    require(by, Action.PUBLISH, crew.depot.territory)
    calendar, _ = CrewCalendar.objects.update_or_create(
        crew=crew, defaults={"key": new_key(), "renewed_at": at}
    )
    return calendar


def feed(calendar: CrewCalendar, *, at: datetime) -> bytes:
    """The calendar as RFC 5545 text, all times in UTC."""
    text = Calendar()
    text.add("prodid", "-//Frogs and points//Week plan//EN")
    text.add("version", "2.0")
    text.add("method", "PUBLISH")
    text.add("calscale", "GREGORIAN")
    text.add("name", f"{calendar.crew.name}: track time")  # RFC 7986, 5.1
    text.add("refresh-interval", timedelta(minutes=30), parameters={"VALUE": "DURATION"})
    for entry in calendar.crew.entries.filter(ends_at__gte=at - KEPT).select_related("job"):
        text.add_component(_event(entry))
    return bytes(text.to_ical())


def _event(entry: CalendarEntry) -> Event:
    event = Event()
    event.add("uid", str(entry.uid))
    event.add("dtstamp", entry.changed_at)
    event.add("created", entry.made_at)
    event.add("last-modified", entry.changed_at)
    event.add("sequence", entry.sequence)
    event.add("status", "CANCELLED" if entry.cancelled else "CONFIRMED")
    event.add("dtstart", entry.starts_at)
    event.add("dtend", entry.ends_at)
    event.add("summary", entry.summary)
    event.add("location", entry.place)
    event.add("description", entry.words)
    event.add("class", "PRIVATE")
    if settings.SITE_URL:
        event.add("url", f"{settings.SITE_URL}/jobs/{entry.job.reference}/")
    return event
