"""Signs, times and sizes of the repair pages, as this reader sees them."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import template
from django.utils import timezone

from repairs import showing
from repairs.entry_words import Names, entry_words
from repairs.field.events import Data
from repairs.triage.rules import said_rule_sets
from turnouts.analysis.units import Dimension
from turnouts.templatetags.readings import preference_of, reading

register = template.Library()


@register.inclusion_tag("repairs/_traffic.html", takes_context=True)
def traffic(context: dict[str, Any], decision: Any) -> dict[str, str]:
    """The sign of what traffic may do; it takes a decision read ``with_speeds``."""
    words = showing.traffic_words(decision, preference_of(context))
    return {"kind": decision.traffic, "words": words}


@register.inclusion_tag("repairs/_due.html")
def due(due_on: date | None, today: date) -> dict[str, Any]:
    """A due date with how far off it is; late is said in words and shape."""
    if due_on is None:
        return {"due_on": None}
    return {"due_on": due_on, "words": showing.due_words(due_on, today), "late": due_on < today}


@register.filter
def said_rules(kept: dict[str, Any]) -> str:
    """The rule sets an answer was given by, with their editions, from what was kept of it."""
    return said_rule_sets(kept["rule_set"], kept["edition"])


@register.filter
def clock(moment: str | datetime) -> str:
    """The time of day, as the railway's clock shows it: 02:15."""
    return _local(moment).strftime("%H:%M")


@register.filter
def day_and_clock(moment: str | datetime) -> str:
    """Weekday, day and time: Thu 5 Mar 22:00. A night's work runs over midnight."""
    local = _local(moment)
    return f"{local:%a} {local.day} {local:%b %H:%M}"


def _local(moment: str | datetime) -> datetime:
    at = datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    return timezone.localtime(at)


@register.filter
def hours(minutes: float) -> str:
    """Minutes as people say a duration: 35 min, 4 h 20 min."""
    whole, rest = divmod(round(minutes), 60)
    return f"{whole} h {rest:02} min" if whole else f"{rest} min"


@register.filter
def percent(share: float) -> str:
    """A chance as whole per cent, never rounded up to certainty."""
    return f"{min(int(share * 100), 99)} %"


@register.simple_tag(takes_context=True)
def about(context: dict[str, Any], value: float | str | None, dimension: str) -> str:
    """An estimated value, to three figures, in the reader's unit; not for anything measured."""
    if value is None:
        return ""
    unit = preference_of(context).unit_of(Dimension(dimension))
    number = (float(value) - float(unit.offset)) / float(unit.factor)
    digits = 0 if abs(number) >= 100 else 1 if abs(number) >= 10 else 2
    return f"{number:.{digits}f} {unit.shown or unit.symbol}"


@register.simple_tag(takes_context=True)
def exactly(context: dict[str, Any], value: str | None, dimension: str) -> str:
    """A measured value kept as text, with its unit, or "not measured"."""
    return reading(context, None if value is None else Decimal(value), dimension)


@register.simple_tag(takes_context=True)
def margin(context: dict[str, Any], finding: dict[str, Any]) -> str:
    """How far a value lies inside its limit, or past it."""
    signed = Decimal(finding["margin_mm"])
    side = "past" if signed < 0 or finding["outcome"] == "beyond" else "inside"
    return f"{reading(context, abs(signed), 'length')} {side}"


@register.simple_tag(takes_context=True)
def doubt(context: dict[str, Any], finding: dict[str, Any]) -> str:
    """The half-width of the measurement's uncertainty; a value given without one is said so."""
    half = Decimal(finding.get("uncertainty_mm", 0))
    if not half:
        return "uncertainty not noted"
    unit = preference_of(context).unit_of(Dimension.LENGTH)
    return f"± {float(half) / float(unit.factor):.2g} {unit.symbol}"


@register.filter
def counted(unit: str, amount: float) -> str:
    """The unit as it goes with the amount: 1 piece, 2 pieces; kg stays kg."""
    return unit.removesuffix("s") if amount == 1 and unit in ("pieces", "sets") else unit


@register.simple_tag(takes_context=True)
def entry_says(context: dict[str, Any], data: Data | None, names: Names) -> str:
    """What an entry of the trackside says, in the reader's units; empty where its kind says all."""
    return "" if data is None else entry_words(data, names, preference_of(context))
