"""The settings a welding procedure gives, typed, with the range each may lie in."""

from dataclasses import dataclass, fields
from types import NoneType
from typing import Any, get_args, get_type_hints

from repairs.welding.refusals import RowRefusal
from repairs.welding.rows_toml import Rows
from repairs.welding.wire_feed import FEED_TOLERANCE, fed_deposit_kg_per_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What the welder sets and keeps to. Units are in the names; slopes are mm along per mm deep.

    Rod length and stub belong to sticks only, wire feed and wire density to wire only; post-heat
    and slow cooling to rail steel only.
    """

    filler: str
    filler_diameter_mm: float
    current_a: float
    voltage_v: float
    travel_mm_per_min: float
    polarity: str
    arc_efficiency: float
    deposit_rate_kg_per_h: float
    deposit_efficiency: float
    bead_width_max_mm: float
    layer_height_mm: float
    layers_min: float
    top_layers: tuple[str, ...]
    top_layer_set_back_mm: float
    skin_mm: float
    beyond_mm: float
    side_slope: float
    run_out: float
    residue_grind_mm: float
    depth_max_mm: float
    over_fill_mm: float
    preheat_min_degc: float
    preheat_max_degc: float
    cooling: str
    peening: str
    quench: str
    dam_blocks: str
    grinding: tuple[str, ...]
    after_weld: str
    penetrant_timing: str
    penetrant_dwell_floor_min: float
    penetrant_dwell_min: float
    developing_floor_min: float
    developing_min: float
    penetrant_cold_degc: float
    penetrant_hot_degc: float
    rod_length_mm: float | None = None
    stub_mm: float | None = None
    wire_feed_m_per_min: float | None = None
    wire_density_kg_per_m3: float | None = None
    post_heat_degc: float | None = None
    slow_cool_min: float | None = None


# Least and most a setting may be: wide enough for any arc build-up by hand, narrow enough to catch
# a slipped decimal point or a value typed in the wrong unit.
RANGES: dict[str, tuple[float, float]] = {
    "filler_diameter_mm": (0.8, 8.0),
    "current_a": (30, 600),
    "voltage_v": (14, 45),
    "travel_mm_per_min": (50, 1500),
    "arc_efficiency": (0.3, 1.0),
    "deposit_rate_kg_per_h": (0.2, 12),
    "deposit_efficiency": (0.2, 1.0),
    "bead_width_max_mm": (4, 40),
    "layer_height_mm": (0.5, 8),
    "layers_min": (1, 10),
    "top_layer_set_back_mm": (0, 100),
    "skin_mm": (0, 20),
    "beyond_mm": (0, 20),
    "side_slope": (0, 3),
    "run_out": (0, 20),
    "residue_grind_mm": (0, 5),
    "depth_max_mm": (3, 100),
    "over_fill_mm": (0, 10),
    "preheat_min_degc": (0, 450),
    "preheat_max_degc": (0, 500),
    "penetrant_dwell_floor_min": (0, 60),
    "penetrant_dwell_min": (1, 60),
    "developing_floor_min": (0, 60),
    "developing_min": (1, 60),
    "penetrant_cold_degc": (0, 20),
    "penetrant_hot_degc": (30, 200),
    "rod_length_mm": (150, 1000),
    "stub_mm": (10, 150),
    "wire_feed_m_per_min": (0.5, 15),
    "wire_density_kg_per_m3": (4000, 8000),
    "post_heat_degc": (100, 600),
    "slow_cool_min": (1, 600),
}

WORDS_ALLOWED: dict[str, frozenset[str]] = {
    "after_weld": frozenset({"cool_to_touch", "slow_cool"}),
    "cooling": frozenset({"air_quench", "still_air"}),
    "penetrant_timing": frozenset({"same_window", "after_cooling"}),
}


def settings_from(rows: Rows) -> Settings:
    """Build and check the settings of one edition; raises RowRefusal with place and remedy."""
    hints = get_type_hints(Settings)
    if unknown := set(rows) - set(hints):
        raise RowRefusal(f"{rows.where}: {sorted(unknown)[0]} is not a setting; respell or remove.")
    values: dict[str, Any] = {}
    for field in fields(Settings):
        kinds = get_args(hints[field.name]) or (hints[field.name],)
        if NoneType in kinds and field.name not in rows:
            continue
        values[field.name] = _value(rows, field.name, hints[field.name])
    settings = Settings(**values)
    _check_together(settings, rows.where)
    return settings


def _value(rows: Rows, name: str, hint: Any) -> float | str | tuple[str, ...]:
    row = rows[name]
    if hint is str:
        allowed = WORDS_ALLOWED.get(name)
        if allowed and row.text not in allowed:
            raise RowRefusal(f"{rows.where}, {name}: use one of {', '.join(sorted(allowed))}.")
        return row.text
    if name in RANGES:
        low, high = RANGES[name]
        if not low <= row.number <= high:
            raise RowRefusal(
                f"{rows.where}, {name}: {row.number:g} {row.unit} is outside {low:g} to {high:g};"
                " check the value and its unit."
            )
        return row.number
    return row.words


def _check_together(settings: Settings, where: str) -> None:
    """Values that are each possible but cannot stand together."""
    if settings.preheat_max_degc < settings.preheat_min_degc:
        raise RowRefusal(f"{where}: preheat ends below where it starts; correct one of the two.")
    if settings.penetrant_dwell_min < settings.penetrant_dwell_floor_min:
        raise RowRefusal(f"{where}: penetrant dwell is under its published least; lengthen it.")
    if settings.developing_min < settings.developing_floor_min:
        raise RowRefusal(f"{where}: developing time is under its published least; lengthen it.")
    if (settings.rod_length_mm is None) != (settings.stub_mm is None):
        raise RowRefusal(f"{where}: rod length and stub go together; give both or neither.")
    if settings.rod_length_mm and settings.stub_mm and settings.stub_mm >= settings.rod_length_mm:
        raise RowRefusal(f"{where}: the stub is as long as the rod; correct one of the two.")
    _check_wire(settings, where)
    slow = settings.after_weld == "slow_cool"
    if slow and (settings.post_heat_degc is None or settings.slow_cool_min is None):
        raise RowRefusal(f"{where}: slow cooling needs post_heat_degc and slow_cool_min; add both.")
    if odd := set(settings.top_layers) - {"long", "short"}:
        raise RowRefusal(f"{where}, top_layers: {sorted(odd)[0]!r} is neither long nor short.")
    if settings.top_layers and settings.top_layers[-1] != "long":
        raise RowRefusal(f"{where}, top_layers: the last layer must be long, to close the ends.")


def _check_wire(settings: Settings, where: str) -> None:
    feed, density = settings.wire_feed_m_per_min, settings.wire_density_kg_per_m3
    if (feed is None) != (density is None):
        raise RowRefusal(f"{where}: wire feed and wire density go together; give both or neither.")
    if feed is None or density is None:
        return
    fed = fed_deposit_kg_per_h(
        settings.filler_diameter_mm, feed, density, settings.deposit_efficiency
    )
    stated = settings.deposit_rate_kg_per_h
    if abs(fed - stated) > FEED_TOLERANCE * stated:
        raise RowRefusal(
            f"{where}: {feed:g} m/min of {settings.filler_diameter_mm:g} mm wire lays {fed:.2g} "
            f"kg/h, far from the deposit rate of {stated:g} kg/h; correct the wire feed, the "
            "diameter, the density or the rate."
        )
