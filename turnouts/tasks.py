"""Work in the queue: each task loads by id and calls one service."""

from celery import shared_task

from turnouts.services import imports


@shared_task(name=imports.TASK, ignore_result=True)
def carry_out_import(run_id: int) -> None:
    """Import the file of a queued run."""
    imports.carry_out_import(run_id=run_id)
