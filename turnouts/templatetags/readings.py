"""Stored values as this reader sees them, in the units of their own settings."""

from decimal import Decimal
from typing import Any

from django import template

from turnouts.analysis import showing
from turnouts.analysis.terms import Quantity
from turnouts.analysis.units import QUANTITY_DIMENSION, Dimension

register = template.Library()

NOTHING = "not measured"


def preference_of(context: dict[str, Any]) -> showing.UnitPreference:
    """The reader's units; somebody who is not logged in sees the trade's own, inches and mph."""
    person = getattr(context.get("request"), "user", None)
    return person.units if person is not None and person.is_authenticated else showing.US


@register.simple_tag(takes_context=True)
def reading(context: dict[str, Any], value: Decimal | None, dimension: str) -> str:
    """``{% reading defect.depth_mm "length" %}``: the value with its unit, or "not measured"."""
    if value is None:
        return NOTHING
    return showing.show(Decimal(value), Dimension(dimension), preference_of(context))


@register.simple_tag(takes_context=True)
def measured(context: dict[str, Any], value: Decimal | None, quantity: str) -> str:
    """The value of a measured quantity, whatever its dimension is."""
    return reading(context, value, QUANTITY_DIMENSION[Quantity(quantity)].value)


@register.simple_tag(takes_context=True)
def against(
    context: dict[str, Any], value: Decimal, limit: Decimal, dimension: str
) -> tuple[str, str]:
    """Value and limit together, so that two that differ never read the same."""
    return showing.show_against(
        Decimal(value), Decimal(limit), Dimension(dimension), preference_of(context)
    )


@register.filter
def words(value: str) -> str:
    """A stored word in plain words: ``weld_in_track`` gives ``Weld in track``."""
    text = str(value).replace("_", " ")
    return text[:1].upper() + text[1:]
