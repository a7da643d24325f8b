"""The boxes of one entry of the trackside, filled with what it says in the reader's units."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms

from repairs.field.events import Kind, PenetrantStep, Shape, TrackState
from repairs.field.sheet import FieldSheet
from repairs.pages.paper_fields import AmountField
from turnouts.analysis.showing import UnitPreference, show
from turnouts.analysis.terms import Quantity, Route, Term
from turnouts.analysis.units import QUANTITY_DIMENSION, Dimension


class HeldAmountField(AmountField):
    """A number that was entered before; left as it is shown, it stays exactly what it was."""

    def __init__(
        self, label: str, units: UnitPreference, dimension: Dimension, held: Decimal | None
    ) -> None:
        unit = units.unit_of(dimension)
        super().__init__(label, unit.shown or unit.symbol, dimension)
        self.unit, self.held = unit.symbol, held
        self.initial = "" if held is None else show(held, dimension, units)

    def clean(self, value: Any) -> Decimal | None:
        return self.held if (value or "").strip() == self.initial else super().clean(value)

    def has_changed(self, initial: Any, data: Any) -> bool:
        return (data or "").strip() != (initial or "")


@dataclass(frozen=True)
class Sheet:
    """What the boxes of a sheet's entries choose from, and whose units they are in."""

    facts: FieldSheet
    content: Mapping[str, Any]
    units: UnitPreference


Boxes = Iterator[tuple[str, forms.Field]]


def boxes_of(kind: Kind, held: Mapping[str, Any], sheet: Sheet) -> Boxes:
    """Each field of an entry's data with its box; none where the kind says all."""
    make = _BOXES.get(kind)
    return iter(()) if make is None else make(sheet, held)


def _briefing(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    points = [(str(n), one["text"]) for n, one in enumerate(sheet.content["briefing"], start=1)]
    yield "points", _ticks("Points gone through", points, held["points"])


def _stage(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    stages = [(stage.key, stage.name) for stage in sheet.facts.stages]
    yield "stage", _choice("Stage", stages, held, "stage")


def _stage_ended(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield from _stage(sheet, held)
    yield "interrupted", _tick("Held up, not finished", held.get("interrupted", False))


def _at_zone(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield _zone(sheet, held)


def _pass_temperature(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield _zone(sheet, held)
    yield "degc", _amount("Metal", sheet, Dimension.TEMPERATURE, held, "degc")
    yield "place_mm", _amount("From the weld", sheet, Dimension.LENGTH, held, "place_mm")
    yield "note", _text("Note", 300, held, "note")


def _penetrant(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield "step", _choice("Step", _terms(PenetrantStep), held, "step")
    label, name = "Steel's surface", "surface_degc"
    yield name, _amount(label, sheet, Dimension.TEMPERATURE, held, name, False)


def _material(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    rows = [(one["key"], f"{one['name']}, {one['unit']}") for one in sheet.content["materials"]]
    yield "key", _choice("Material", rows, held, "key")
    yield "quantity", _count("How much, in the unit named with it", held)


def _photo(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield "caption", _text("What it shows", 120, held, "caption")


def _broken_off(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield "reason", _text("Why work stopped", 500, held, "reason", True)
    yield "state", _choice("State of the track then", _terms(TrackState), held, "state")


def _note(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield "text", _text("Note", 2000, held, "text", True)


def _indication(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield _zone(sheet, held)
    yield "shape", _choice("Shape", _terms(Shape), held, "shape")
    yield "length_mm", _amount("Length", sheet, Dimension.LENGTH, held, "length_mm")
    for name, label in (("width_mm", "Width"), ("x_mm", "Along"), ("y_mm", "Across")):
        yield name, _amount(label, sheet, Dimension.LENGTH, held, name, False)


def _measurement(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    asked = [limit.quantity for limit in sheet.facts.limits if limit.quantity]
    known = dict.fromkeys([*asked, Quantity(held["quantity"])])
    yield "quantity", _choice("Reading", [(q.value, q.label) for q in known], held, "quantity")
    yield "route", _choice("Route", [("", "none"), *_terms(Route)], held, "route", False)
    dimension = QUANTITY_DIMENSION[Quantity(held["quantity"])]
    yield "value_mm", _amount("Value", sheet, dimension, held, "value_mm")


def _handed_back(sheet: Sheet, held: Mapping[str, Any]) -> Boxes:
    yield "state", _choice("State of the track", _terms(TrackState), held, "state")
    person = "By the word of (qualified person)"
    yield "qualified_person", _text(person, 120, held, "qualified_person", True)
    label = "Speed; empty: none was set"
    yield "speed_kmh", _amount(label, sheet, Dimension.SPEED, held, "speed_kmh", False)
    yield "note", _text("Note", 500, held, "note")


def _zone(sheet: Sheet, held: Mapping[str, Any]) -> tuple[str, forms.Field]:
    zones = [(zone.key, f"{zone.key} {zone.zone.replace('_', ' ')}") for zone in sheet.facts.zones]
    return "zone", _choice("Zone", zones, held, "zone")


def _terms(terms: type[Term]) -> list[tuple[str, str]]:
    return [(term.value, term.label) for term in terms]


def _choice(
    label: str,
    choices: list[tuple[str, str]],
    held: Mapping[str, Any],
    name: str,
    required: bool = True,
) -> forms.Field:
    present = held.get(name) or ""
    return forms.ChoiceField(label=label, choices=choices, initial=present, required=required)


def _tick(label: str, held: bool) -> forms.Field:
    return forms.BooleanField(label=label, initial=held, required=False)


def _ticks(label: str, choices: list[tuple[str, str]], held: list[int]) -> forms.Field:
    return forms.TypedMultipleChoiceField(
        label=label,
        choices=choices,
        coerce=int,
        initial=[str(n) for n in held],
        widget=forms.CheckboxSelectMultiple,
    )


def _amount(
    label: str,
    sheet: Sheet,
    dimension: Dimension,
    held: Mapping[str, Any],
    name: str,
    required: bool = True,
) -> forms.Field:
    value = held.get(name)
    given = None if value is None else Decimal(str(value))
    field = HeldAmountField(label, sheet.units, dimension, given)
    field.required = required
    return field


def _count(label: str, held: Mapping[str, Any]) -> forms.Field:
    return forms.DecimalField(
        label=label, initial=Decimal(str(held["quantity"])), min_value=0, max_value=100000
    )


def _text(
    label: str,
    longest: int,
    held: Mapping[str, Any],
    name: str,
    required: bool = False,
) -> forms.Field:
    widget = forms.Textarea(attrs={"rows": 3, "maxlength": longest})
    return forms.CharField(
        label=label,
        max_length=longest,
        initial=held.get(name, ""),
        required=required,
        widget=widget if longest > 300 else forms.TextInput(attrs={"maxlength": longest}),
    )


_BOXES = {
    Kind.BRIEFING: _briefing,
    Kind.STAGE_STARTED: _stage,
    Kind.STAGE_ENDED: _stage_ended,
    Kind.CARBON_REMOVED: _at_zone,
    Kind.GUARD_FACE_RESTORED: _at_zone,
    Kind.PASS_TEMPERATURE: _pass_temperature,
    Kind.PENETRANT: _penetrant,
    Kind.INDICATION: _indication,
    Kind.MEASUREMENT: _measurement,
    Kind.MATERIAL_USED: _material,
    Kind.PHOTO: _photo,
    Kind.HANDED_BACK: _handed_back,
    Kind.BROKEN_OFF: _broken_off,
    Kind.NOTE: _note,
}
"""Kinds without boxes of their own say all by their name."""
