"""How long repairs of lost metal lasted on one component, and how long it lasted when new."""

from collections.abc import Mapping
from datetime import date, timedelta

from turnouts.analysis.recurrence.lives import Life as RepairLife
from turnouts.analysis.wear.resets import METAL_LOST
from turnouts.services.component_rows import Life


def end_of(life: Life, on: date) -> float:
    """MGT by the end of a day."""
    mgt = life.clock.at(on + timedelta(days=1))
    return life.clock.mgts[0] if mgt is None else mgt


def repair_lives(life: Life, on: date) -> tuple[RepairLife, ...]:
    """Tonnage from each repair of lost metal to the next such defect in its zone, or to today."""
    now = end_of(life, on)
    lost = [found for found in life.defects if found.fact.kind in METAL_LOST]
    by_zone: Mapping[str, list[float]] = {
        found.fact.zone: sorted(o.fact.mgt for o in lost if o.fact.zone is found.fact.zone)
        for found in lost
    }
    lives = []
    for found in lost:
        for repaired in found.repaired_mgt:
            again = next((mgt for mgt in by_zone[found.fact.zone] if mgt > repaired), None)
            lasted = (now if again is None else again) - repaired
            if lasted > 0:
                lives.append(RepairLife(lasted, again is not None))
    return tuple(lives)


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
