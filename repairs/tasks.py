"""Triage and estimates in the queue."""

from celery import shared_task
from django.utils import timezone

from repairs.services.nightly import judge_again
from repairs.services.queue import JOBS_TASK, TRIAGE_TASK, carry_out_jobs, carry_out_triage
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


@shared_task(name="repairs.nightly")
def nightly() -> None:
    """Judge open defects again, every night by the timetable."""
    judge_again(at=timezone.now())
