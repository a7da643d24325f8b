"""Estimates: a job's defects as patches to weld or grind, and what the welding knowledge says."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zlib import crc32

from repairs.models import Estimate, RepairJob
from repairs.services.editions import approved_editions
from repairs.services.lance_in_force import row_w_per_m2_k
from repairs.services.learning import learnt
from repairs.welding.at_current import at_current
from repairs.welding.estimate import estimate
from repairs.welding.grinding import estimate_grinding
from repairs.welding.learning import NO_EXPERIENCE, Experience
from repairs.welding.own_editions import OwnEdition
from repairs.welding.procedures import Procedure, procedure_in_force, procedures_for
from repairs.welding.result import Estimate as RepairEstimate
from repairs.welding.rows_toml import table_of
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from repairs.welding.zoneplan import ordered_zones
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


Own = Sequence[OwnEdition] | None
"""The railway's approved editions; None where they are to be read from the database."""


def procedure_for(work: Work, on: date, own: Own = None) -> str:
    """The procedure's id: the first in force for this steel and component, wire before stick."""
    if work.disposition is Disposition.GRIND:
        return GRINDING
    kind = ComponentKind(work.component.kind)
    return procedures_for(_steel(work.component), kind, on, _read(own))[0].id


def edition_on(procedure: str, on: date, own: Own = None) -> Procedure | None:
    """The edition in force on a day, the railway's own before those shipped; None for grinding."""
    return None if procedure == GRINDING else procedure_in_force(procedure, on, _read(own))


def _read(own: Own) -> Sequence[OwnEdition]:
    return approved_editions() if own is None else own


Known = Mapping[str, Experience] | None
"""What signed records teach, by procedure; None where it is to be read from the database."""


def known_of(procedure: str, known: Known) -> Experience:
    """What is known of one procedure; without records, the rows stand as they are."""
    return (learnt() if known is None else known).get(procedure, NO_EXPERIENCE)


def worked_out(
    work: Work, procedure: str, on: date, own: Own = None, known: Known = None
) -> RepairEstimate:
    """What the work takes on an ordinary day, stage times moved by the records of work done.

    The same work and records give the same figures.

    Raises Refused or a WeldingRefusal with a sentence where no estimate can be made.
    """
    return worked_out_for(work, procedure, on, ordinary_day(), own, known)


def worked_out_for(
    work: Work,
    procedure: str,
    on: date,
    conditions: Conditions,
    own: Own = None,
    known: Known = None,
    current_a: float | None = None,
) -> RepairEstimate:
    """What the work takes in given conditions, by the edition of the procedure in force ``on``.

    ``current_a`` is another current than the procedure's, for a question that keeps nothing.
    """
    seed = seed_of(work)
    experience = known_of(procedure, known)
    if work.disposition is Disposition.GRIND:
        return estimate_grinding(repair_work(work), conditions, seed, experience)
    edition = procedure_in_force(procedure, on, _read(own))
    chosen = edition if current_a is None else at_current(edition, current_a)
    return estimate(repair_work(work), chosen, conditions, seed, experience)


def seed_of(work: Work) -> int:
    """The same work draws the same numbers, so that two estimates of it differ by reasons only."""
    return crc32(f"{work.component.serial} {work.disposition}".encode())


def estimate_row(
    *,
    job: RepairJob,
    answer: RepairEstimate,
    at: datetime,
    own: Own = None,
    known: Known = None,
) -> Estimate:
    """The answer as a row, not yet saved, standing as the current estimate of the job.

    With it stands what it was moved by: a sentence for each kind of stage that records teach.
    """
    taught = known_of(job.procedure, known)
    # The answer says since when its edition stands; on that very day it is the one in force.
    edition = edition_on(job.procedure, answer.procedure_since, own)
    lance = lance_for(edition, taught)
    said = [one.sentence for one in taught.stages.values()]
    return Estimate(
        job=job,
        made_at=at,
        procedure=job.procedure,
        procedure_since=answer.procedure_since,
        own_edition_id=edition.own_edition if edition else None,
        lance_w_per_m2_k=lance,
        p50_min=answer.p50_min,
        p80_min=answer.p80_min,
        p95_min=answer.p95_min,
        mean_min=answer.mean_min,
        sd_min=answer.sd_min,
        shared=answer.shared,
        cavity_cm3=answer.cavity_mm3 / 1000,
        filler_kg=answer.filler_kg,
        detail=answer.as_dict()
        | {"learnt": said if lance is None else [*said, lance_sentence(lance)]},
    )


def lance_for(edition: Procedure | None, known: Experience) -> float | None:
    """The cooling under the air lance taken over from records, where the edition uses a lance."""
    quenches = edition is not None and edition.settings.cooling != "still_air"
    return known.lance_w_per_m2_k if quenches else None


def lance_sentence(w_per_m2_k: float) -> str:
    """What was taken over, beside the row, in words for a person."""
    return (
        f"Air lance: {w_per_m2_k:.0f} W/(m2 K), fitted from the temperatures of signed records, "
        f"proposed by one engineer and approved by another (row: {row_w_per_m2_k():.0f})."
    )


def defects_in_order(work: Work) -> list[Defect]:
    """The defects in the order their patches are worked, which is that of an estimate's zones."""
    asked = repair_work(work)
    numbers = {id(zone): number for number, zone in enumerate(asked.zones)}
    ordered = asked.zones if work.disposition is Disposition.GRIND else ordered_zones(asked)
    return [work.defects[numbers[id(zone)]] for zone in ordered]


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


def material_use(of: Estimate) -> dict[str, float]:
    """What a job takes from the truck's stock, by material: the load-out, so that it seldom runs
    out. Filler metal goes by the id of its procedure."""
    wanted = USED_UP | {of.procedure}
    return {m["key"]: m["load_out"] for m in of.detail["materials"] if m["key"] in wanted}
