"""A district's way up to a published week, through the services and without the queue: for tests
that begin where this ends."""

from datetime import timedelta

from django.utils import timezone

from planning.models import WeekPlan
from planning.services.calendar import Week
from planning.services.plans import plan_week, request_plan
from planning.services.publish import publish_plan
from repairs.models import RepairJob
from repairs.services.jobs import make_jobs
from repairs.services.triage import triage_open
from tests.browser.district import District
from tests.browser.files import as_workbook, spalled_points
from turnouts.analysis.terms import Role
from turnouts.services.imports import import_now


def nobody_looks(done: int, total: int, words: str) -> None:
    """Progress of work that is carried out at once."""


def waiting_jobs(here: District, depth: str = "1/2") -> list[RepairJob]:
    """The inspector's file brought in, its defects judged, and a job estimated for each."""
    inspector, supervisor = here.people[Role.INSPECTOR], here.people[Role.SUPERVISOR]
    given = as_workbook(spalled_points(here, depth))
    report = import_now(
        by=inspector,
        files=[(given["name"], given["buffer"])],
        dry_run=False,
        progress=nobody_looks,
    )
    assert report.applied, report.faults
    now = {"on": timezone.localdate(), "at": timezone.now(), "progress": nobody_looks}
    triage_open(by=inspector, **now)
    made = make_jobs(by=supervisor, **now)
    assert made.refused == []
    return list(RepairJob.objects.filter(turnout__in=here.spots).order_by("reference"))


def published_week(here: District) -> WeekPlan:
    """The week planned and published by the supervisor; the run's work is done at once."""
    supervisor = here.people[Role.SUPERVISOR]
    run, _ = request_plan(
        by=supervisor,
        territory=here.territory,
        week=Week(here.monday),
        request_key=f"plan {here.territory.code}",
    )
    at = timezone.now()
    answer = plan_week(run=run, progress=nobody_looks, at=at)
    plan = WeekPlan.objects.get(pk=answer["plan"])
    return publish_plan(
        by=supervisor, plan=plan, expected_version=plan.version, at=at + timedelta(seconds=1)
    )
