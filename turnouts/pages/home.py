"""Where somebody's day begins, and what they read and type."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import PasswordChangeView
from django.contrib.messages.views import SuccessMessageMixin
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy

from turnouts.menu import first_page
from turnouts.models import Person
from turnouts.pages.asking import Asked
from turnouts.services.people import OwnUnits, set_units


@login_required
def home(request: Asked) -> HttpResponse:
    """To the first page of the person's role; without any role, to their own settings."""
    return redirect(first_page(request.user))


class UnitsForm(forms.Form):
    length = forms.ChoiceField(label="Lengths", choices=Person.LENGTH)
    speed = forms.ChoiceField(label="Speeds and distances", choices=Person.SPEED)
    temperature = forms.ChoiceField(label="Temperatures", choices=Person.TEMPERATURE)
    mass = forms.ChoiceField(label="Weights", choices=Person.MASS)


@login_required
def own_settings(request: Asked) -> HttpResponse:
    """Units of this person, and the way to a new password."""
    person = request.user
    now = {
        "length": person.length_unit,
        "speed": person.speed_unit,
        "temperature": person.temperature_unit,
        "mass": person.mass_unit,
    }
    form = UnitsForm(request.POST or None, initial=now)
    if request.method == "POST" and form.is_valid():
        set_units(person=person, units=OwnUnits(**form.cleaned_data))
        messages.success(request, "Kept. Every page now reads in these units.")
        return redirect("own-settings")
    grants = person.grants.select_related("territory")
    return render(request, "turnouts/own_settings.html", {"form": form, "grants": grants})


class OwnPassword(SuccessMessageMixin, PasswordChangeView):  # type: ignore[type-arg]
    """A new password for this person; other devices are logged out by it."""

    success_url = reverse_lazy("own-settings")
    success_message = "The password was changed. Log in anew on your other devices."
