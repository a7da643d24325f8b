"""What a proposed cooling under the air lance would change: some waiting jobs, before and after."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from repairs.models import Estimate, LanceCooling, RepairJob
from repairs.services.editions import approved_editions
from repairs.services.estimates import edition_on
from repairs.services.jobs import work_of
from repairs.services.learning import learnt
from repairs.services.own_procedures import require_everywhere
from repairs.services.procedure_preview import figures
from repairs.welding.own_editions import OwnEdition
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict
from turnouts.services.runs import Progress, newest_run, start_run

KIND = "lance preview"
TASK = "repairs.lance_preview"
REPRESENTATIVE = 6
"""Jobs estimated twice, from the shortest to the longest: an estimate takes about a second, and
what a colder lance does to one job of a size it does to its like."""


def request_lance_preview(
    *, by: Person, lance: LanceCooling, on: date, request_key: str
) -> LongRun:
    """Queue the estimating of some waiting jobs by the present cooling and the proposed one."""
    require_everywhere(by)
    if lance.state != "proposed":
        raise Conflict(f"This is {lance.get_state_display().lower()} already.")
    asked = {"lance": lance.pk, "on": on.isoformat()}
    run, _ = start_run(kind=KIND, request_key=request_key, by=by, asked=asked, task=TASK)
    return run


def newest_lance_preview(lance: LanceCooling) -> LongRun | None:
    """The last look at what this proposal changes, whoever asked for it."""
    return newest_run(KIND, {"lance": lance.pk})


def carry_out_lance_preview(run: LongRun, progress: Progress) -> dict[str, Any]:
    """Estimate twice, write nothing but the run's own result."""
    lance = LanceCooling.objects.get(pk=run.asked["lance"])
    return lance_preview(lance, date.fromisoformat(run.asked["on"]), progress)


def lance_preview(lance: LanceCooling, on: date, progress: Progress) -> dict[str, Any]:
    """Minutes of representative waiting jobs that use the lance, as on a day, before and after.

    ``open`` is how many such jobs there are; each of them would be estimated anew.
    """
    own, known = approved_editions(), learnt()
    proposed = {
        name: replace(one, lance_w_per_m2_k=lance.w_per_m2_k) for name, one in known.items()
    }
    waiting = _by_length(on, own)
    jobs = _spread(waiting)
    listed = []
    for done, job in enumerate(jobs, start=1):
        before, after = (
            figures(work_of(job), job.procedure, on, own, each) for each in (known, proposed)
        )
        listed.append({"job": job.reference, "before": before, "after": after})
        progress(done, len(jobs), "Estimating with both coolings")
    return {"on": on.isoformat(), "open": len(waiting), "listed": listed}


def _by_length(on: date, own: Sequence[OwnEdition]) -> list[int]:
    """The ids of waiting jobs that are cooled by the lance, the shortest first."""
    standing = Estimate.objects.filter(current=True, job__state="estimated", job__part_of=None)
    rows = list(standing.order_by("p50_min", "job").values_list("job", "job__procedure"))
    editions = {name: edition_on(name, on, own) for name in {name for _, name in rows}}
    cooled = {
        name for name, one in editions.items() if one and one.settings.cooling == "air_quench"
    }
    return [job for job, procedure in rows if procedure in cooled]


def _spread(waiting: Sequence[int]) -> list[RepairJob]:
    """The shortest, the longest, and some at even steps between them."""
    last = len(waiting) - 1
    many = min(REPRESENTATIVE, len(waiting))
    chosen = [waiting[round(n * last / max(many - 1, 1))] for n in range(many)]
    rows = RepairJob.objects.with_place().whole().in_bulk(chosen)
    return [rows[pk] for pk in chosen]
