"""New estimates for jobs not yet issued, once another edition or lance cooling is in force."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from repairs.models import RepairJob
from repairs.services.editions import approved_editions
from repairs.services.estimates import GRINDING, Known, procedure_for
from repairs.services.jobs import CURRENT_EDITION, edition_stands, reestimate_job, work_of
from repairs.services.learning import learnt
from repairs.welding.own_editions import OwnEdition
from repairs.welding.refusals import WeldingRefusal
from turnouts.access import Action, require, visible
from turnouts.models import Person
from turnouts.services.errors import Refused
from turnouts.services.runs import Progress


@dataclass(frozen=True)
class RenewalResult:
    """How many jobs were looked at and estimated anew; ``refused`` says in words what could not."""

    looked_at: int
    renewed: int
    refused: list[str]


def renew_estimates(*, by: Person, on: date, at: datetime, progress: Progress) -> RenewalResult:
    """Estimate anew every job not yet issued whose edition or lance cooling is no longer in force.

    An issued job stays as it was issued. A job that cannot be estimated any more keeps its
    estimate and is reported with the sentence; it stops no other.
    """
    require(by, Action.ESTIMATE)
    jobs = list(_waiting(by))
    own, known = approved_editions(), learnt()
    refused: list[str] = []
    renewed = 0
    for done, job in enumerate(jobs, start=1):
        try:
            renewed += _renewed(job, by, on, at, own, known)
        except (Refused, WeldingRefusal) as refusal:
            refused.append(f"{job.reference}: {refusal}")
        progress(done, len(jobs), "Estimating by the edition in force")
    return RenewalResult(len(jobs), renewed, refused)


def _waiting(by: Person) -> list[RepairJob]:
    waiting = RepairJob.objects.with_place().whole().filter(state="estimated")
    rows = waiting.exclude(procedure=GRINDING)
    return list(visible(by, rows, Action.ESTIMATE).prefetch_related(CURRENT_EDITION))


@transaction.atomic
def _renewed(
    job: RepairJob,
    by: Person,
    on: date,
    at: datetime,
    own: tuple[OwnEdition, ...],
    known: Known,
) -> bool:
    stands = edition_stands(job, on, own, known)
    if stands and procedure_for(work_of(job), on, own) == job.procedure:
        return False
    reestimate_job(by=by, job=job, on=on, at=at)
    return True
