"""Long runs: started once for each request key, with progress that a page can show.

Progress goes through the cache, because the work itself is one transaction that nobody sees into
until it is done. Losing the cache loses a progress bar, never a result.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any

import pghistory
from celery import current_app
from django.core.cache import cache
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from turnouts.models import LongRun, Person

Progress = Callable[[int, int, str], None]

REFUSALS = (ValueError, PermissionDenied)
"""Faults whose text is a sentence for the person who asked."""

LOST_AFTER = timedelta(minutes=10)
CLAIM = 7_301_965
"""First half of the key of the lock on a run; any number nobody else uses."""

KEPT_S = 24 * 3600
"""Seconds a run's progress is kept: longer than any run may take."""


def start_run(
    *,
    kind: str,
    request_key: str,
    by: Person,
    asked: dict[str, Any] | None = None,
    task: str | None = None,
) -> tuple[LongRun, bool]:
    """The run of this key, and whether it is new; asking again gives the same run.

    ``asked`` is what the work needs to know, kept with the run. ``task`` is queued with the run's
    id once what surrounds this call is committed; it is named, because services stand below tasks.
    """
    try:
        with transaction.atomic():
            run = LongRun.objects.create(
                kind=kind,
                request_key=request_key,
                requested_by=by,
                requested_at=timezone.now(),
                asked=asked or {},
                task=task or "",
            )
    except IntegrityError:
        return LongRun.objects.get(request_key=request_key), False
    if task is not None:
        transaction.on_commit(lambda: _send(run))
    return run, True


def _send(run: LongRun) -> None:
    current_app.signature(run.task, args=(run.pk,)).apply_async()


def newest_run(
    kind: str, asked: dict[str, Any] | None = None, by: Person | None = None
) -> LongRun | None:
    """The last run of a kind that was asked at least this, by this person where one is named."""
    runs = LongRun.objects.filter(kind=kind, asked__contains=asked or {})
    if by is not None:
        runs = runs.filter(requested_by=by)
    return runs.select_related("requested_by").order_by("-requested_at", "-pk").first()


def send_again(*, now: datetime) -> int:
    """Queue once more every run whose message was lost with the queue; gives how many.

    A message that was only late does no harm: a run is carried out once, by whoever claims it.
    """
    lost = LongRun.objects.exclude(task="").filter(
        state__in=["queued", "running"], requested_at__lt=now - LOST_AFTER
    )
    for run in lost:
        _send(run)
    return len(lost)


def carry_out(*, run_id: int, work: Callable[[LongRun, Progress], dict[str, Any]]) -> LongRun:
    """Do ``work`` and keep its result, or the sentence it failed with.

    The queue may deliver a message twice: a run that has finished, or that another worker has in
    hand at this moment, is left alone.
    """
    with _claim(run_id) as mine:
        run = LongRun.objects.get(pk=run_id)
        return run if run.finished or not mine else _carry_out(run, work)


@contextmanager
def _claim(run_id: int) -> Iterator[bool]:
    """Whether this worker may carry the run out; a worker that dies lets go of its claim."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_lock(%s, %s)", [CLAIM, run_id])
        [mine] = cursor.fetchone()
    try:
        yield mine
    finally:
        if mine:
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_unlock(%s, %s)", [CLAIM, run_id])


def _carry_out(run: LongRun, work: Callable[[LongRun, Progress], dict[str, Any]]) -> LongRun:
    _mark(run, state="running", started_at=timezone.now())
    try:
        # The audit then says for whom the rows were changed; a request's middleware does the same.
        with pghistory.context(user=run.requested_by_id, run=run.pk):
            result = work(run, lambda done, total, words: _progress(run, done, total, words))
    except Exception as fault:
        _mark(run, state="failed", message=_sentence(fault), finished_at=timezone.now())
        if isinstance(fault, REFUSALS):
            return run  # the sentence is the answer
        raise
    _mark(run, state="done", result=result, finished_at=timezone.now())
    return run


def _sentence(fault: Exception) -> str:
    if isinstance(fault, REFUSALS):
        return str(fault)[:300]
    return "The work stopped on an unexpected fault; nothing was changed. The log has the details."


def _progress(run: LongRun, done: int, total: int, words: str) -> None:
    run.done, run.total, run.message = done, total, words[:300]
    cache.set(_cache_key(run), (run.done, run.total, run.message), timeout=KEPT_S)


def with_progress(run: LongRun) -> LongRun:
    """The run with how far it is at this moment, for showing; nothing is saved."""
    seen = None if run.finished else cache.get(_cache_key(run))
    if seen is not None:
        run.done, run.total, run.message = seen
    return run


def _cache_key(run: LongRun) -> str:
    return f"run-progress:{run.pk}"


def _mark(run: LongRun, **values: Any) -> None:
    for name, value in values.items():
        setattr(run, name, value)
    run.save(update_fields=[*values, "done", "total"])
