"""What a proposed edition would change: the jobs that wait, estimated by both editions."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from repairs.models import OwnerProcedure, RepairJob
from repairs.services.editions import approved_editions, edition_of
from repairs.services.estimates import GRINDING, Known, Work, procedure_for, worked_out
from repairs.services.jobs import work_of
from repairs.services.own_procedures import PREVIEW, require_everywhere
from repairs.welding.own_editions import OwnEdition
from repairs.welding.refusals import WeldingRefusal
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import Progress, start_run

PREVIEW_TASK = "repairs.procedure_preview"
LISTED = 500
"""Jobs kept with the run one by one; all of them are counted."""

FIGURES = ("p50_min", "p95_min", "wait_min", "filler_kg")
STAY = ("issued", "in_work")


def request_procedure_preview(
    *, by: Person, edition: OwnerProcedure, on: date, request_key: str
) -> LongRun:
    """Queue the estimating of waiting jobs by the present edition and the proposed one."""
    require_everywhere(by)
    if edition.state != "proposed":
        raise Conflict(f"This edition is {edition.get_state_display().lower()} already.")
    asked = {"edition": edition.pk, "on": on.isoformat()}
    run, _ = start_run(kind=PREVIEW, request_key=request_key, by=by, asked=asked, task=PREVIEW_TASK)
    return run


def carry_out_procedure_preview(run: LongRun, progress: Progress) -> dict[str, Any]:
    """Estimate twice, write nothing but the run's own result."""
    edition = OwnerProcedure.objects.get(pk=run.asked["edition"])
    today = date.fromisoformat(run.asked["on"])
    # An edition that begins later is looked at on the day it will begin.
    return procedure_preview(edition, max(today, edition.starts_on), progress)


def procedure_preview(edition: OwnerProcedure, on: date, progress: Progress) -> dict[str, Any]:
    """Each waiting job that the edition touches, before and after, as on a day; and the sums."""
    standing = approved_editions()
    proposed = edition_of(edition, list(edition.changes.all()))
    # However late it is approved, it would be in force on the day, and no other of that day.
    others = [own for own in standing if (own.procedure, own.start) != (proposed.procedure, on)]
    after = (*others, replace(proposed, start=on))
    jobs = _waiting_jobs()
    listed: list[dict[str, Any]] = []
    for done, job in enumerate(jobs, start=1):
        found = _both(work_of(job), edition.procedure, on, standing, after)
        listed += [{"job": job.reference, **found}] if found else []
        progress(done, len(jobs), "Estimating by both editions")
    return {
        "on": on.isoformat(),
        "looked_at": len(jobs),
        "standing": [own.id for own in standing],
        "changed": sum(one["before"] != one["after"] for one in listed),
        "touched": len(listed),
        "stay": RepairJob.objects.filter(procedure=edition.procedure, state__in=STAY).count(),
        "sums": {side: _sums(listed, side) for side in ("before", "after")},
        "refused": sum("refused" in one["after"] for one in listed),
        "listed": listed[:LISTED],
    }


def _waiting_jobs() -> list[RepairJob]:
    rows = RepairJob.objects.with_place().whole().filter(state="estimated")
    return list(rows.exclude(procedure=GRINDING).order_by("reference"))


def _both(
    work: Work, procedure: str, on: date, standing: Sequence[OwnEdition], new: Sequence[OwnEdition]
) -> dict[str, Any]:
    """The job before and after; nothing where it is done by another procedure either way."""
    sides = [_chosen(work, on, own) for own in (standing, new)]
    if procedure not in sides:
        return {}
    before, after = (
        figures(work, chosen, on, own) for chosen, own in zip(sides, (standing, new), strict=True)
    )
    return {"before": before, "after": after}


def _chosen(work: Work, on: date, own: Sequence[OwnEdition]) -> str:
    try:
        return procedure_for(work, on, own)
    except (Refused, WeldingRefusal):
        return ""


def figures(
    work: Work, chosen: str, on: date, own: Sequence[OwnEdition], known: Known = None
) -> dict[str, Any]:
    """What a preview shows of one estimate, or the sentence that says why there is none."""
    try:
        answer = worked_out(work, chosen, on, own, known)
    except (Refused, WeldingRefusal) as refusal:
        return {"procedure": chosen, "refused": str(refusal)}
    return {"procedure": chosen} | {name: getattr(answer, name) for name in FIGURES}


def _sums(listed: Sequence[dict[str, Any]], side: str) -> dict[str, float]:
    """Over the jobs that both editions can do, so that the two sums are of the same work."""
    both = [one for one in listed if not {"refused"} & (set(one["before"]) | set(one["after"]))]
    return {name: sum(one[side][name] for one in both) for name in FIGURES}
