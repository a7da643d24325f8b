"""A job on another day: other air, wind, current, quench or track time. Nothing is kept."""

from dataclasses import dataclass, replace
from datetime import date

from repairs.models import RepairJob
from repairs.services.editions import approved_editions
from repairs.services.estimates import edition_on, ordinary_day, worked_out_for
from repairs.services.jobs import work_of
from repairs.services.lance_in_force import lance_in_force, row_w_per_m2_k
from repairs.welding.at_current import current_range_a
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import WeldingRefusal
from repairs.welding.result import Estimate
from repairs.welding.work import Conditions
from turnouts.services.errors import Refused

QUENCHES = {"none": 0.0, "usual": 1.0, "double": 2.0, "triple": 3.0}
"""How much air is blown on the casting between beads, against the air lance in force."""

USUAL_MINUTES = 6 * 60.0


@dataclass(frozen=True)
class Day:
    """What is asked: temperatures in degC, wind in m/s, current in A, track time in minutes."""

    air_degc: float
    wind_m_per_s: float
    available_min: float
    current_a: float | None = None
    quench: str = "usual"


@dataclass(frozen=True)
class TriedOut:
    """The answer for a day, and the range of current that may be asked for."""

    day: Day
    answer: Estimate
    currents_a: tuple[float, float] | None


def usual_day(job: RepairJob, on: date) -> Day:
    """The day an estimate takes when nothing else is asked, in a night of six hours."""
    edition = edition_on(job.procedure, on)
    return Day(
        air_degc=ordinary_day().air_degc,
        wind_m_per_s=0.0,
        available_min=USUAL_MINUTES,
        current_a=edition.settings.current_a if edition else None,
    )


def try_out(job: RepairJob, day: Day, on: date) -> TriedOut:
    """What the job takes on such a day; the rail is taken to be at the air's temperature.

    Raises Refused with a sentence where no estimate can be made.
    """
    if day.quench not in QUENCHES:
        raise Refused(f"Air on the casting is one of {', '.join(QUENCHES)}, not {day.quench!r}.")
    own = approved_editions()
    edition = edition_on(job.procedure, on, own)
    conditions = _conditions(day, edition)
    try:
        answer = worked_out_for(
            work_of(job), job.procedure, on, conditions, own, current_a=day.current_a
        )
    except WeldingRefusal as refusal:
        raise Refused(str(refusal)) from refusal
    return TriedOut(day, answer, current_range_a(edition) if edition else None)


def _conditions(day: Day, edition: Procedure | None) -> Conditions:
    usual = Conditions(
        air_degc=day.air_degc,
        rail_degc=day.air_degc,
        available_min=day.available_min,
        wind_m_per_s=day.wind_m_per_s,
    )
    if edition is None or edition.settings.cooling != "air_quench":
        return usual
    taken = lance_in_force()
    lance = taken.w_per_m2_k if taken else row_w_per_m2_k()
    return replace(usual, quench_w_per_m2_k=lance * QUENCHES[day.quench])
