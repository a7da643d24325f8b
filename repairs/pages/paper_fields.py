"""The boxes of a paper sheet: a time of day, and a number with or without its unit."""

from decimal import Decimal
from typing import Any

from django import forms

from turnouts.analysis.units import Dimension, UnitError, parse


class ClockField(forms.TimeField):
    """A time of day on the paper."""

    def __init__(self, label: str) -> None:
        super().__init__(label=label, required=False, widget=forms.TimeInput({"type": "time"}))


class AmountField(forms.CharField):
    """A number with or without its unit; the cleaned value is in the stored unit, or None."""

    def __init__(self, label: str, unit: str, dimension: Dimension) -> None:
        super().__init__(label=f"{label}, {unit}", required=False, max_length=24)
        self.unit, self.dimension = unit, dimension

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse(text, self.unit, self.dimension)
        except UnitError as fault:
            raise forms.ValidationError(str(fault)) from None
