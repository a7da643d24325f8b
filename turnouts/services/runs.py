"""Long runs: started once for each request key, with progress that a page can show.

Progress goes through the cache, because the work itself is one transaction that nobody sees into
until it is done. Losing the cache loses a progress bar, never a result.
"""

from collections.abc import Callable
from typing import Any

from celery import current_app
from django.core.cache import cache
from django.db import IntegrityError, transaction
from django.utils import timezone

from turnouts.models import LongRun, Person

Progress = Callable[[int, int, str], None]

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
            )
    except IntegrityError:
        return LongRun.objects.get(request_key=request_key), False
    if task is not None:
        queued = current_app.signature(task, args=(run.pk,))
        transaction.on_commit(lambda: queued.apply_async())
    return run, True


def carry_out(*, run_id: int, work: Callable[[LongRun, Progress], dict[str, Any]]) -> LongRun:
    """Do ``work`` and keep its result, or the sentence it failed with.

    A run that has finished is not done again: the queue may deliver a message twice.
    """
    run = LongRun.objects.get(pk=run_id)
    if run.finished:
        return run
    _mark(run, state="running", started_at=timezone.now())
    try:
        result = work(run, lambda done, total, words: _progress(run, done, total, words))
    except Exception as fault:
        _mark(run, state="failed", message=_sentence(fault), finished_at=timezone.now())
        if isinstance(fault, ValueError):
            return run  # a refusal: the sentence is the answer
        raise
    _mark(run, state="done", result=result, finished_at=timezone.now())
    return run


def _sentence(fault: Exception) -> str:
    if isinstance(fault, ValueError):
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
