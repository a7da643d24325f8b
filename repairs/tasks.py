"""Triage and estimates in the queue."""

from celery import shared_task
from django.utils import timezone

from repairs.paper.review import review_paper
from repairs.services import field_watch
from repairs.services.cooling import TASK as COOLING_TASK
from repairs.services.cooling import carry_out_cooling_fit
from repairs.services.field_watch import TASK as WATCH_TASK
from repairs.services.lance_preview import TASK as LANCE_PREVIEW_TASK
from repairs.services.lance_preview import carry_out_lance_preview
from repairs.services.nightly import judge_again, renew_tonight
from repairs.services.other_ways import TASK as WAYS_TASK
from repairs.services.other_ways import carry_out_other_ways
from repairs.services.procedure_preview import PREVIEW_TASK as PROCEDURE_PREVIEW_TASK
from repairs.services.procedure_preview import carry_out_procedure_preview
from repairs.services.queue import (
    JOBS_TASK,
    RENEWAL_TASK,
    TRIAGE_TASK,
    carry_out_jobs,
    carry_out_renewal,
    carry_out_triage,
)
from repairs.services.review_runs import TASK as REVIEW_TASK
from repairs.services.review_runs import carry_out_review
from repairs.services.rule_preview import PREVIEW_TASK, carry_out_preview
from turnouts.services.runs import carry_out


@shared_task(name=TRIAGE_TASK)
def triage(run_id: int) -> None:
    """Judge open defects for the run of this id."""
    carry_out(run_id=run_id, work=lambda run, tell: carry_out_triage(run, tell, timezone.now()))


@shared_task(name=JOBS_TASK)
def jobs(run_id: int) -> None:
    """Make repair jobs for the run of this id."""
    carry_out(run_id=run_id, work=lambda run, tell: carry_out_jobs(run, tell, timezone.now()))


@shared_task(name=PREVIEW_TASK)
def rule_preview(run_id: int) -> None:
    """Judge open defects by the present rules and a proposed one, for the run of this id."""
    carry_out(run_id=run_id, work=carry_out_preview)


@shared_task(name=PROCEDURE_PREVIEW_TASK)
def procedure_preview(run_id: int) -> None:
    """Estimate waiting jobs by the present and a proposed edition, for the run of this id."""
    carry_out(run_id=run_id, work=carry_out_procedure_preview)


@shared_task(name=LANCE_PREVIEW_TASK)
def lance_preview(run_id: int) -> None:
    """Estimate some waiting jobs by the present and a proposed cooling, for the run of this id."""
    carry_out(run_id=run_id, work=carry_out_lance_preview)


@shared_task(name=WAYS_TASK)
def other_ways(run_id: int) -> None:
    """Work out other ways to do a job, for the run of this id."""
    carry_out(run_id=run_id, work=carry_out_other_ways)


@shared_task(name=COOLING_TASK)
def cooling_fit(run_id: int) -> None:
    """Fit cooling coefficients to signed records, for the run of this id."""
    carry_out(run_id=run_id, work=carry_out_cooling_fit)


@shared_task(name=REVIEW_TASK)
def review(run_id: int) -> None:
    """Gather and set the review for the run of this id."""
    carry_out(run_id=run_id, work=lambda run, tell: carry_out_review(run, tell, review_paper))


@shared_task(name=RENEWAL_TASK)
def renew_estimates(run_id: int) -> None:
    """Estimate waiting jobs anew by the editions in force, for the run of this id."""
    carry_out(run_id=run_id, work=lambda run, tell: carry_out_renewal(run, tell, timezone.now()))


@shared_task(name="repairs.nightly")
def nightly() -> None:
    """Judge open defects and renew estimates, every night by the timetable."""
    judge_again(at=timezone.now())
    renew_tonight(at=timezone.now())


@shared_task(name=WATCH_TASK)
def watch_jobs() -> int:
    """Look at the jobs under way and tell their supervisors; also run every few minutes."""
    return field_watch.watch_jobs(at=timezone.now())
