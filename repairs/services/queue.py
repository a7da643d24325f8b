"""Long work of this app: asked for here, carried out by the queue."""

import dataclasses
from datetime import date, datetime
from typing import Any

from repairs.services.jobs import make_jobs
from repairs.services.plain import as_json
from repairs.services.renewal import renew_estimates
from repairs.services.triage import triage_open
from turnouts.access import Action, require
from turnouts.models import LongRun, Person
from turnouts.services.runs import Progress, start_run

TRIAGE_TASK = "repairs.triage"
JOBS_TASK = "repairs.jobs"
RENEWAL_TASK = "repairs.renew_estimates"


def request_triage(*, by: Person, on: date, request_key: str) -> LongRun:
    """Queue the judging of all open defects the person may judge."""
    require(by, Action.TRIAGE)
    return _request("triage", TRIAGE_TASK, by, on, request_key)


def request_jobs(*, by: Person, on: date, request_key: str) -> LongRun:
    """Queue the making of repair jobs from the decisions that call for them."""
    require(by, Action.ESTIMATE)
    return _request("jobs", JOBS_TASK, by, on, request_key)


def request_renewal(*, by: Person, on: date, request_key: str) -> LongRun:
    """Queue new estimates for waiting jobs whose procedure has another edition in force."""
    require(by, Action.ESTIMATE)
    return _request("renewal", RENEWAL_TASK, by, on, request_key)


def _request(kind: str, task: str, by: Person, on: date, request_key: str) -> LongRun:
    asked = {"on": on.isoformat()}
    run, _ = start_run(kind=kind, request_key=request_key, by=by, asked=asked, task=task)
    return run


def carry_out_triage(run: LongRun, progress: Progress, at: datetime) -> dict[str, Any]:
    on = date.fromisoformat(run.asked["on"])
    answer = triage_open(by=run.requested_by, on=on, at=at, progress=progress)
    return dict(as_json(answer))


def carry_out_jobs(run: LongRun, progress: Progress, at: datetime) -> dict[str, Any]:
    on = date.fromisoformat(run.asked["on"])
    answer = make_jobs(by=run.requested_by, on=on, at=at, progress=progress)
    return dict(as_json(answer))


def carry_out_renewal(run: LongRun, progress: Progress, at: datetime) -> dict[str, Any]:
    on = date.fromisoformat(run.asked["on"])
    answer = renew_estimates(by=run.requested_by, on=on, at=at, progress=progress)
    # Zeros and empty lists are kept: the page says them.
    return dataclasses.asdict(answer)
