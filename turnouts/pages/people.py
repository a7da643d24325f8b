"""People and their roles, for administrators."""

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import password_validation
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from turnouts.access import Action, territory_ids
from turnouts.analysis.terms import Role
from turnouts.models import Person, RoleGrant, Territory
from turnouts.pages.asking import Asked, form_status, one_page, page, refusals_in
from turnouts.services import people as service


class NewPersonForm(forms.Form):
    username = forms.CharField(label="Login name", max_length=150)
    first_name = forms.CharField(label="First name", max_length=150, required=False)
    last_name = forms.CharField(label="Last name", max_length=150, required=False)
    email = forms.EmailField(label="E-mail", required=False)
    password = forms.CharField(
        label="First password",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=" ".join(password_validation.password_validators_help_texts()),
    )


class GrantForm(forms.Form):
    role = forms.ChoiceField(label="Role", choices=[(role.value, role.label) for role in Role])
    territory = forms.ModelChoiceField(
        Territory.objects.all(), label="Territory", required=False, empty_label="all territories"
    )

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        where = territory_ids(by, Action.GRANT)
        field = self.fields["territory"]
        if where is not None and isinstance(field, forms.ModelChoiceField):
            field.queryset = Territory.objects.filter(pk__in=where)
            field.empty_label, field.required = None, True


@page(Action.GRANT)
def people(request: Asked) -> HttpResponse:
    """Everybody with their roles; a new person."""
    form = NewPersonForm(request.POST or None)
    if form.is_valid():
        with refusals_in(form):
            person = service.add_person(by=request.user, **form.cleaned_data)
            messages.success(request, f"{person} can log in. Give them a role now.")
            return redirect("person", person.username)
    rows = Person.objects.prefetch_related("grants__territory").order_by("username")
    context, status = {"page": one_page(request, rows), "form": form}, form_status(request, form)
    return render(request, "turnouts/people.html", context, status=status)


@page(Action.GRANT)
def person(request: Asked, username: str) -> HttpResponse:
    """One person: roles given and taken, and whether they may log in."""
    row = get_object_or_404(Person, username=username)
    form = GrantForm(request.POST or None, by=request.user)
    if request.method == "POST" and form.is_valid():
        service.grant_role(
            by=request.user,
            person=row,
            role=Role(form.cleaned_data["role"]),
            territory=form.cleaned_data["territory"],
        )
        return redirect("person", row.username)
    context = {"person": row, "grants": row.grants.select_related("territory"), "form": form}
    return render(request, "turnouts/person.html", context)


@require_POST
@page(Action.GRANT)
def revoke(request: Asked, pk: int) -> HttpResponse:
    """Take a role away."""
    grant = get_object_or_404(RoleGrant.objects.select_related("person", "territory"), pk=pk)
    service.revoke_role(by=request.user, grant=grant)
    return redirect("person", grant.person.username)


@require_POST
@page(Action.GRANT)
def set_active(request: Asked, username: str) -> HttpResponse:
    """Let somebody log in, or no longer."""
    row = get_object_or_404(Person, username=username)
    service.set_active(by=request.user, person=row, active=request.POST.get("active") == "yes")
    return redirect("person", row.username)
