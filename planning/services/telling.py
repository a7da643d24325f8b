"""Telling the crews: a notice to each person whose crew's week has changed, sent after publishing.

Notices are written with the plan and sent by the queue.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from celery import current_app
from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from planning.models import Crew, CrewMember, CrewNotice, PlannedJob, WeekPlan
from turnouts.models import Person
from turnouts.services.letters import send_letters

TASK = "planning.send_notices"


def write_notices(plan: WeekPlan, before: Mapping[int, PlannedJob]) -> None:
    """A notice for each person with an address in a crew whose jobs came, moved or went."""
    new: dict[int, list[PlannedJob]] = defaultdict(list)
    for one in plan.placed.select_related("job", "turnout", "crew", "window__track__line"):
        new[one.crew_id].append(one)
    old: dict[int, list[PlannedJob]] = defaultdict(list)
    for one in before.values():
        old[one.crew_id].append(one)
    texts = {
        crew: _text(plan, new[crew], old[crew])
        for crew in {*new, *old}
        if _times(new[crew]) != _times(old[crew])
    }
    CrewNotice.objects.bulk_create(
        CrewNotice(plan=plan, crew_id=crew, person=person, subject=_subject(plan), text=text)
        for crew, text in texts.items()
        for person in _people(crew, plan)
    )
    transaction.on_commit(lambda: current_app.signature(TASK).apply_async(), robust=True)


def _times(placed: Iterable[PlannedJob]) -> set[tuple[int, datetime, datetime, int]]:
    return {(one.job_id, one.starts_at, one.ends_at, one.window_id) for one in placed}


def _people(crew: int, plan: WeekPlan) -> list[Person]:
    """Who is in the crew in that week and has an address."""
    last = plan.week + timedelta(days=6)
    rows = CrewMember.objects.filter(
        Q(until__isnull=True) | Q(until__gt=plan.week), crew=crew, since__lte=last
    )
    members = rows.filter(person__is_active=True).exclude(person__email="")
    return [row.person for row in members.select_related("person")]


def _subject(plan: WeekPlan) -> str:
    return f"Your week of {plan.week.day} {plan.week:%B}: plan {plan.number}"


def _text(plan: WeekPlan, new: list[PlannedJob], old: list[PlannedJob]) -> str:
    """The crew's jobs in the order of the week, and what is no longer theirs."""
    here = {one.job_id for one in new}
    was = {one.job_id: one for one in old}
    lines = [f"{plan.territory.name}, week of {plan.week.day} {plan.week:%B %Y}.", ""]
    lines += [_line(one, was.get(one.job_id), bool(old)) for one in sorted(new, key=_start)]
    lines += [
        f"No longer yours: {one.job.reference} at {one.turnout.code}, {_when(one)}."
        for one in sorted(old, key=_start)
        if one.job_id not in here
    ]
    lines += ["", "The job sheet and the employee in charge come first."]
    if settings.SITE_URL:
        lines.append(f"{settings.SITE_URL}/week/{plan.territory.code}/{plan.week}/")
    return "\n".join(lines)


def _start(one: PlannedJob) -> datetime:
    return one.starts_at


def _line(one: PlannedJob, before: PlannedJob | None, is_change: bool) -> str:
    window, line = one.window, one.window.track
    words = (
        f"{_when(one)}: {one.job.reference} at turnout {one.turnout.code}, {line}, window "
        f"{window.reference}; hand back by {timezone.localtime(window.ends_at):%H:%M}."
    )
    if before is None:
        return f"{words} New." if is_change else words
    return f"{words} It was {_when(before)}." if _start(before) != _start(one) else words


def _when(one: PlannedJob) -> str:
    start = timezone.localtime(one.starts_at)
    return f"{start:%a} {start.day} {start:%b %H:%M}"


def send_notices(*, at: datetime) -> int:
    """Send every notice that waits; gives how many went out."""
    return send_letters(CrewNotice, at=at)


def crews_without_address(plan: WeekPlan) -> list[Crew]:
    """Crews of the plan in which nobody has an address to be told at."""
    crews = Crew.objects.filter(placed__plan=plan).distinct()
    last = plan.week + timedelta(days=6)
    reached = CrewMember.objects.filter(
        Q(until__isnull=True) | Q(until__gt=plan.week), since__lte=last
    ).exclude(person__email="")
    return list(crews.exclude(pk__in=reached.values("crew")))
