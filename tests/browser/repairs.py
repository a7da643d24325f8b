"""A district's way up to a published week, through the services and without the queue: for tests
that begin where this ends."""

import hashlib
from dataclasses import asdict

from django.core.files.base import ContentFile
from django.utils import timezone
from playwright.sync_api import FilePayload

from planning.models import WeekPlan
from planning.services.plans import plan_week
from planning.services.publish import publish_plan
from planning.services.what_if import carry_out_what_if, request_what_if
from repairs.models import RepairJob
from repairs.services.jobs import make_jobs
from repairs.services.triage import triage_open
from tests.browser.district import District
from tests.browser.files import as_workbook, spalled_points
from turnouts.analysis.terms import Role
from turnouts.models import ImportFile, LongRun, Person
from turnouts.services.export_runs import KIND as EXPORT
from turnouts.services.export_runs import carry_out_export
from turnouts.services.imports import carry_out_import, import_now
from turnouts.services.runs import carry_out, start_run


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
    on, at = timezone.localdate(), timezone.now()
    triage_open(by=inspector, on=on, at=at, progress=nobody_looks)
    made = make_jobs(by=supervisor, on=on, at=at, progress=nobody_looks)
    assert made.refused == []
    return list(RepairJob.objects.filter(turnout__in=here.spots).order_by("reference"))


def published_week(here: District) -> WeekPlan:
    """The week planned and published by the supervisor."""
    supervisor = here.people[Role.SUPERVISOR]
    run, _ = start_run(
        kind="plan",
        request_key=f"plan {here.territory.code}",
        by=supervisor,
        asked={"territory": here.territory.code, "week": here.monday.isoformat()},
    )
    at = timezone.now()
    done = carry_out(
        run_id=run.pk, work=lambda run, progress: plan_week(run=run, progress=progress, at=at)
    )
    plan = WeekPlan.objects.get(pk=done.result["plan"])
    return publish_plan(by=supervisor, plan=plan, expected_version=plan.version, at=at)


def asked_about(plan: WeekPlan) -> LongRun:
    """What if the first window of the plan were cancelled, answered."""
    first = plan.placed.select_related("window").earliest("starts_at")
    run, _ = request_what_if(
        by=plan.made_by,
        plan=plan,
        question={"kind": "cancel_window", "window": first.window.reference},
        request_key=f"what if {plan.pk}",
        at=timezone.now(),
    )
    return carry_out(
        run_id=run.pk,
        work=lambda run, tell: carry_out_what_if(run=run, progress=tell, at=timezone.now()),
    )


def looked_at(by: Person, given: FilePayload) -> LongRun:
    """The dry run of a file, done."""
    run, _ = start_run(kind="import", request_key=f"import {given['name']}", by=by)
    content = given["buffer"]
    ImportFile.objects.create(
        run=run,
        name=given["name"],
        sha256=hashlib.sha256(content).hexdigest(),
        content=ContentFile(content, name=given["name"]),
        dry_run=True,
    )
    return carry_out_import(run_id=run.pk)


def taken_out(by: Person) -> LongRun:
    """All that somebody may see, written to a workbook."""
    asked = {"sheets": [], "form": "xlsx", "units": asdict(by.units)}
    run, _ = start_run(kind=EXPORT, request_key=f"export {by.username}", by=by, asked=asked)
    return carry_out_export(run_id=run.pk)
