"""Estimates: a job's defects as patches to weld or grind, and what the welding knowledge says."""

from dataclasses import dataclass
from datetime import date, datetime
from zlib import crc32

from repairs.models import Estimate, RepairJob
from repairs.welding import estimate as welding
from repairs.welding.procedures import procedure_in_force, procedures_for
from repairs.welding.rows_toml import table_of
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    Disposition,
    FrogDesign,
    Steel,
    Zone,
)
from turnouts.models import Component, Defect
from turnouts.services.errors import Refused

GRINDING = "grinding"
"""What stands for the procedure of a job without welding; people qualify for it by this name."""

METAL_GONE = (DefectKind.CHIP, DefectKind.SPALL, DefectKind.WEAR, DefectKind.BATTER)
"""Defects whose depth is a hole already: that metal need not be gouged out."""


@dataclass(frozen=True)
class Work:
    """What is to be done to one component in one job."""

    component: Component
    disposition: Disposition
    defects: tuple[Defect, ...]


def procedure_for(work: Work, on: date) -> str:
    """The procedure's id: the first in force for this steel and component, wire before stick."""
    if work.disposition is Disposition.GRIND:
        return GRINDING
    kind = ComponentKind(work.component.kind)
    return procedures_for(_steel(work.component), kind, on)[0].id


def estimate_job(*, job: RepairJob, work: Work, on: date, at: datetime) -> Estimate:
    """Work the job out and keep the result as the current estimate; earlier ones stay readable."""
    answer = _worked_out(job, work, on)
    job.estimates.filter(current=True).update(current=False)
    return Estimate.objects.create(
        job=job,
        made_at=at,
        procedure=job.procedure,
        procedure_since=answer.procedure_since,
        p50_min=answer.p50_min,
        p80_min=answer.p80_min,
        p95_min=answer.p95_min,
        mean_min=answer.mean_min,
        sd_min=answer.sd_min,
        shared=answer.shared,
        cavity_cm3=answer.cavity_mm3 / 1000,
        filler_kg=answer.filler_kg,
        detail=answer.as_dict(),
    )


def _worked_out(job: RepairJob, work: Work, on: date) -> welding.Estimate:
    seed = crc32(job.reference.encode())  # the same job gives the same figures
    if work.disposition is Disposition.GRIND:
        return welding.estimate_grinding(repair_work(work), ordinary_day(), seed)
    procedure = procedure_in_force(job.procedure, on)
    return welding.estimate(repair_work(work), procedure, ordinary_day(), seed)


def ordinary_day() -> Conditions:
    """The conditions an estimate takes when no forecast is given."""
    rows = table_of("conditions", "ordinary_day")
    return Conditions(rows.number("air_degc"), rows.number("rail_degc"))


def repair_work(work: Work) -> RepairWork:
    """The patches of a job. Raises Refused, naming the defect whose size nobody measured."""
    row = work.component
    return RepairWork(
        component=ComponentKind(row.kind),
        design=FrogDesign(row.design) if row.design else None,
        steel=_steel(row),
        zones=tuple(_patch(defect) for defect in work.defects),
    )


def _steel(component: Component) -> Steel:
    if not component.steel:
        raise Refused(
            f"The steel of component {component.serial} is not known, so no procedure can be "
            "chosen. Enter its steel in the inventory."
        )
    return Steel(component.steel)


def _patch(defect: Defect) -> ZoneWork:
    length, width, depth = defect.length_mm, defect.width_mm, defect.depth_mm
    if length is None or width is None or depth is None:
        raise Refused(
            f"Defect {defect.reference} has no length, width or depth; measure all three before "
            "the repair can be worked out."
        )
    gone = float(depth) if DefectKind(defect.kind) in METAL_GONE else 0.0
    return ZoneWork(Zone(defect.zone), float(length), float(width), float(depth), gone)


USED_UP = frozenset({"carbons", "cavity_wheels", "profile_stones", "penetrant_set", "propane"})
"""Material that is gone after the job, besides the filler metal; the rest is used again or fuel."""


def material_use(estimate: Estimate) -> dict[str, float]:
    """What a job takes from the truck's stock, by material: the load-out, so that it seldom runs
    out. Filler metal goes by the id of its procedure."""
    wanted = USED_UP | {estimate.procedure}
    return {m["key"]: m["load_out"] for m in estimate.detail["materials"] if m["key"] in wanted}
