"""The form of "another day": what may be asked, in the person's units, and what was asked."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from repairs.services.try_out import QUENCHES, Day
from turnouts.analysis.showing import UnitPreference
from turnouts.analysis.units import Dimension
from turnouts.services.errors import Refused

COLDEST_DEGC, HOTTEST_DEGC = -30.0, 45.0
STRONGEST_KMH = 60.0
SHORTEST_H, LONGEST_H = 1.0, 12.0
M_PER_S = 3.6

QUENCH_WORDS = {
    "none": "none",
    "usual": "by one lance",
    "double": "twice as much",
    "triple": "three times as much",
}


@dataclass(frozen=True)
class Slider:
    """One slider: name, words with the unit, ends, step, and where it stands."""

    name: str
    words: str
    low: float
    high: float
    step: float
    at: float

    @property
    def said(self) -> str:
        return f"{self.at:g}"


def sliders(
    day: Day, currents_a: tuple[float, float] | None, units: UnitPreference
) -> list[Slider]:
    """The sliders of the form where they stand for this day."""
    found = [
        _in_unit("air", "Air and rail", day.air_degc, (COLDEST_DEGC, HOTTEST_DEGC), 1, units),
        _in_unit("wind", "Wind", day.wind_m_per_s * M_PER_S, (0.0, STRONGEST_KMH), 1, units),
    ]
    if currents_a is not None and day.current_a is not None:
        low, high = (round(a) for a in currents_a)
        found.append(Slider("current", "Current, A", low, high, 5, round(day.current_a)))
    hours = round(day.available_min / 60, 2)
    return [*found, Slider("hours", "Track time, hours", SHORTEST_H, LONGEST_H, 0.25, hours)]


def _in_unit(
    name: str,
    words: str,
    value: float,
    ends: tuple[float, float],
    step: float,
    units: UnitPreference,
) -> Slider:
    unit = units.unit_of(DIMENSIONS[name])

    def shown(stored: float) -> float:
        return round((stored - float(unit.offset)) / float(unit.factor))

    return Slider(
        name, f"{words}, {unit.shown or unit.symbol}", shown(ends[0]), shown(ends[1]), step,
        shown(value),
    )  # fmt: skip


DIMENSIONS = {"air": Dimension.TEMPERATURE, "wind": Dimension.SPEED}


def asked_day(given: Mapping[str, Any], usual: Day, units: UnitPreference) -> Day:
    """The day a form asks for; what it leaves out is as usual.

    Raises Refused with the field, what was read, and what it takes.
    """
    quench = str(given.get("quench") or usual.quench)
    if quench not in QUENCHES:
        raise Refused(f"Air on the casting is one of {', '.join(QUENCHES)}, not {quench!r}.")
    wind_kmh = _stored(given, "wind", usual.wind_m_per_s * M_PER_S, (0, STRONGEST_KMH), units)
    current = usual.current_a
    if current is not None:
        current = _number(given, "current", current)
    return Day(
        air_degc=_stored(given, "air", usual.air_degc, (COLDEST_DEGC, HOTTEST_DEGC), units),
        wind_m_per_s=wind_kmh / M_PER_S,
        available_min=60 * _within(given, "hours", usual.available_min / 60),
        current_a=current,
        quench=quench,
    )


def _stored(
    given: Mapping[str, Any],
    name: str,
    usual: float,
    ends: tuple[float, float],
    units: UnitPreference,
) -> float:
    if not given.get(name):
        return usual
    unit = units.unit_of(DIMENSIONS[name])
    factor, offset = float(unit.factor), float(unit.offset)
    value = _number(given, name, 0.0)
    low, high = (round((end - offset) / factor) for end in ends)
    if not low <= value <= high:
        raise Refused(f"{name.capitalize()} is asked for from {low} to {high} {unit.symbol}.")
    return value * factor + offset


def _within(given: Mapping[str, Any], name: str, usual: float) -> float:
    value = _number(given, name, usual)
    if not SHORTEST_H <= value <= LONGEST_H:
        raise Refused(f"Track time is asked for from {SHORTEST_H:g} to {LONGEST_H:g} hours.")
    return value


def _number(given: Mapping[str, Any], name: str, usual: float) -> float:
    text = str(given.get(name) or "").strip()
    if not text:
        return usual
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if value != value or abs(value) > 1e6:
        raise Refused(f"{name.capitalize()} was read as {text[:20]!r}; type a number.")
    return value
