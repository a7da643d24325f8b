"""Work in the queue: each task loads by id and calls one service."""

from celery import shared_task
from django.utils import timezone

from turnouts.services import export_runs, family_comparisons, imports, outlook
from turnouts.services.runs import carry_out, send_again


@shared_task(name=imports.TASK, ignore_result=True)
def carry_out_import(run_id: int) -> None:
    """Import the file of a queued run."""
    imports.carry_out_import(run_id=run_id)


@shared_task(name=export_runs.TASK, ignore_result=True)
def carry_out_export(run_id: int) -> None:
    """Write the file of a queued run."""
    export_runs.carry_out_export(run_id=run_id)


@shared_task(name="turnouts.take_away_old_exports", ignore_result=True)
def take_away_old_exports() -> None:
    """Delete the files of exports that have been kept long enough."""
    export_runs.take_away_old_files(now=timezone.now())


@shared_task(name="turnouts.send_again", ignore_result=True)
def send_lost_runs_again() -> None:
    """Queue again what was lost with the queue."""
    send_again(now=timezone.now())


@shared_task(name=outlook.TASK, ignore_result=True)
def carry_out_outlook(run_id: int) -> None:
    """Look ahead over the railway for the run of this id."""
    carry_out(run_id=run_id, work=outlook.carry_out_outlook)


@shared_task(name=family_comparisons.TASK, ignore_result=True)
def carry_out_comparisons(run_id: int) -> None:
    """Compare the groups of every family for the run of this id."""
    carry_out(run_id=run_id, work=family_comparisons.carry_out_comparisons)


@shared_task(name="turnouts.nightly", ignore_result=True)
def nightly() -> None:
    """Ask for the night's look ahead and for the comparisons, by the timetable."""
    now = timezone.now()
    run = outlook.look_ahead_tonight(at=now)
    family_comparisons.compare_tonight(at=now, by=run.requested_by)
