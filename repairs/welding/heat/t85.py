"""Cooling time from 800 to 500 degC by EN 1011-2 annex D, for unalloyed and low-alloy steel only.

Manganese steel does not transform between 800 and 500 degC and conducts a third as well, so the
time says nothing about it and is refused.
"""

from dataclasses import dataclass
from enum import Enum
from math import sqrt

from repairs.welding.refusals import OutsideValidity
from turnouts.analysis.terms import Steel


class Joint(Enum):
    """The joint with its shape factors for flow in two and in three dimensions.

    Bead on plate is the reference; the other two are from memory of the annex.
    """

    BEAD_ON_PLATE = (1.0, 1.0)
    BUTT_RUN = (0.9, 0.9)
    CORNER_FILLET = (0.9, 0.67)

    @property
    def thin(self) -> float:
        """Shape factor F2."""
        return self.value[0]

    @property
    def thick(self) -> float:
        """Shape factor F3."""
        return self.value[1]


@dataclass(frozen=True, slots=True)
class CoolingTime:
    """Seconds from 800 to 500 degC, and how the heat flows: in three dimensions or in two."""

    seconds: float
    thick_s: float
    thin_s: float
    transition_mm: float
    dimensions: int


def cooling_time(
    steel: Steel,
    heat_kj_per_mm: float,
    thickness_mm: float,
    start_degc: float,
    joint: Joint = Joint.BEAD_ON_PLATE,
) -> CoolingTime:
    """t8/5 by EN 1011-2 annex D: the longer of its times for thick and for thin plate.

    Heat input includes the arc's efficiency. With F = 1 the flow is in three dimensions at and
    over the transition thickness. Raises OutsideValidity for manganese steel, for a preheat of
    500 degC and more, and for heat or thickness not above 0.
    """
    if steel is Steel.MANGANESE:
        raise OutsideValidity(
            "Cooling from 800 to 500 degC says nothing about manganese steel: it does not "
            "transform there. Keep to its interpass ceiling instead."
        )
    if not start_degc < 500:
        raise OutsideValidity(f"A preheat of {start_degc:g} degC is not under 500 degC.")
    if not (heat_kj_per_mm > 0 and thickness_mm > 0):
        raise OutsideValidity("Heat input and thickness must both be more than 0.")
    near, far = 1 / (500 - start_degc), 1 / (800 - start_degc)
    thick_factor, thin_factor = 6700 - 5 * start_degc, (4300 - 4.3 * start_degc) * 1e5
    thick_s = thick_factor * heat_kj_per_mm * (near - far) * joint.thick
    thin_s = thin_factor * (heat_kj_per_mm / thickness_mm) ** 2 * (near**2 - far**2) * joint.thin
    return CoolingTime(
        seconds=max(thick_s, thin_s),
        thick_s=thick_s,
        thin_s=thin_s,
        transition_mm=sqrt(heat_kj_per_mm * thin_factor / thick_factor * (near + far)),
        dimensions=3 if thick_s >= thin_s else 2,
    )


def cooling_advice(steel: Steel, heat_kj_per_mm: float, thickness_mm: float, degc: float) -> str:
    """The cooling time of a bead on rail steel at its preheat, in a sentence."""
    found = cooling_time(steel, heat_kj_per_mm, thickness_mm, degc)
    return (
        f"At {degc:.0f} degC a bead of {heat_kj_per_mm:.2f} kJ/mm on {thickness_mm:g} mm of steel "
        f"cools from 800 to 500 degC in about {found.seconds:.0f} s (EN 1011-2 annex D, made for "
        "low-alloy steel; rail steel has more carbon)."
    )
