"""Preheat formulas for carbon steel, each held to the range its source gives.

The preheat a welder keeps stands in the procedure; these only stand beside it, so that an engineer
sees how far apart they are. None of them says anything about manganese steel.
"""

from dataclasses import dataclass
from math import sqrt, tanh

from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of
from turnouts.analysis.terms import Steel


@dataclass(frozen=True, slots=True)
class Composition:
    """Chemical composition in per cent by mass."""

    carbon: float
    manganese: float = 0.0
    chromium: float = 0.0
    molybdenum: float = 0.0
    vanadium: float = 0.0
    nickel: float = 0.0
    copper: float = 0.0


# Above this share of manganese the steel is austenitic and no carbon equivalent applies.
MANGANESE_MAX = 3.0
CET_RANGE = (0.2, 0.5)
THICKNESS_RANGE_MM = (10.0, 90.0)
HYDROGEN_RANGE = (1.0, 20.0)
HEAT_RANGE_KJ_PER_MM = (0.5, 4.0)


def ce_iiw(steel: Composition) -> float:
    """Carbon equivalent C + Mn/6 + (Cr+Mo+V)/5 + (Ni+Cu)/15, per cent (IIW).

    A measure to compare carbon steels; raises OutsideValidity for manganese steel.
    """
    _carbon_steel(steel)
    return (
        steel.carbon
        + steel.manganese / 6
        + (steel.chromium + steel.molybdenum + steel.vanadium) / 5
        + (steel.nickel + steel.copper) / 15
    )


def cet(steel: Composition) -> float:
    """Carbon equivalent C + (Mn+Mo)/10 + (Cr+Cu)/20 + Ni/40, per cent (EN 1011-2 method B)."""
    _carbon_steel(steel)
    return (
        steel.carbon
        + (steel.manganese + steel.molybdenum) / 10
        + (steel.chromium + steel.copper) / 20
        + steel.nickel / 40
    )


def preheat_cet_degc(
    steel: Composition, thickness_mm: float, hydrogen_ml_per_100g: float, heat_kj_per_mm: float
) -> float:
    """Preheat by EN 1011-2 method B (formula and ranges from memory of the standard).

    Raises OutsideValidity outside CET 0.2 to 0.5, thickness 10 to 90 mm, hydrogen 1 to 20 and heat
    input 0.5 to 4 kJ/mm. Rail steel lies above that CET, so it is always refused.
    """
    equivalent = cet(steel)
    for name, value, (low, high) in (
        ("Carbon equivalent CET", equivalent, CET_RANGE),
        ("Thickness in mm", thickness_mm, THICKNESS_RANGE_MM),
        ("Hydrogen in ml/100 g", hydrogen_ml_per_100g, HYDROGEN_RANGE),
        ("Heat input in kJ/mm", heat_kj_per_mm, HEAT_RANGE_KJ_PER_MM),
    ):
        if not low <= value <= high:
            raise OutsideValidity(
                f"{name} {value:.3g} is outside {low:g} to {high:g}, where the EN 1011-2 method B "
                "preheat holds; take the preheat from the rail welding procedure."
            )
    return float(
        697 * equivalent
        + 160 * tanh(thickness_mm / 35)
        + 62 * pow(hydrogen_ml_per_100g, 0.35)
        + (53 * equivalent - 32) * heat_kj_per_mm
        - 328
    )


def preheat_seferian_degc(steel: Composition, thickness_mm: float) -> float:
    """Preheat 350 sqrt([C] - 0.25), [C] = (C + (Mn+Cr)/9 + Ni/18 + 7 Mo/90)(1 + 0.005 e).

    Seferian, from memory. Raises OutsideValidity where [C] is not above 0.25, for thickness outside
    1 to 200 mm, and for manganese steel.
    """
    _carbon_steel(steel)
    if not 1 <= thickness_mm <= 200:
        raise OutsideValidity(f"Thickness {thickness_mm:g} mm is outside 1 to 200 mm.")
    chemical = (
        steel.carbon
        + (steel.manganese + steel.chromium) / 9
        + steel.nickel / 18
        + 7 * steel.molybdenum / 90
    )
    total = chemical * (1 + 0.005 * thickness_mm)
    if total <= 0.25:
        raise OutsideValidity(
            f"[C] of {total:.3f} is not above 0.25; by this formula no preheat is called for."
        )
    return 350 * sqrt(total - 0.25)


# The piece and the process a preheat is compared for: a rail head, a dry basic or open-arc filler.
COMPARED_THICKNESS_MM, COMPARED_HYDROGEN, COMPARED_HEAT_KJ_PER_MM = 40.0, 10.0, 1.0


def preheat_advice(steel: Steel, procedure_degc: float) -> tuple[str, ...]:
    """What the formulas say beside a procedure's preheat; nothing for manganese steel."""
    if steel is Steel.MANGANESE:
        return ()
    rows = table_of("metals", "carbon")
    typical = Composition(rows.number("carbon_percent"), rows.number("manganese_percent"))
    seferian = preheat_seferian_degc(typical, COMPARED_THICKNESS_MM)
    try:
        other = preheat_cet_degc(
            typical, COMPARED_THICKNESS_MM, COMPARED_HYDROGEN, COMPARED_HEAT_KJ_PER_MM
        )
        said = f"EN 1011-2 method B gives {other:.0f} degC."
    except OutsideValidity as refusal:
        said = str(refusal)
    return (
        f"The procedure preheats to {procedure_degc:.0f} degC. For rail steel of "
        f"{typical.carbon:g} % carbon and {typical.manganese:g} % manganese (carbon equivalent "
        f"{ce_iiw(typical):.2f} by IIW) the Seferian formula, from memory, gives "
        f"{seferian:.0f} degC at {COMPARED_THICKNESS_MM:g} mm.",
        said,
    )


def _carbon_steel(steel: Composition) -> None:
    if steel.carbon <= 0:
        raise OutsideValidity("The carbon content must be more than 0 per cent.")
    if steel.manganese > MANGANESE_MAX:
        raise OutsideValidity(
            f"{steel.manganese:g} % manganese is an austenitic steel; no carbon equivalent or "
            "preheat formula holds for it, and it is not preheated."
        )
