"""Signs of what holds by a person's word, and figures of rules, as this reader sees them."""

from typing import Any

from django import template

from repairs import rule_figures
from repairs.models import OwnerRule
from repairs.rule_figures import Settable
from repairs.services.standing import Standing
from repairs.showing import traffic_words
from repairs.triage.words import CLASS_NAMES
from turnouts.analysis.showing import show
from turnouts.analysis.terms import Disposition
from turnouts.analysis.units import Dimension
from turnouts.templatetags.readings import preference_of

register = template.Library()


@register.inclusion_tag("repairs/_traffic.html", takes_context=True)
def held_traffic(context: dict[str, Any], holds: Standing) -> dict[str, str]:
    """The sign of what traffic may do by a person's word."""
    words = {"stop": "Stop", "class_speed": "Class speed"}.get(holds.traffic, "Not cleared")
    if holds.traffic == "restricted" and holds.speed_kmh is not None:
        words = show(holds.speed_kmh, Dimension.SPEED, preference_of(context))
    return {"kind": holds.traffic, "words": words}


@register.inclusion_tag("repairs/_traffic.html", takes_context=True)
def traffic_short(context: dict[str, Any], answer: dict[str, Any]) -> dict[str, str]:
    """The sign of an answer kept in short: of a preview, or of one rule set beside another."""
    kept = _Kept(answer)
    return {"kind": kept.traffic, "words": traffic_words(kept, preference_of(context))}


class _Kept:
    """An answer from JSON with the names that a decision read ``with_speeds`` has."""

    def __init__(self, answer: dict[str, Any]) -> None:
        self.traffic: str = answer.get("kind") or answer["traffic"]
        self.mph = answer.get("speed_mph") or answer.get("mph")
        self.passenger_mph = answer.get("passenger_mph")


@register.simple_tag
def disposition_words(value: str) -> str:
    return Disposition(value).label


@register.simple_tag
def share(value: float) -> str:
    """A share in per cent; a few of many is never said to be none."""
    return "under 1 %" if 0 < value < 0.01 else f"{value:.0%}".replace("%", " %")


@register.simple_tag(takes_context=True)
def own_rule(context: dict[str, Any], rule: OwnerRule) -> str:
    """What a rule of the railway sets, in the reader's units."""
    return rule_figures.rule_words(rule, preference_of(context))


@register.simple_tag(takes_context=True)
def own_sides(context: dict[str, Any], of: Settable, rule: OwnerRule) -> str:
    """Both sides of the value that a rule of the railway sets."""
    return rule_figures.both_sides(of, rule.value, preference_of(context))


@register.simple_tag(takes_context=True)
def present_values(context: dict[str, Any], of: Settable) -> str:
    """The present values in one line; of limits by class each class's own."""
    units = preference_of(context)
    parts = [
        f"{'' if on is None else f'{CLASS_NAMES[on]}: '}{rule_figures.with_side(of, value, units)}"
        for on, value in of.values
    ]
    return "; ".join(parts)


@register.simple_tag(takes_context=True)
def figure_lines(context: dict[str, Any], of: Settable) -> list[dict[str, str]]:
    """Each present value with both its sides."""
    units = preference_of(context)
    return [
        {
            "track": "all" if on is None else CLASS_NAMES[on],
            "value": rule_figures.with_side(of, value, units),
            "sides": rule_figures.both_sides(of, value, units),
        }
        for on, value in of.values
    ]
