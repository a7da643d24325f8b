"""Reviews in the queue: asked for, gathered, set as PDF, kept some days for who asked."""

from collections.abc import Callable
from datetime import date
from io import BytesIO
from typing import Any

from django.utils import timezone

from repairs.services.review import Asked, review_of
from turnouts.access import Action, require
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Refused
from turnouts.services.export_runs import keep_file
from turnouts.services.runs import Progress, start_run

TASK = "repairs.review"
KIND = "review"

LONGEST_DAYS = 5 * 366
"""Longest time of one review (assumed: a meeting looks at a year, a renewal plan at five)."""

Press = Callable[[dict[str, Any]], bytes]


def request_review(
    *, by: Person, territory: Territory, since: date, until: date, request_key: str
) -> LongRun:
    """Queue a review of a territory; the same request gives the same run."""
    require(by, Action.SEE, territory)
    if until < since:
        raise Refused(f"The time ends on {until}, before it begins on {since}. Change one of them.")
    if (until - since).days > LONGEST_DAYS:
        raise Refused(f"From {since} to {until} is more than five years. Choose a shorter time.")
    run, _ = start_run(
        kind=KIND,
        request_key=f"{KIND}:{by.pk}:{request_key}",
        by=by,
        asked={
            "territory": territory.code,
            "since": since.isoformat(),
            "until": until.isoformat(),
        },
        task=TASK,
    )
    return run


def carry_out_review(run: LongRun, progress: Progress, press: Press) -> dict[str, Any]:
    """Gather the review and keep it as PDF, which ``press`` sets. The right is asked for anew."""
    territory = Territory.objects.get(code=run.asked["territory"])
    require(run.requested_by, Action.SEE, territory)
    since, until = (date.fromisoformat(run.asked[name]) for name in ("since", "until"))
    today = timezone.localdate()
    said = review_of(Asked(territory, since, until, today, run.requested_by), progress)
    kept = keep_file(
        run=run, name=f"review-{territory.code}-{since}-{until}.pdf", held=BytesIO(press(said))
    )
    return {"name": kept.name, "bytes": kept.content.size, "summary": said["summary"]}
