"""Telling the supervisors when the chance of a job under way falls under the set level.

It is looked at whenever a phone reaches the office and every few minutes besides, because the
clock runs on where there is no signal. One fall is told once to each supervisor with an address.
"""

from datetime import datetime

from celery import current_app
from django.conf import settings
from django.db import transaction
from django.db.models import Q

from repairs.models import ChanceNotice, ClosingNotice, FieldWatch, JobSheet
from repairs.services.field_running import Running, running, started_sheets
from repairs.templatetags.repairs import clock, percent
from repairs.welding.rows_toml import table_of
from turnouts.analysis.terms import Role
from turnouts.models import Person, Territory
from turnouts.services.letters import send_letters

TASK = "repairs.watch_jobs"


def watch_jobs(*, at: datetime) -> int:
    """Look at every job under way, and send what waits; gives how many notices went out."""
    for one in running(started_sheets(), at):
        watch_job(one)
    return send_letters(ChanceNotice, at=at) + send_letters(ClosingNotice, at=at)


def watch_sheet(*, sheet: JobSheet, at: datetime) -> None:
    """Look at one job because its phone reached the office just now."""
    for one in running([sheet], at):
        watch_job(one)


@transaction.atomic
def watch_job(one: Running) -> None:
    """Write a notice to each supervisor where the chance has fallen under the level since."""
    now = one.clock
    watch, _ = FieldWatch.objects.select_for_update().get_or_create(
        sheet=one.sheet, defaults={"chance": now.chance, "seen_at": now.now}
    )
    fell = now.under and not watch.under
    if fell:
        watch.under, watch.crossings = True, watch.crossings + 1
    elif watch.under and now.chance >= _safe_again(now.set_chance):
        watch.under = False
    watch.chance, watch.seen_at = now.chance, now.now
    watch.save()
    if fell:
        _write(one, watch.crossings)


def _safe_again(set_chance: float) -> float:
    """Above the level by a little, or half of what is left: a chance that wavers falls once."""
    return min(set_chance + table_of("field", "clock").number("safe_again"), (1 + set_chance) / 2)


def supervisors_of(territory: Territory) -> list[Person]:
    """Who is told of the jobs of a territory: its supervisors who have an address."""
    people = Person.objects.filter(
        Q(grants__territory=territory) | Q(grants__territory__isnull=True),
        grants__role=Role.SUPERVISOR.value,
        is_active=True,
    )
    return list(people.exclude(email="").distinct().order_by("username"))


def _write(one: Running, crossing: int) -> None:
    sheet = one.sheet
    subject = (
        f"{sheet.job.turnout.code}: {percent(one.clock.chance)} to hand back by "
        f"{clock(one.clock.hand_back_at)}"
    )
    ChanceNotice.objects.bulk_create(
        ChanceNotice(
            sheet=sheet,
            crossing=crossing,
            person=person,
            chance=one.clock.chance,
            made_at=one.clock.now,
            subject=subject,
            text=_text(one),
        )
        for person in supervisors_of(sheet.job.turnout.territory)
    )
    transaction.on_commit(lambda: current_app.signature(TASK).apply_async(), robust=True)


def _text(one: Running) -> str:
    sheet, now = one.sheet, one.clock
    turnout = sheet.job.turnout
    since = f" since {clock(one.doing_since)}" if one.doing_since else ""
    lines = [
        f"Job {sheet.job.reference} at turnout {turnout.code}, {turnout.track}; sheet "
        f"{sheet.number}, {sheet.crew}.",
        "",
        now.advice,
        "",
        f"Now: {one.doing}{since}. {one.state.track_words}",
        f"Expected end {clock(now.expected_end)}, hand back by {clock(now.hand_back_at)}.",
        f"Last heard from the phone at {clock(one.heard_at)}; without signal the job may be "
        "further than this.",
        "",
        "The employee in charge and a qualified person decide; this only reckons.",
    ]
    if settings.SITE_URL:
        lines.append(f"{settings.SITE_URL}/running/")
    return "\n".join(lines)
