"""Weld metal, filler and heat by the handbook formulas."""

from math import isfinite

from repairs.welding.refusals import OutsideValidity

MM3_PER_M3 = 1e9


def mass_kg(volume_mm3: float, density_kg_per_m3: float) -> float:
    """Mass of a volume of weld metal."""
    return volume_mm3 * density_kg_per_m3 / MM3_PER_M3


def filler_kg(deposit_kg: float, efficiency: float) -> float:
    """Filler to burn for a deposit: deposit / efficiency (handbook P = W L / E).

    Raises OutsideValidity unless 0 < efficiency <= 1 and the deposit is not negative.
    """
    _within("Deposit efficiency", efficiency, 0, 1)
    if not (isfinite(deposit_kg) and deposit_kg >= 0):
        raise OutsideValidity(f"A deposit of {deposit_kg:g} kg is not possible; give 0 or more.")
    return deposit_kg / efficiency


def efficiency_with_stub(laboratory: float, rod_length_mm: float, stub_mm: float) -> float:
    """Efficiency of a stick once its stub is thrown away: E (L - s) / L.

    Handbook formula; valid for 0 < E <= 1 and 0 <= stub < rod, else OutsideValidity.
    """
    _within("Laboratory efficiency", laboratory, 0, 1)
    if not 0 <= stub_mm < rod_length_mm:
        raise OutsideValidity(
            f"A stub of {stub_mm:g} mm from a rod of {rod_length_mm:g} mm is not possible."
        )
    return laboratory * (rod_length_mm - stub_mm) / rod_length_mm


def heat_input_kj_per_mm(
    efficiency: float, voltage_v: float, current_a: float, travel_mm_per_min: float
) -> float:
    """Heat input Q = k U I 60 / (1000 v), EN 1011-1, v in mm/min.

    Raises OutsideValidity unless 0 < k <= 1 and the rest are positive.
    """
    _within("Arc efficiency", efficiency, 0, 1)
    for name, value in (
        ("Voltage", voltage_v),
        ("Current", current_a),
        ("Travel speed", travel_mm_per_min),
    ):
        _within(name, value, 0, float("inf"))
    return efficiency * voltage_v * current_a * 60 / (1000 * travel_mm_per_min)


def weld_metal_cost_per_kg(
    labour_per_h: float, deposit_rate_kg_per_h: float, operating_factor: float
) -> float:
    """Labour for a kilogram of weld metal: rate / (deposit rate x share of time the arc burns).

    Raises OutsideValidity unless 0 < operating factor <= 1 and the deposit rate is positive.
    """
    _within("Operating factor", operating_factor, 0, 1)
    _within("Deposit rate", deposit_rate_kg_per_h, 0, float("inf"))
    return labour_per_h / (deposit_rate_kg_per_h * operating_factor)


def filler_cost_per_kg(price_per_kg: float, efficiency: float) -> float:
    """Filler bought for a kilogram of weld metal: price / efficiency."""
    _within("Deposit efficiency", efficiency, 0, 1)
    return price_per_kg / efficiency


def _within(name: str, value: float, above: float, up_to: float) -> None:
    if not above < value <= up_to:
        raise OutsideValidity(
            f"{name} {value:g} is outside its range, more than {above:g} and at most {up_to:g}."
        )
