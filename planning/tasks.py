"""Planning in the queue: one task a territory."""

from celery import shared_task
from django.utils import timezone

from planning.services.plans import TASK, plan_week
from turnouts.services.runs import carry_out


@shared_task(name=TASK)
def plan(run_id: int) -> None:
    """Carry out the planning run of this id."""
    carry_out(
        run_id=run_id,
        work=lambda run, progress: plan_week(run=run, progress=progress, at=timezone.now()),
    )
