"""Numbers of the week page: chances, shares and places in the drawing."""

from django import template

register = template.Library()


@register.filter
def chance(value: float) -> str:
    """A chance in percent, never rounded up to certainty: 0.9996 is ``over 99.9 %``."""
    if value > 0.999:
        return "over 99.9 %"
    if value > 0.99:
        return f"{int(value * 1000) / 10:g} %"
    return f"{int(value * 100)} %"


@register.filter
def share(value: float) -> str:
    """A small share in percent with two digits: 0.0024 is ``0.24 %``."""
    return f"{max(value, 0.0) * 100:.2f} %"


@register.filter
def plus(value: float, more: float) -> float:
    """A place in the drawing, moved."""
    return round(value + more, 1)


@register.filter
def unlocalized(value: float) -> str:
    """A number as SVG wants it, with a point whatever the reader's language."""
    return f"{value:g}"


@register.filter
def short_of(value: float, more: float) -> float:
    """By how much a value falls short of another."""
    return more - value


@register.filter
def less(value: float) -> float:
    """The same amount the other way: what a loss of 12 is, said without its sign."""
    return -value
