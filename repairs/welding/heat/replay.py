"""A job laid in the model again at the minutes its beads were laid at, whatever the waits were."""

from collections.abc import Sequence

from repairs.welding.heat.job import HeatJob
from repairs.welding.heat.run import march_of
from repairs.welding.refusals import OutsideValidity

# Times are logged by the minute; half of one late is still in order.
CLOCK_EXACT_MIN = 0.5


def temperatures_at(job: HeatJob, starts: Sequence[tuple[str, int, int, float]]) -> list[float]:
    """The measuring place as each bead began, when beads were laid at given minutes.

    ``starts`` gives zone, layer, bead and minute in order of time; nothing is waited for. Raises
    OutsideValidity for a bead the job does not have, or one begun before the last was laid.
    """
    march = march_of(job)
    passes = {(z.key, p.layer, p.bead): (z, p) for z in job.zones for p in z.passes}
    warmed: set[str] = set()
    seen: list[float] = []
    for zone_key, layer, bead, minute in starts:
        name = f"bead {bead} in layer {layer} of {zone_key}"
        if (zone_key, layer, bead) not in passes:
            raise OutsideValidity(f"This job has no {name}; correct the log.")
        if minute < march.minute - CLOCK_EXACT_MIN:
            raise OutsideValidity(
                f"The log has {name} begin at {minute:.1f} min, before the one before it ended at "
                f"{march.minute:.1f}; correct the times."
            )
        zone, each = passes[zone_key, layer, bead]
        march.rest(max(0.0, minute - march.minute), march.lance if warmed else job.around)
        if zone.key not in warmed or zone.torch.kept_up:
            march.steel.warm(zone.torch.along_m, zone.torch.degc)
            warmed.add(zone.key)
        seen.append(march.degc(zone))
        march.arc(each)
    return seen
