"""Planning in the queue, one task a territory; and the notices to the crews."""

from celery import shared_task
from django.utils import timezone

from planning.services import network, telling
from planning.services.plans import TASK, plan_week
from planning.services.what_if import TASK as WHAT_IF
from planning.services.what_if import carry_out_what_if
from turnouts.services.runs import carry_out


@shared_task(name=TASK)
def plan(run_id: int) -> None:
    """Carry out the planning run of this id, and let the network it belongs to go on."""
    run = carry_out(
        run_id=run_id,
        work=lambda run, progress: plan_week(run=run, progress=progress, at=timezone.now()),
    )
    if run.finished:
        network.tell_network(run)


@shared_task(name=WHAT_IF)
def what_if(run_id: int) -> None:
    """Answer the question of this id."""
    carry_out(
        run_id=run_id,
        work=lambda run, progress: carry_out_what_if(run=run, progress=progress, at=timezone.now()),
    )


@shared_task(name=network.TASK)
def plan_network(run_id: int) -> None:
    """Take the planning of the network as far as it can go now."""
    network.step(run_id=run_id, at=timezone.now())


@shared_task(name=telling.TASK)
def send_notices() -> int:
    """Send the notices that wait; also run now and then, should the queue have lost one."""
    return telling.send_notices(at=timezone.now())
