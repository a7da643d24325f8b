"""Settings of procedures as this reader sees them."""

from typing import Any

from django import template

from repairs import setting_words
from repairs.welding.procedures import InterpassRule
from repairs.welding.rows_toml import Mark, Row
from turnouts.templatetags.readings import preference_of

register = template.Library()


@register.simple_tag(takes_context=True)
def setting(context: dict[str, Any], row: Row) -> str:
    """A setting's value with its unit, in the reader's units."""
    return setting_words.said_value(row, preference_of(context))


@register.simple_tag(takes_context=True)
def sheet_settings(context: dict[str, Any], kept: list[dict[str, Any]]) -> list[dict[str, str]]:
    """The settings of a job sheet, in the reader's units."""
    return [setting_words.said_on_sheet(one, preference_of(context)) for one in kept]


@register.simple_tag(takes_context=True)
def sheet_ceiling(context: dict[str, Any], rule: dict[str, Any]) -> str:
    """The interpass ceiling of a job sheet, in the reader's unit."""
    return setting_words.said_number(rule["limit_degc"], "degC", preference_of(context))


@register.simple_tag(takes_context=True)
def sheet_place(context: dict[str, Any], rule: dict[str, Any]) -> str:
    """Where a job sheet has the interpass temperature measured."""
    return setting_words.said_place(rule["place_mm"], preference_of(context))


@register.filter
def short_standing(mark: str) -> str:
    """How well a value stands, in a word or two."""
    return setting_words.short_standing(mark)


@register.simple_tag(takes_context=True)
def ceiling(context: dict[str, Any], rule: InterpassRule) -> str:
    """An interpass ceiling, in the reader's unit."""
    return setting_words.said_number(rule.limit_degc, "degC", preference_of(context))


@register.simple_tag(takes_context=True)
def where_measured(context: dict[str, Any], rule: InterpassRule) -> str:
    return setting_words.said_place(rule.place_mm, preference_of(context))


@register.simple_tag(takes_context=True)
def rules_span(context: dict[str, Any], rules: tuple[InterpassRule, ...]) -> str:
    """From the coldest to the hottest of the ceilings that others give."""
    units = preference_of(context)
    limits = sorted({rule.limit_degc for rule in rules if rule.mark is not Mark.RAILWAY})
    ends = [setting_words.said_number(degc, "degC", units) for degc in (limits[0], limits[-1])]
    return " to ".join(dict.fromkeys(ends))


@register.filter
def standing(of: Row | InterpassRule) -> str:
    """How well a value stands and on what."""
    return setting_words.said_standing(of)


@register.filter
def process_words(process: str) -> str:
    return {"FCAW": "Self-shielded flux-cored wire", "SMAW": "Stick electrode"}[process]
