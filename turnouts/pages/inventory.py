"""Changes of the inventory by an engineer: small forms, one for each thing that happens."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate

from turnouts.access import Action, visible
from turnouts.analysis.showing import UnitPreference, show
from turnouts.analysis.terms import Hand, Position
from turnouts.analysis.units import Dimension, UnitError, parse
from turnouts.models import Component, Turnout
from turnouts.pages.asking import Asked, form_status, found, page, refusals_in
from turnouts.services import inventory
from turnouts.services.errors import Refused
from turnouts.templatetags.readings import plain

Keep = Callable[[dict[str, Any]], str]


def _ask(
    request: Asked, form: forms.Form, heading: str, words: str, back: str, keep: Keep
) -> HttpResponse:
    """Show a small form; when it is right, keep it and go back with the sentence of ``keep``.

    A refusal stands over the form with everything typed still in it.
    """
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            messages.success(request, keep(form.cleaned_data))
            return redirect(back)
    context = {"form": form, "heading": heading, "words": words, "back": back}
    status = form_status(request, form)
    return render(request, "turnouts/form.html", context, status=status)


class _VersionedForm(forms.Form):
    version = forms.IntegerField(widget=forms.HiddenInput)


def _day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


class InstallForm(forms.Form):
    serial = forms.CharField(label="Serial number of the component", max_length=40)
    position = forms.ChoiceField(label="Position", choices=[(p.value, p.label) for p in Position])
    installed_on = _day("Put in on")


@page(Action.EDIT_INVENTORY)
def install(request: Asked, code: str) -> HttpResponse:
    """Put a component into a turnout."""
    turnout = found(request, Turnout.objects.with_place(), Action.EDIT_INVENTORY, code=code)
    today = localdate()
    form = InstallForm(request.POST or None, initial={"installed_on": today})

    def keep(given: dict[str, Any]) -> str:
        mine = visible(request.user, Component.objects.all(), Action.EDIT_INVENTORY)
        component = mine.filter(serial=given["serial"].strip()).first()
        if component is None:
            raise Refused(
                f"There is no component {given['serial']} that you may move. Look the serial "
                "number up under Components, or import the component first."
            )
        stay = inventory.install_component(
            by=request.user,
            component=component,
            turnout=turnout,
            position=Position(given["position"]),
            installed_on=given["installed_on"],
            today=today,
            expected_version=component.version,
        )
        return f"{component} stands at {turnout}, {stay.get_position_display().lower()}."

    back = reverse("turnout", args=[turnout.code])
    return _ask(request, form, f"Put a component in at {turnout}", "Put in", back, keep)


class RemoveForm(_VersionedForm):
    removed_on = _day("Taken out on")
    reason = forms.CharField(label="Why", max_length=120)


@page(Action.EDIT_INVENTORY)
def remove(request: Asked, serial: str) -> HttpResponse:
    """Take a component out of track."""
    component, form = _of_component(request, serial, RemoveForm, "removed_on")

    def keep(given: dict[str, Any]) -> str:
        stay = inventory.remove_component(
            by=request.user,
            component=component,
            removed_on=given["removed_on"],
            reason=given["reason"],
            today=localdate(),
            expected_version=given["version"],
        )
        return f"{component} was taken out of {stay.turnout} on {stay.removed_on}."

    return _ask(request, form, f"Take {component} out", "Take out", _page_of(component), keep)


class ShopForm(_VersionedForm):
    shop = forms.CharField(label="Shop", max_length=80)
    arrived_on = _day("Arrived on")
    work = forms.CharField(label="Work to be done", max_length=200)


@page(Action.EDIT_INVENTORY)
def to_shop(request: Asked, serial: str) -> HttpResponse:
    """Send a component to the shop."""
    component, form = _of_component(request, serial, ShopForm, "arrived_on")

    def keep(given: dict[str, Any]) -> str:
        visit = inventory.send_to_shop(
            by=request.user,
            component=component,
            shop=given["shop"],
            arrived_on=given["arrived_on"],
            work=given["work"],
            today=localdate(),
            expected_version=given["version"],
        )
        return f"{component} is at {visit.shop} since {visit.arrived_on}."

    return _ask(request, form, f"Send {component} to the shop", "Send", _page_of(component), keep)


class ReturnForm(_VersionedForm):
    left_on = _day("Left the shop on")
    work = forms.CharField(label="Work that was done", max_length=200)


@page(Action.EDIT_INVENTORY)
def from_shop(request: Asked, serial: str) -> HttpResponse:
    """Take a component back from the shop."""
    component, form = _of_component(request, serial, ReturnForm, "left_on")

    def keep(given: dict[str, Any]) -> str:
        visit = inventory.return_from_shop(
            by=request.user,
            component=component,
            left_on=given["left_on"],
            work=given["work"],
            today=localdate(),
            expected_version=given["version"],
        )
        return f"{component} left {visit.shop} on {visit.left_on}."

    heading = f"{component} comes back from the shop"
    return _ask(request, form, heading, "Note the return", _page_of(component), keep)


def _of_component(
    request: Asked, serial: str, kind: type[_VersionedForm], day: str
) -> tuple[Component, _VersionedForm]:
    component = found(request, Component.objects.all(), Action.EDIT_INVENTORY, serial=serial)
    initial = {day: localdate(), "version": component.version}
    return component, kind(request.POST or None, initial=initial)


def _page_of(component: Component) -> str:
    return reverse("component", args=[component.serial])


class SpeedField(forms.CharField):
    """A speed typed in the person's unit, or with another; the cleaned value is in km/h."""

    unit = "mph"

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            return parse(text, self.unit, Dimension.SPEED)
        except UnitError as fault:
            raise forms.ValidationError(str(fault)) from None


class CoordinateField(forms.CharField):
    """Degrees as people type them; the cleaned value has the six places that are kept."""

    def __init__(self, label: str, below_zero: str) -> None:
        help_text = f"Decimal degrees (WGS 84), {below_zero}"
        super().__init__(label=label, required=False, help_text=help_text)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return round(parse(text, "deg", Dimension.COORDINATE), 6)
        except UnitError as fault:
            raise forms.ValidationError(str(fault)) from None


class TurnoutForm(_VersionedForm):
    milepost = forms.DecimalField(label="Milepost", max_digits=8, decimal_places=3)
    hand = forms.ChoiceField(label="Hand", choices=[(hand.value, hand.label) for hand in Hand])
    frog_number = forms.DecimalField(label="Frog number", max_digits=5, decimal_places=2)
    rail_section = forms.CharField(label="Rail section", max_length=16)
    faces = forms.ChoiceField(label="Points", choices=Turnout.FACING)
    speed_through_kmh = SpeedField(label="Speed through")
    speed_diverging_kmh = SpeedField(label="Speed diverging")
    access = forms.CharField(label="Way in by road", max_length=200, required=False)
    latitude = CoordinateField("Latitude", "south below zero, such as -48.876731")
    longitude = CoordinateField("Longitude", "west below zero, such as -123.393306")

    def __init__(self, *args: Any, units: UnitPreference, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, SpeedField):
                field.unit = units.speed


@page(Action.EDIT_INVENTORY)
def change_turnout(request: Asked, code: str) -> HttpResponse:
    """Correct the facts of a turnout."""
    turnout = found(request, Turnout.objects.with_place(), Action.EDIT_INVENTORY, code=code)
    units = request.user.units
    now = vars(inventory.facts_of(turnout)) | {"version": turnout.version}
    for name in ("speed_through_kmh", "speed_diverging_kmh"):
        now[name] = show(now[name], Dimension.SPEED, units)
    for name in ("latitude", "longitude"):
        now[name] = "" if now[name] is None else plain(now[name])
    form = TurnoutForm(request.POST or None, initial=now, units=units)

    def keep(given: dict[str, Any]) -> str:
        version = given.pop("version")
        facts = inventory.TurnoutFacts(**given | {"hand": Hand(given["hand"])})
        inventory.update_turnout(
            by=request.user, turnout=turnout, facts=facts, expected_version=version
        )
        return f"Turnout {turnout} was changed."

    back = reverse("turnout", args=[turnout.code])
    return _ask(request, form, f"Change turnout {turnout}", "Keep", back, keep)
