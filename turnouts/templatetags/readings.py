"""Stored values as this reader sees them, in the units of their own settings."""

from decimal import Decimal
from typing import Any

from django import template

from turnouts.analysis import showing
from turnouts.analysis.evidence import said_chance
from turnouts.analysis.terms import Quantity
from turnouts.analysis.units import QUANTITY_DIMENSION, Dimension
from turnouts.models import Measurement

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


@register.simple_tag
def chance(share: float) -> str:
    """A chance in whole percent, never 0 % or 100 % for what is only unlikely or likely."""
    return said_chance(share)


@register.filter
def plain(number: Decimal) -> str:
    """A number without trailing zeros or an exponent: 10.00 gives 10, 12.500 gives 12.5."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@register.simple_tag(takes_context=True)
def give_or_take(context: dict[str, Any], row: Measurement) -> str:
    """The half-width of a reading's uncertainty; a difference, so no zero point is shifted."""
    if not row.uncertainty:
        return "not noted"
    unit = preference_of(context).unit_of(QUANTITY_DIMENSION[Quantity(row.quantity)])
    return f"± {float(row.uncertainty) / float(unit.factor):.2g} {unit.shown or unit.symbol}"


@register.simple_tag(takes_context=True)
def about_length(context: dict[str, Any], mm: float) -> str:
    """A length that was reckoned, to three figures, in the reader's unit; not for one measured."""
    unit = preference_of(context).unit_of(Dimension.LENGTH)
    return f"{mm / float(unit.factor):.3g} {unit.shown or unit.symbol}"
