"""The fields of a report: the visit, its readings, its defects.

Everything typed is read in the person's own units unless they type another unit with the number.
"""

import re
import secrets
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from turnouts.analysis.showing import UnitPreference
from turnouts.analysis.terms import (
    DefectKind,
    FrogDesign,
    HeadReach,
    Orientation,
    Position,
    Quantity,
    RailFlaw,
    Route,
    Term,
    Zone,
)
from turnouts.analysis.units import (
    QUANTITY_DIMENSION,
    Dimension,
    UnitError,
    parse,
    unit_named,
)
from turnouts.models import Inspection, Instrument

KEY = re.compile(r"[0-9]{6}-[2-9A-HJ-NP-Z]{5}")
_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"  # no 0, O, 1, I: references are read out by radio
TYPED_AT_MOST = 24
MEASURED_BEHIND_THE_POINT = (Quantity.POINT_WEAR_DEPTH, Quantity.TREAD_WEAR)
ITSELF = "The turnout itself"
YES_NO = [("", "not looked at"), ("yes", "yes"), ("no", "no")]


def new_key(now: datetime) -> str:
    """The one-time key of a form; it becomes the reference, so a second click finds the first."""
    return f"{now:%y%m%d}-" + "".join(secrets.choice(_LETTERS) for _ in range(5))


def words(terms: type[Term], blank: str) -> list[tuple[str, str]]:
    return [("", blank), *((term.value, term.label) for term in terms)]


def unit_typed(text: str, usual: str, dimension: Dimension) -> str:
    """The unit a person typed with the number, or the one their own numbers are in."""
    letters = re.sub(r"[0-9./ \-]+", " ", text).split()
    return unit_named(letters[-1], dimension).symbol if letters else usual


class LengthField(forms.CharField):
    """A length typed like ``1 3/8`` or ``35 mm``; the cleaned value is in mm, or None."""

    unit = "in"

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse(text, self.unit, Dimension.LENGTH)
        except UnitError as fault:
            raise forms.ValidationError(str(fault)) from None


class _Row(forms.Form):
    """A row of the report. A row nobody wrote in is left out."""

    written_in: tuple[str, ...] = ()

    def __init__(
        self, *args: Any, units: UnitPreference, positions: list[Position], **kwargs: Any
    ) -> None:
        kwargs |= {"empty_permitted": True, "use_required_attribute": False}
        super().__init__(*args, **kwargs)
        self.units = units
        offered = [(position.value, position.label) for position in positions]
        field = self.fields["position"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101
        field.choices = [*self.before_positions, *offered]
        for field in self.fields.values():
            if isinstance(field, LengthField):
                field.unit = units.length

    before_positions: list[tuple[str, str]] = []

    def has_changed(self) -> bool:
        return any(self[name].data not in (None, "") for name in self.written_in)


class VisitForm(forms.Form):
    inspected_at = forms.DateTimeField(
        label="When",
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    kind = forms.ChoiceField(label="How", choices=Inspection.KINDS, initial="detailed")
    instrument = forms.ModelChoiceField(
        Instrument.objects.all(),
        label="Gauge used",
        required=False,
        empty_label="none, or not noted",
        to_field_name="code",
    )
    note = forms.CharField(
        label="Note", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )
    key = forms.RegexField(KEY, widget=forms.HiddenInput)

    def clean_inspected_at(self) -> datetime:
        at: datetime = self.cleaned_data["inspected_at"]
        if at > timezone.now():
            raise forms.ValidationError("That is still to come. Give the time you were there.")
        return at


class ReadingForm(_Row):
    """One reading. In a usual row everything but the value is given already."""

    before_positions = [("", ITSELF)]
    written_in = ("value", "behind_point")

    usual = forms.BooleanField(required=False, widget=forms.HiddenInput)
    position = forms.ChoiceField(label="On", required=False)
    quantity = forms.ChoiceField(
        label="What",
        choices=words(Quantity, "choose"),
        error_messages={"required": "Say what was measured."},
    )
    route = forms.ChoiceField(label="Route", choices=words(Route, "either"), required=False)
    value = forms.CharField(
        label="Value",
        max_length=TYPED_AT_MOST,
        error_messages={"required": "Type the value, or empty the row."},
    )
    behind_point = LengthField(label="Behind the point", required=False)

    @property
    def what(self) -> str:
        return dict(words(Quantity, "")).get(self["quantity"].value(), "")

    @property
    def where(self) -> str:
        """On what and over which route, in words, for a usual row's label."""
        on = dict(words(Position, ITSELF)).get(self["position"].value() or "", "").lower()
        route = self["route"].value()
        return f"{on}, {route}" if route else on

    @property
    def unit(self) -> str:
        quantity = self["quantity"].value()
        if quantity not in list(Quantity):
            return ""
        unit = self.units.unit_of(QUANTITY_DIMENSION[Quantity(quantity)])
        return unit.shown or unit.symbol

    @property
    def has_behind(self) -> bool:
        return self["quantity"].value() in MEASURED_BEHIND_THE_POINT

    def has_changed(self) -> bool:
        chosen = self["quantity"].data not in (None, "") and not self["usual"].data
        return chosen or super().has_changed()

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        quantity, text = given.get("quantity"), given.get("value")
        if not quantity or not text:
            return given
        dimension = QUANTITY_DIMENSION[Quantity(quantity)]
        usual = self.units.unit_of(dimension).symbol
        try:
            given["stored"] = parse(text, usual, dimension)
            given["unit"] = unit_typed(text, usual, dimension)
        except UnitError as fault:
            self.add_error("value", str(fault))
        return given


class DefectForm(_Row):
    written_in = ("kind", "zone", "length", "width", "depth", "behind_point", "note")

    position = forms.ChoiceField(label="On", error_messages={"required": "Say which component."})
    kind = forms.ChoiceField(
        label="What",
        choices=words(DefectKind, "choose"),
        error_messages={"required": "Say what is wrong."},
    )
    zone = forms.ChoiceField(
        label="Where on it",
        choices=words(Zone, "choose"),
        error_messages={"required": "Say where on the component."},
    )
    length = LengthField(label="Length", required=False)
    width = LengthField(label="Width", required=False)
    depth = LengthField(label="Depth", required=False)
    behind_point = LengthField(label="Behind the point", required=False)
    orientation = forms.ChoiceField(
        label="Runs", choices=words(Orientation, "not noted"), required=False
    )
    breaks_surface = forms.ChoiceField(label="Breaks the surface", choices=YES_NO, required=False)
    reaches_edge = forms.ChoiceField(label="Runs to an edge", choices=YES_NO, required=False)
    reaches_base = forms.ChoiceField(label="Runs to the base", choices=YES_NO, required=False)
    head_reach = forms.ChoiceField(
        label="Crack and head of the rail",
        choices=words(HeadReach, "not looked at"),
        required=False,
    )
    flaw = forms.ChoiceField(
        label="Rail test found", choices=words(RailFlaw, "not tested"), required=False
    )
    head_share_percent = forms.DecimalField(
        label="Its share of the head",
        min_value=0,
        max_value=100,
        max_digits=5,
        decimal_places=2,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    welder_access = forms.ChoiceField(
        label="A welder can get at it in track", choices=YES_NO, required=False
    )
    metal_left = LengthField(label="Sound metal under it", required=False)
    hardened = LengthField(label="Hardened skin", required=False)
    damaged = forms.ChoiceField(
        label="Rail hurt by a derailment or a wheel", choices=YES_NO, required=False
    )
    note = forms.CharField(
        label="Note", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def known(self, name: str) -> bool | None:
        """Yes, no, or None where nobody looked."""
        return {"yes": True, "no": False}.get(self.cleaned_data[name])


class RowSet(forms.BaseFormSet):  # type: ignore[type-arg]
    """Rows of one kind; at most forty, which is more than one visit has."""


ReadingRows = forms.formset_factory(ReadingForm, formset=RowSet, extra=0, max_num=40)
DefectRows = forms.formset_factory(DefectForm, formset=RowSet, extra=0, max_num=20)


def usual_readings(standing: dict[Position, FrogDesign | None]) -> list[dict[str, Any]]:
    """The rows an inspector fills in most visits, for what stands in this turnout."""
    rows = []
    if Position.FROG in standing:
        rows += _of_frog(standing[Position.FROG])
    for side in (Position.LEFT_SWITCH_POINT, Position.RIGHT_SWITCH_POINT):
        if side in standing:
            rows += [_usual(side, q) for q in (Quantity.POINT_FIT_GAP, Quantity.SWITCH_POINT_WEAR)]
    return [*rows, _usual(None, Quantity.TRACK_GAGE), _usual(None, Quantity.RAIL_TEMPERATURE)]


def _of_frog(design: FrogDesign | None) -> list[dict[str, Any]]:
    frog = Position.FROG
    rows = [
        _usual(frog, quantity, route)
        for quantity in (Quantity.FLANGEWAY_DEPTH, Quantity.FLANGEWAY_WIDTH)
        for route in Route
    ]
    if design is FrogDesign.SELF_GUARDED_MANGANESE:
        rows.append(_usual(frog, Quantity.RAISED_GUARD_WEAR))
    else:
        rows += [
            _usual(frog, quantity, route)
            for quantity in (Quantity.GUARD_CHECK_GAGE, Quantity.GUARD_FACE_GAGE)
            for route in Route
        ]
    if design is FrogDesign.SPRING:
        rows.append(_usual(frog, Quantity.HORN_CLEARANCE))
    worn = (Quantity.POINT_WEAR_DEPTH, Quantity.POINT_WEAR_LENGTH, Quantity.TREAD_WEAR)
    return [*rows, *(_usual(frog, quantity) for quantity in worn)]


def _usual(on: Position | None, quantity: Quantity, route: Route | None = None) -> dict[str, Any]:
    return {
        "usual": "1",
        "position": on.value if on else "",
        "quantity": quantity.value,
        "route": route.value if route else "",
    }
