"""How fast castings cooled at the trackside: coefficients fitted from signed records."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from repairs.models import Estimate, FieldRecord, JobSheet
from repairs.services.editions import edition_used
from repairs.services.estimates import GRINDING, ordinary_day, repair_work
from repairs.services.jobs import work_of
from repairs.services.plain import as_json
from repairs.welding.heat.fit import fitted_loss
from repairs.welding.heat.job import HeatJob
from repairs.welding.heat.passes import LayerWorked, TemperatureRead, passes_of
from repairs.welding.refusals import WeldingRefusal
from repairs.welding.waits import heat_job
from repairs.welding.work import Conditions
from repairs.welding.zoneplan import plan_zones
from turnouts.access import Action, require, visible
from turnouts.models import LongRun, Person
from turnouts.services.errors import Refused
from turnouts.services.runs import Progress, newest_run, start_run

KIND = "cooling"
TASK = "repairs.cooling_fit"
NEWEST = 50
"""Records looked at, the newest: each takes a few seconds, and old lances teach nothing new."""


def request_cooling_fit(*, by: Person, request_key: str) -> LongRun:
    """Queue the fitting of the newest signed records that the person may see."""
    require(by, Action.ESTIMATE)
    run, _ = start_run(kind=KIND, request_key=request_key, by=by, task=TASK)
    return run


def newest_cooling_fit(by: Person) -> LongRun | None:
    """The person's own last fit: it holds what they may see."""
    return newest_run(KIND, by=by)


def carry_out_cooling_fit(run: LongRun, progress: Progress) -> dict[str, Any]:
    """A coefficient for each record whose temperatures can tell one, a sentence for the others."""
    rows = visible(run.requested_by, FieldRecord.objects.all(), Action.SEE_SHEETS)
    latest = rows.order_by("sheet_id", "-number").distinct("sheet_id").values("pk")
    records = list(
        FieldRecord.objects.filter(pk__in=latest)
        .exclude(sheet__job__procedure=GRINDING)
        .select_related("sheet__job__turnout", "sheet__job__component", "sheet__estimate")
        .order_by("-pk")[:NEWEST]
    )
    fits, refused = [], []
    for done, record in enumerate(records, start=1):
        try:
            fits.append({"sheet": record.sheet.number} | fit_of(record))
        except (WeldingRefusal, Refused) as fault:
            refused.append(f"{record.sheet.number}: {fault}")
        progress(done, len(records), "Fitting the cooling of each record")
    return {"fits": fits, "refused": refused}


def fit_of(record: FieldRecord) -> dict[str, Any]:
    """The coefficient in W/(m2 K) that brings the model nearest this record's temperatures.

    No record holds the air of its night; ``air_degc`` is what its sheet reckoned with, and the rail
    is taken to have been as warm. Raises OutsideValidity where the temperatures do not say how fast
    the steel cooled.
    """
    state = record.content["state"]
    passes = passes_of(layers_worked(record.sheet.content, _went(state)), _readings(state))
    fitted = as_json(fitted_loss(heat_of(record.sheet), passes))
    return dict(fitted) | {"air_degc": _day_of(record.sheet).air_degc}


def heat_of(sheet: JobSheet) -> HeatJob:
    """The job of a sheet in the heat model: its estimate's edition, the sheet's own day."""
    estimate: Estimate = sheet.estimate
    work, edition = repair_work(work_of(sheet.job)), edition_used(estimate)
    return heat_job(work, plan_zones(work, edition), edition, _day_of(sheet))


def _day_of(sheet: JobSheet) -> Conditions:
    """The day a sheet was made for; an ordinary one where the sheet is older than that."""
    cooling = sheet.content.get("cooling")
    return Conditions(cooling["air_degc"], cooling["air_degc"]) if cooling else ordinary_day()


def layers_worked(
    content: Mapping[str, Any], went: Mapping[str, tuple[float, float]]
) -> list[LayerWorked]:
    """The layers of a sheet that were worked; ``went`` gives begin and end in minutes by stage."""
    return [
        LayerWorked(
            zone=zone["key"],
            layer=layer["number"],
            beads=layer["beads"],
            bead_arc_min=layer["arc_min"] / layer["beads"],
            start_min=went[key][0],
            end_min=went[key][1],
        )
        for zone in content["zones"]
        for layer in zone["layers"]
        if (key := f"{zone['key']}.layer-{layer['number']:02d}") in went
    ]


def _went(state: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    begun = _begun(state)
    return {
        stage["key"]: (_minutes(stage["started_at"], begun), _minutes(stage["ended_at"], begun))
        for stage in state["stages"]
        if stage["ended_at"]
    }


def _readings(state: Mapping[str, Any]) -> list[TemperatureRead]:
    begun = _begun(state)
    return [
        TemperatureRead(read["zone"], _minutes(read["at"], begun), float(read["degc"]))
        for read in sorted(state["pass_temperatures"], key=lambda one: str(one["at"]))
    ]


def _begun(state: Mapping[str, Any]) -> datetime:
    return datetime.fromisoformat(state["started_at"])


def _minutes(at: str, begun: datetime) -> float:
    return (datetime.fromisoformat(at) - begun).total_seconds() / 60
