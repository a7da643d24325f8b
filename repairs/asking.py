"""What a person asks with "what if", read from a form, and the answer in their own units."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from repairs.scale_drawing import INCH, ScaleDrawing, Slider, scale_drawing, slider_for
from repairs.services.what_if import Facts, WhatIf, what_if
from repairs.triage.bands import Band, Turned
from repairs.triage.decision import Traffic
from turnouts.analysis.showing import UnitPreference, format_length
from turnouts.analysis.units import Dimension, UnitError, parse


@dataclass(frozen=True)
class Shown:
    """A pure traffic answer in the shape in which kept decisions are shown."""

    traffic: str
    mph: str | None
    passenger_mph: str | None

    @staticmethod
    def of(traffic: Traffic) -> "Shown":
        speeds = (traffic.speed_mph, traffic.passenger_mph)
        mph, passenger = (None if speed is None else str(speed) for speed in speeds)
        return Shown(traffic.kind.value, mph, passenger)


@dataclass(frozen=True)
class Stretch:
    """One band as a row of a table."""

    words: str
    traffic: Shown
    disposition: str
    has_now: bool
    has_asked: bool


@dataclass(frozen=True)
class Panel:
    """All that the "what if" panel shows; ``fault`` says why a typed value was not taken."""

    values: tuple[Turned, ...]
    of: Turned
    answer: WhatIf
    then: Shown
    stretches: list[Stretch]
    scale: ScaleDrawing
    slider: Slider
    at: Decimal
    typed: str
    fault: str = ""

    @property
    def scale_words(self) -> str:
        return f"{self.of.label} in {'inches' if self.slider.unit == 'in' else 'mm'}"


def panel(facts: Facts, given: Mapping[str, Any], units: UnitPreference, first: str) -> Panel:
    """The panel for what was given; for the value called ``first`` where nothing was asked yet.

    The person may have typed a value or moved the slider: whichever differs from what it was
    counts, the typed one first, so that the form works without any script.
    """
    of = facts.value(str(given.get("of") or first))
    fresh = given.get("value") is None or given.get("was", of.name) != of.name
    fault = ""
    mm = _start(of)
    if not fresh:
        try:
            mm = _asked(given, of, units)
        except UnitError as refusal:
            fault = str(refusal)
    answer = what_if(facts, of.name, mm)
    slider = slider_for(of, mm, units)
    return Panel(
        values=facts.values,
        of=of,
        answer=answer,
        then=Shown.of(answer.then.traffic),
        stretches=[_stretch(band, answer, units) for band in answer.bands],
        scale=scale_drawing(answer, slider, lambda at: typed_as(at, units)),
        slider=slider,
        at=slider.position(mm),
        typed=str(given["value"])[:60] if fault else typed_as(mm, units),
        fault=fault,
    )


def typed_as(mm: Decimal, units: UnitPreference) -> str:
    """A length as its reader would type it; in mm where it lies on no sixty-fourth of an inch."""
    on_a_mark = (mm / INCH * 64) % 1 == 0
    return format_length(mm, "in" if units.length == "in" and on_a_mark else "mm")


def _start(of: Turned) -> Decimal:
    return of.now if of.now is not None else of.limits[0]


def _asked(given: Mapping[str, Any], of: Turned, units: UnitPreference) -> Decimal:
    typed = parse(str(given["value"]), units.length, Dimension.LENGTH)
    slide, slid = given.get("slide"), given.get("slid")
    if typed_as(typed, units) != given.get("before") or not slide or slide == slid:
        return typed
    try:
        place = Decimal(str(slide))
    except InvalidOperation:
        place = Decimal("NaN")
    if not place.is_finite():
        raise UnitError("The slider stands at no number. Move it, or type a value.")
    return slider_for(of, typed, units).mm(place)


def _stretch(band: Band, answer: WhatIf, units: UnitPreference) -> Stretch:
    return Stretch(
        words=_range(band, units),
        traffic=Shown.of(band.traffic),
        disposition=band.disposition.label,
        has_now=answer.of.now is not None and band.holds(answer.of.now),
        has_asked=band.holds(answer.mm),
    )


def _range(band: Band, units: UnitPreference) -> str:
    low = f"{'over' if band.low_open else 'from'} {typed_as(band.low, units)}"
    if band.high is None:
        return low
    high = f"{'to under' if band.high_open else 'up to'} {typed_as(band.high, units)}"
    return f"{low} {high}" if band.low or band.low_open else high.removeprefix("to ")
