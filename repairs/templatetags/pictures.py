"""Pictures of findings and prices, with values as this reader sees them."""

from typing import Any

from django import template
from django.conf import settings

from repairs.section_drawing import section_drawing
from turnouts.analysis.showing import format_length, said_money
from turnouts.templatetags.readings import preference_of

register = template.Library()


@register.inclusion_tag("repairs/_section.html", takes_context=True)
def section(context: dict[str, Any], finding: dict[str, Any], number: str) -> dict[str, Any]:
    """One finding on a section of the frog; nothing where there is no value beside a limit."""
    drawn = finding.get("measured") is not None and finding.get("limit") is not None
    return {
        "drawing": section_drawing(finding) if drawn else None,
        "finding": finding,
        "number": number,
        "request": context.get("request"),
    }


@register.simple_tag(takes_context=True)
def length(context: dict[str, Any], mm: Any) -> str:
    """A length in the reader's unit."""
    return format_length(mm, preference_of(context).length)


@register.filter
def money(amount: float) -> str:
    """Whole units of the railway's money with its currency, kept together: USD 12,300."""
    return said_money(amount, settings.CURRENCY)


@register.filter
def sum_of_money(amount: float) -> str:
    """The same under a heading that names the currency already: 12,300."""
    return f"{amount:,.0f}"


@register.simple_tag
def currency() -> str:
    """The three letters of the railway's currency."""
    code: str = settings.CURRENCY
    return code


@register.filter
def unit_of_price(unit: str) -> str:
    """The unit of a price as its row has it, with the currency for money: USD/h."""
    return unit.replace("money", settings.CURRENCY)


@register.filter
def figure(value: float) -> str:
    """A price or rate as it was written: 0.07, 32000."""
    return f"{value:,.10g}"
