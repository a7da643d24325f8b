"""The settings of a procedure as people read and type them: names, units, how well each stands."""

from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from repairs.welding.procedures import InterpassRule
from repairs.welding.rows_toml import Mark, Row, sources
from turnouts.analysis.showing import US, UnitPreference, show
from turnouts.analysis.units import UNITS, Dimension, UnitError, from_stored, parse

GROUPS: dict[str, dict[str, str]] = {
    "Arc and filler": {
        "filler": "Filler metal, by open standard",
        "filler_diameter_mm": "Filler diameter",
        "current_a": "Current",
        "voltage_v": "Arc voltage",
        "polarity": "Polarity",
        "wire_feed_m_per_min": "Wire feed",
        "wire_density_kg_per_m3": "Weight of the wire by its outer diameter",
        "travel_mm_per_min": "Travel",
        "arc_efficiency": "Share of the arc's heat that enters the steel",
        "deposit_rate_kg_per_h": "Deposit rate while the arc burns",
        "deposit_efficiency": "Share of the filler that ends as weld metal",
        "rod_length_mm": "Length of a rod",
        "stub_mm": "Stub thrown away",
    },
    "Cavity": {
        "skin_mm": "Worn or hardened skin to remove",
        "beyond_mm": "Gouged past the visible defect",
        "side_slope": "Slope of closed sides, along to deep",
        "run_out": "Ramp at both ends, along to deep",
        "residue_grind_mm": "Gouging residue ground off",
        "depth_max_mm": "Deepest cavity welded in track",
        "dam_blocks": "Dam blocks",
    },
    "Beads and layers": {
        "bead_width_max_mm": "Widest bead",
        "layer_height_mm": "Height of a layer",
        "layers_min": "Fewest layers",
        "top_layers": "Top layers, from below",
        "top_layer_set_back_mm": "How far a short top layer stops inside",
        "over_fill_mm": "Over-fill, to be ground off",
        "peening": "Peening",
    },
    "Heat": {
        "preheat_min_degc": "Preheat, least",
        "preheat_max_degc": "Preheat, most",
        "cooling": "Cooling between beads",
        "quench": "Quench",
        "after_weld": "After the last bead",
        "post_heat_degc": "Post-heat",
        "slow_cool_min": "Slow cooling under the blanket",
    },
    "Grinding": {"grinding": "Grinding steps"},
    "Penetrant test": {
        "penetrant_timing": "When",
        "penetrant_dwell_floor_min": "Dwell, published least",
        "penetrant_dwell_min": "Dwell",
        "developing_floor_min": "Developing, published least",
        "developing_min": "Developing",
        "penetrant_cold_degc": "Dwell is doubled below",
        "penetrant_hot_degc": "Not on steel hotter than",
    },
}
"""Every setting under the heading where a welder would look for it, with its name in words."""

NAMES = {key: name for rows in GROUPS.values() for key, name in rows.items()}

STANDING = {
    Mark.PUBLISHED: "Published",
    Mark.COMMON_PRACTICE: "Common practice in the trade; no published source was found",
    Mark.FROM_MEMORY: "From memory, not checked against a text",
    Mark.ASSUMED: "Assumed",
    Mark.RAILWAY: "The railway's own",
}

RATES: dict[str, tuple[Dimension, str, str]] = {
    "mm/min": (Dimension.LENGTH, "mm", "/min"),
    "m/min": (Dimension.LENGTH, "m", "/min"),
    "kg/h": (Dimension.MASS, "kg", "/h"),
}
"""Units that are an amount in a time: dimension of the amount, its stored unit, the rest."""

AMOUNTS = {"mm": Dimension.LENGTH, "degC": Dimension.TEMPERATURE}
PLAIN_UNITS = {"-": "", "mm/mm": "to 1", "kg/m3": "kg/m³"}


def said_value(row: Row, units: UnitPreference) -> str:
    """A row's value with its unit, as this reader reads it."""
    return _said(row.value, row.unit, units)


def _said(value: float | str | Sequence[str], unit: str, units: UnitPreference) -> str:
    if isinstance(value, str):
        return value.replace("_", " ") if "_" in value else value
    if isinstance(value, Sequence):
        sentences = any(" " in one for one in value)
        return ("; " if sentences else ", ").join(value)
    return said_number(value, unit, units)


def said_on_sheet(kept: Mapping[str, Any], units: UnitPreference) -> dict[str, str]:
    """A setting as a job sheet keeps it: its name, its value for this reader, how well it stands.

    A sheet issued before settings were kept with their unit has them in words already.
    """
    standing = short_standing(kept["mark"])
    if "key" not in kept:
        name, value = str(kept["name"]), str(kept["value"])
        return {"name": name[:1].upper() + name[1:], "value": value, "standing": standing}
    value = _said(kept["value"], kept["unit"], units)
    return {"name": _standing_alone(kept["key"]), "value": value, "standing": standing}


def _standing_alone(key: str) -> str:
    """A setting's name where no heading stands over it."""
    name = NAMES[key]
    if key in GROUPS["Penetrant test"]:
        return f"Penetrant, {name[:1].lower()}{name[1:]}"
    return name


def short_standing(mark: str) -> str:
    """How well a value stands, in a word or two; the procedure's page says it in full."""
    return STANDING[Mark(mark)].partition(";")[0].partition(",")[0].partition(" in the trade")[0]


def said_number(value: float, unit: str, units: UnitPreference) -> str:
    """A number of a setting's unit, as this reader reads it; rates to three figures."""
    exact = Decimal(repr(value))
    if unit == "mm" and units.length == "in":
        return _said_inches(exact)
    if unit in AMOUNTS:
        return show(exact, AMOUNTS[unit], units)
    if unit in RATES:
        dimension, stored, tail = RATES[unit]
        chosen = _rate_unit(dimension, stored, units)
        if chosen != stored:
            amount = from_stored(exact * (1000 if stored == "m" else 1), UNITS[chosen])
            return f"{float(amount):.3g} {chosen}{tail}"
    return f"{value:g} {PLAIN_UNITS.get(unit, unit)}".strip()


def _said_inches(mm: Decimal) -> str:
    """A fraction where the value is one; else decimals with the mm behind them.

    Settings are nominal: 25 mm is no limit that must read "just under 63/64 in".
    """
    inches = from_stored(mm, UNITS["in"])
    if 64 % inches.denominator == 0:
        return show(mm, Dimension.LENGTH, US)
    return f"{float(inches):.3g} in ({float(mm):g} mm)"


def typed_number(text: str, unit: str, units: UnitPreference) -> float:
    """What a person typed, in the setting's own unit; raises UnitError with a sentence."""
    if unit in AMOUNTS:
        return float(parse(text, typing_unit(unit, units), AMOUNTS[unit]))
    if unit in RATES:
        dimension, stored, tail = RATES[unit]
        default = _rate_unit(dimension, stored, units)
        amount = parse(text.strip().removesuffix(tail), default, dimension)
        return float(amount / 1000 if stored == "m" else amount)
    return _plain_number(text)


def typing_unit(unit: str, units: UnitPreference) -> str:
    """The unit a form asks for; one typed with the number goes before it."""
    if unit in AMOUNTS:
        return units.unit_of(AMOUNTS[unit]).symbol
    if unit in RATES:
        dimension, stored, tail = RATES[unit]
        return _rate_unit(dimension, stored, units) + tail
    return PLAIN_UNITS.get(unit, unit)


def _rate_unit(dimension: Dimension, stored: str, units: UnitPreference) -> str:
    """Inches or pounds for those who read them; for the others the unit the row is kept in."""
    read = units.unit_of(dimension).symbol
    return read if read in ("in", "lb") else stored


def _plain_number(text: str) -> float:
    try:
        number = Decimal(text.strip())
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise UnitError(f'"{text[:40]}" is not a number. Type it like 4.5.')
    return float(number)


def said_standing(of: Row | InterpassRule) -> str:
    """How well a value stands and on what, in a sentence or two."""
    source = sources().get(of.source)
    clause = f", {of.clause}" if isinstance(of, Row) and of.clause else ""
    if source is None:
        text = ""
    elif of.mark is Mark.PUBLISHED:
        text = f": {source.title} ({source.publisher}){clause}. {source.how_checked}"
    else:
        text = f" (compare {source.title})"
    said = f"{STANDING[of.mark]}{text}"
    return f"{said}{'' if said.endswith('.') else '.'} {of.note}".strip()


def said_place(place_mm: float, units: UnitPreference) -> str:
    """Where the interpass temperature is measured."""
    if not place_mm:
        return "on the weld itself"
    return f"{said_number(place_mm, 'mm', units)} from the weld"
