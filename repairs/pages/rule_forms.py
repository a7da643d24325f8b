"""The forms of the railway's own rules."""

from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from repairs.rule_figures import LENGTHS, Settable, speed_typed, typed
from repairs.services.owner_rules import LETTERS, Proposal
from repairs.triage.owner_figures import Figure
from repairs.triage.rules import rule_sets
from repairs.triage.words import CLASS_NAMES
from turnouts.access import Action, territory_ids
from turnouts.analysis.units import Dimension, UnitError, parse
from turnouts.models import Person, Territory


def places_of(person: Person, action: Action) -> Any:
    """The territories where the person may do it."""
    where = territory_ids(person, action)
    rows = Territory.objects.all()
    return rows if where is None else rows.filter(pk__in=where)


SPEED_HELP = (
    "The rules reckon in whole mph. A speed in km/h is kept as you type it, and taken as the whole "
    "mph below it."
)


class ProposalForm(forms.Form):
    """A figure of one row, typed in the reader's own units."""

    typed = ""

    track_class = forms.TypedChoiceField(
        label="On which track", coerce=int, empty_value=None, required=False
    )
    value = forms.CharField(max_length=24)
    starts_on = forms.DateField(label="From", widget=forms.DateInput(attrs={"type": "date"}))
    ends_on = forms.DateField(
        label="Until, if it is to end",
        widget=forms.DateInput(attrs={"type": "date"}),
        required=False,
        help_text="On that day it no longer holds.",
    )
    territory = forms.ModelChoiceField(Territory.objects.none(), label="Where", required=False)
    reason = forms.CharField(
        label="Why",
        max_length=LETTERS,
        widget=forms.Textarea(attrs={"rows": 3, "maxlength": LETTERS}),
    )

    def __init__(self, *args: Any, of: Settable, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.of, self.units = of, by.units
        unit = f", {by.units.length}" if of.figure in LENGTHS else ""
        self.fields["value"].label = f"New {of.figure.label.lower()}{unit}"
        if of.figure is Figure.CAP:
            self.fields["value"].label = f"New speed, {by.units.speed}"
            self.fields["value"].help_text = SPEED_HELP
        if of.classes:
            names = [(c, CLASS_NAMES[c].capitalize()) for c in of.classes]
            self.fields["track_class"].choices = [("", "every class alike"), *names]  # type: ignore[attr-defined]
        else:
            del self.fields["track_class"]
        self._offer_places(by)

    def _offer_places(self, by: Person) -> None:
        field: Any = self.fields["territory"]
        field.queryset = places_of(by, Action.EDIT_RULES)
        everywhere = territory_ids(by, Action.EDIT_RULES) is None
        field.empty_label = "all territories" if everywhere else None
        field.required = not everywhere

    def clean_value(self) -> Decimal:
        text = self.cleaned_data["value"]
        if self.of.figure in LENGTHS:
            try:
                return parse(text, self.units.length, Dimension.LENGTH)
            except UnitError as fault:
                raise forms.ValidationError(str(fault)) from None
        return self._speed(text) if self.of.figure is Figure.CAP else _whole(text)

    def _speed(self, text: str) -> Decimal:
        try:
            mph, self.typed = speed_typed(text, self.units.speed)
        except UnitError as fault:
            raise forms.ValidationError(str(fault)) from None
        return mph

    def proposal(self) -> Proposal:
        given = self.cleaned_data
        return Proposal(
            rule=self.of.row.rule,
            figure=self.of.figure,
            value=given["value"],
            starts_on=given["starts_on"],
            reason=given["reason"],
            track_class=given.get("track_class"),
            ends_on=given["ends_on"],
            territory=given["territory"],
            typed=self.typed,
        )


def _whole(text: str) -> Decimal:
    try:
        number = Decimal(text.strip())
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or number != number.to_integral_value() or number > 100_000:
        raise forms.ValidationError(f"{text} is no whole number. Type one like 14.")
    return number


def first_values(of: Settable, by: Person, today: str) -> dict[str, Any]:
    """The form as it is first shown: with the present value, where there is one for all classes."""
    present = of.value_on(None)
    value = "" if present is None else typed(present, of.figure, by.units)
    return {"value": value, "starts_on": today}


class AnswerForm(forms.Form):
    note = forms.CharField(
        label="In words",
        max_length=LETTERS,
        required=False,
        help_text="Needed to reject.",
        widget=forms.Textarea(attrs={"rows": 2, "maxlength": LETTERS}),
    )
    preview = forms.IntegerField(required=False, widget=forms.HiddenInput)


class RuleSetsForm(forms.Form):
    """Under which rule sets a territory stands."""

    names = forms.MultipleChoiceField(
        label="Rule sets", widget=forms.CheckboxSelectMultiple, required=False
    )
    reason = forms.CharField(
        label="Why",
        max_length=LETTERS,
        widget=forms.Textarea(attrs={"rows": 2, "maxlength": LETTERS}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sets = [(name, rules.title) for name, rules in rule_sets().items()]
        self.fields["names"].choices = sets  # type: ignore[attr-defined]
