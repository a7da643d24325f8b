"""The forms of the railway's own editions of a procedure."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from repairs.services.own_procedures import LETTERS, WORDS_LETTERS, EditionProposal, OwnInterpass
from repairs.setting_words import GROUPS, NAMES, said_number, said_place, typed_number, typing_unit
from repairs.welding.own_editions import NOT_THE_RAILWAYS, OWN_RULE, Change, Value
from repairs.welding.procedures import Procedure
from repairs.welding.rows_toml import Mark, Row
from repairs.welding.settings import WORDS_ALLOWED
from turnouts.analysis.units import UnitError
from turnouts.models import Person

PRESENT, SHIPPED = "present", "shipped"


@dataclass(frozen=True)
class SettingFields:
    """One setting of the form: its row as it is now, the field of the new value, and of why."""

    row: Row
    name: str
    unit: str
    value: BoundField
    why: BoundField


class EditionForm(forms.Form):
    """A whole edition: what is left empty stays as it is."""

    starts_on = forms.DateField(label="In force from", widget=forms.DateInput({"type": "date"}))
    reason = forms.CharField(
        label="Why the railway wants it",
        max_length=LETTERS,
        widget=forms.Textarea({"rows": 3, "maxlength": LETTERS}),
    )
    begin_from = forms.ChoiceField(
        label="What is left empty",
        choices=[
            (PRESENT, "stays as in the edition in force"),
            (SHIPPED, "goes back to the edition as shipped"),
        ],
        initial=PRESENT,
    )
    interpass = forms.ChoiceField(label="Interpass rule to keep to")
    own_limit = forms.CharField(label="Ceiling", max_length=24, required=False)
    own_place = forms.CharField(
        label="Measured how far from the weld (0: on it)", max_length=24, required=False
    )
    own_reason = forms.CharField(label="Why this rule", max_length=LETTERS, required=False)
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, present: Procedure, base: Procedure, by: Person, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.present, self.base, self.units = present, base, by.units
        if present.own_edition is None:
            del self.fields["begin_from"]
        self._offer_rules()
        for key, row in present.rows.items():
            if key not in NOT_THE_RAILWAYS:
                self.fields[f"value_{key}"] = _value_field(row, typing_unit(row.unit, self.units))
                self.fields[f"why_{key}"] = forms.CharField(
                    label=f"Why: {NAMES[key].lower()}", max_length=LETTERS, required=False
                )

    def _offer_rules(self) -> None:
        field: Any = self.fields["interpass"]
        rules = [
            (rule.key, f"{self._said(rule.limit_degc, rule.place_mm)}: {rule.key}")
            for rule in self.base.interpass_rules
        ]
        field.choices = [*rules, (OWN_RULE, "a rule of the railway's own, below")]
        field.initial = self.present.interpass.key
        self.fields["own_limit"].help_text = f"Without a unit: {typing_unit('degC', self.units)}."
        self.fields["own_place"].help_text = f"Without a unit: {typing_unit('mm', self.units)}."
        if self.present.interpass.mark is Mark.RAILWAY:
            rule = self.present.interpass
            # Typed in the stored unit, so that what nobody touches stays exactly as it is.
            self.fields["own_limit"].initial = f"{rule.limit_degc:g} degC"
            self.fields["own_place"].initial = f"{rule.place_mm:g} mm"
            self.fields["own_reason"].initial = rule.note

    def _said(self, limit_degc: float, place_mm: float) -> str:
        limit = said_number(limit_degc, "degC", self.units)
        return f"{limit}, {said_place(place_mm, self.units)}"

    def groups(self) -> Iterator[tuple[str, list[SettingFields], bool]]:
        """Each heading with its settings, and whether something is typed or wrong under it."""
        for title, names in GROUPS.items():
            found = [self._one(key) for key in names if f"value_{key}" in self.fields]
            busy = any(
                one.value.errors or one.why.errors or one.value.data or one.why.data
                for one in found
            )
            yield title, found, busy

    def _one(self, key: str) -> SettingFields:
        row = self.present.rows[key]
        unit = typing_unit(row.unit, self.units) if isinstance(row.value, float) else ""
        return SettingFields(row, NAMES[key], unit, self[f"value_{key}"], self[f"why_{key}"])

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self.typed: dict[str, Change] = {}
        for key, row in self.present.rows.items():
            text, why = (given.get(f"{part}_{key}", "") for part in ("value", "why"))
            if text:
                self._take(key, row, text, why)
            elif why and not self.errors.get(f"value_{key}"):
                self.add_error(f"value_{key}", "A reason is given and no new value.")
        self.rule: str | OwnInterpass = given.get("interpass", "")
        if self.rule == OWN_RULE:
            self._take_rule(given)
        return given

    def _take(self, key: str, row: Row, text: str, why: str) -> None:
        if not why.strip():
            self.add_error(f"why_{key}", "Say why the railway sets it otherwise.")
            return
        try:
            self.typed[key] = Change(key, self._value(row, text), why.strip())
        except UnitError as fault:
            self.add_error(f"value_{key}", str(fault))

    def _value(self, row: Row, text: str) -> Value:
        if isinstance(row.value, tuple):
            return tuple(line.strip() for line in text.splitlines() if line.strip())
        return text if isinstance(row.value, str) else typed_number(text, row.unit, self.units)

    def _take_rule(self, given: dict[str, Any]) -> None:
        numbers: dict[str, float] = {}
        for name, unit in (("own_limit", "degC"), ("own_place", "mm")):
            try:
                numbers[name] = typed_number(given.get(name, ""), unit, self.units)
            except UnitError as fault:
                self.add_error(name, str(fault))
        if not given.get("own_reason", "").strip():
            self.add_error("own_reason", "Say why the railway sets its own.")
        if len(numbers) == 2:
            self.rule = OwnInterpass(
                numbers["own_limit"], numbers["own_place"], given.get("own_reason", "").strip()
            )

    def proposal(self) -> EditionProposal:
        """The whole edition; a value that is the shipped one again is no change."""
        given = self.cleaned_data
        keep = given.get("begin_from", SHIPPED) == PRESENT
        changes = (_changes_of(self.present) if keep else {}) | self.typed
        rows = self.base.rows
        return EditionProposal(
            procedure=self.base.id,
            starts_on=given["starts_on"],
            changes=[c for c in changes.values() if c.value != rows[c.key].value],
            interpass=self.rule,
            reason=given["reason"],
            seen=given["seen"],
        )


def _changes_of(edition: Procedure) -> dict[str, Change]:
    """What an own edition in force sets otherwise, with the reasons kept."""
    return {
        key: Change(key, row.value, row.note)
        for key, row in edition.rows.items()
        if row.mark is Mark.RAILWAY
    }


def _value_field(row: Row, unit: str) -> forms.Field:
    label = f"New: {NAMES[row.key].lower()}{f', {unit}' if unit else ''}"
    if row.key in WORDS_ALLOWED:
        words = sorted(WORDS_ALLOWED[row.key])
        choices = [("", "as it is"), *((word, word.replace("_", " ")) for word in words)]
        return forms.ChoiceField(label=label, choices=choices, required=False)
    if isinstance(row.value, tuple):
        area = forms.Textarea({"rows": len(row.value)})
        return forms.CharField(label=f"{label}, one a line", widget=area, required=False)
    longest = WORDS_LETTERS if isinstance(row.value, str) else 24
    return forms.CharField(label=label.replace(", words", ""), max_length=longest, required=False)


class EditionAnswerForm(forms.Form):
    note = forms.CharField(
        label="In words",
        max_length=LETTERS,
        required=False,
        help_text="Needed to reject.",
        widget=forms.Textarea({"rows": 2, "maxlength": LETTERS}),
    )
    preview = forms.IntegerField(required=False, widget=forms.HiddenInput)
    version = forms.IntegerField(widget=forms.HiddenInput)
