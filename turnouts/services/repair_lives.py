"""How long repairs of lost metal lasted on one component, and how long it lasted when new."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from turnouts.analysis.recurrence.lives import Life as RepairLife
from turnouts.analysis.wear.resets import METAL_LOST
from turnouts.services.component_rows import Found, Life


def end_of(life: Life, on: date) -> float:
    """MGT by the end of a day."""
    mgt = life.clock.at(on + timedelta(days=1))
    return life.clock.mgts[0] if mgt is None else mgt


@dataclass(frozen=True)
class Repaired:
    """One repair of lost metal: of which defect, when, and how long it lasted."""

    found: Found
    on: date
    life: RepairLife


def repaired_of(life: Life, on: date) -> Iterator[Repaired]:
    """Each repair of lost metal with its life: to the next such defect in its zone, or to today."""
    lost = [found for found in life.defects if found.fact.kind in METAL_LOST]
    for found in lost:
        again = sorted(o.fact.mgt for o in lost if o.fact.zone is found.fact.zone)
        for mgt, day in zip(found.repaired_mgt, found.repaired_on, strict=True):
            failed = next((other for other in again if other > mgt), None)
            lasted = (end_of(life, on) if failed is None else failed) - mgt
            if lasted > 0:
                yield Repaired(found, day, RepairLife(lasted, failed is not None))


def repair_lives(life: Life, on: date) -> tuple[RepairLife, ...]:
    """Tonnage from each repair of lost metal to the next such defect in its zone, or to today."""
    return tuple(one.life for one in repaired_of(life, on))


def first_life(life: Life, begins: date | None, on: date) -> RepairLife | None:
    """Tonnage of a new component to its first defect of lost metal, or to today without one.

    Only where it was put in new after the records began: of an older one the first may have gone
    unrecorded.
    """
    stays = sorted(life.component.installations.all(), key=lambda stay: stay.installed_on)
    if not stays or stays[0].mgt_at_installation or begins is None:
        return None
    if stays[0].installed_on < begins or life.clock.known_from > stays[0].installed_on:
        return None
    lost = [found.fact.mgt for found in life.defects if found.fact.kind in METAL_LOST]
    lasted = min(lost, default=end_of(life, on)) - life.clock.mgts[0]
    return RepairLife(lasted, bool(lost)) if lasted > 0 else None
