"""What is asked of the estimate: the work on one component and the conditions on the day."""

from dataclasses import dataclass

from repairs.welding.refusals import WeldingRefusal
from turnouts.analysis.terms import ComponentKind, FrogDesign, Steel, Zone

# Outside these the arc is not struck in the open anywhere; most likely degF was typed for degC.
COLDEST_DEGC, HOTTEST_AIR_DEGC, HOTTEST_RAIL_DEGC = -40.0, 50.0, 75.0

# Above this the air would have to be a jet of a machine, not of a lance; W/m2K.
STRONGEST_QUENCH = 500.0


@dataclass(frozen=True, slots=True)
class ZoneWork:
    """One patch to repair, in mm from the original contour.

    ``depth_mm`` is how deep the flaw or wear reaches; ``missing_mm`` is how much of that metal is
    already gone (wear, a chip), so need not be gouged. For grinding it is the metal to take off.
    """

    zone: Zone
    length_mm: float
    width_mm: float
    depth_mm: float
    missing_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class RepairWork:
    """Every patch to repair on one component in one go."""

    component: ComponentKind
    design: FrogDesign | None
    steel: Steel
    zones: tuple[ZoneWork, ...]


@dataclass(frozen=True, slots=True)
class Conditions:
    """The day: temperatures, wind, track time available, and the chances the railway sets.

    ``quench_w_per_m2_k`` is the convection under the air lance where it is known better than the
    row of the procedure; it acts only where the procedure quenches.
    """

    air_degc: float
    rail_degc: float
    available_min: float | None = None
    hand_back_chance: float = 0.95
    run_out_chance: float = 0.05
    wind_m_per_s: float = 0.0
    quench_w_per_m2_k: float | None = None


def check_work(work: RepairWork) -> None:
    """Refuse work that names nothing to do, or a frog without its design."""
    if not work.zones:
        raise WeldingRefusal("The work names no zone; give at least one with its size.")
    if work.component is ComponentKind.FROG and work.design is None:
        raise WeldingRefusal("A frog needs its design: the order of work depends on it.")
    if work.component is not ComponentKind.FROG and work.design is not None:
        raise WeldingRefusal(
            f"A {work.component.label.lower()} has no frog design; leave the design out."
        )


def check_conditions(conditions: Conditions) -> None:
    """Refuse temperatures no crew works in and chances that are not between 0 and 1."""
    for name, value, hottest in (
        ("Air", conditions.air_degc, HOTTEST_AIR_DEGC),
        ("Rail", conditions.rail_degc, HOTTEST_RAIL_DEGC),
    ):
        if not COLDEST_DEGC <= value <= hottest:
            raise WeldingRefusal(
                f"{name} temperature {value:g} degC is outside {COLDEST_DEGC:g} to {hottest:g}; "
                "check that it is in degrees Celsius."
            )
    if conditions.available_min is not None and not conditions.available_min > 0:
        raise WeldingRefusal("The track time must be more than 0 minutes, or left out.")
    quench = conditions.quench_w_per_m2_k
    if quench is not None and not 0 <= quench <= STRONGEST_QUENCH:
        raise WeldingRefusal(
            f"Air cooling of {quench:g} W/m2K is outside 0 to {STRONGEST_QUENCH:g}; a lance in "
            "the hand gives some tens."
        )
    for name, chance in (
        ("hand back in time", conditions.hand_back_chance),
        ("run out of material", conditions.run_out_chance),
    ):
        if not 0 < chance < 1:
            raise WeldingRefusal(f"The chance to {name} must lie between 0 and 1, not {chance:g}.")
