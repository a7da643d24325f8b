"""What would change the waits: a bigger air quench, zones by turns, wind, a cold morning.

Each answer is a run of the heat model of its own, so a handful of them takes a second or two.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from repairs.welding.heat.run import run_heat
from repairs.welding.heat.run_result import HeatRun
from repairs.welding.procedures import Procedure
from repairs.welding.rows_toml import table_of
from repairs.welding.waits import heat_job, quench_w_per_m2_k
from repairs.welding.work import COLDEST_DEGC, Conditions, RepairWork
from repairs.welding.zoneplan import ZonePlan, plan_zones
from turnouts.analysis.terms import FrogDesign, Zone

QUENCH_TIMES = 2.0
COLDER_K = 25.0
STIFF_WIND_M_PER_S = 8.0


@dataclass(frozen=True, slots=True)
class Change:
    """One change to the plan: waiting, and minutes from first to last bead, against as planned.

    ``saved_min`` is below 0 where the change costs time.
    """

    key: str
    said: str
    wait_min: float
    welding_min: float
    saved_min: float


def what_it_changes(
    work: RepairWork, procedure: Procedure, conditions: Conditions
) -> tuple[Change, ...]:
    """The plan as it stands, first, and each change that can be made to it.

    Zones by turns are left out where there is one zone only, and on a self-guarded frog whose
    guarding face must be restored before its point (49 CFR 213.141(b)).
    """
    plans = plan_zones(work, procedure)
    planned = run_heat(heat_job(work, plans, procedure, conditions))
    made = [Change("as_planned", "As planned.", planned.wait_min, _length(planned), 0.0)]
    for key, said, changed in _days(procedure, conditions):
        made.append(
            _against(planned, key, said, run_heat(heat_job(work, plans, procedure, changed)))
        )
    if by_turns_allowed(work, plans):
        said = (
            "Beads laid by turns in the zones, the coolest next. All cavities are open at once: "
            "the track cannot be handed back between zones."
        )
        turns = run_heat(heat_job(work, plans, procedure, conditions, by_turns=True))
        made.append(_against(planned, "by_turns", said, turns))
    return tuple(made)


def by_turns_allowed(work: RepairWork, plans: Sequence[ZonePlan]) -> bool:
    """Whether several zones may be open at once."""
    zones = {plan.work.zone for plan in plans}
    ordered = work.design is FrogDesign.SELF_GUARDED_MANGANESE
    return len(plans) > 1 and not (ordered and {Zone.GUARD_FACE, Zone.POINT} <= zones)


def _days(procedure: Procedure, conditions: Conditions) -> Iterator[tuple[str, str, Conditions]]:
    quench = quench_w_per_m2_k(procedure, conditions)
    if quench > 0:
        more = quench * QUENCH_TIMES
        yield (
            "more_air",
            f"Air cooling of {more:g} in place of {quench:g} W/m2K.",
            replace(conditions, quench_w_per_m2_k=more),
        )
    air_degc = max(conditions.air_degc - COLDER_K, COLDEST_DEGC)
    rail_degc = max(conditions.rail_degc - COLDER_K, COLDEST_DEGC)
    yield (
        "colder",
        f"A morning of {air_degc:g} degC.",
        replace(conditions, air_degc=air_degc, rail_degc=rail_degc),
    )
    most = table_of("heating", "air").number("wind_max")
    windy = min(conditions.wind_m_per_s + STIFF_WIND_M_PER_S, most)
    yield (
        "windy",
        f"A wind of {windy:g} m/s across the track.",
        replace(conditions, wind_m_per_s=windy),
    )


def _length(run: HeatRun) -> float:
    return run.end_min - run.begin_min


def _against(planned: HeatRun, key: str, said: str, run: HeatRun) -> Change:
    saved = _length(planned) - _length(run)
    return Change(key, said, run.wait_min, _length(run), saved)
