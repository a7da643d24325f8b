"""The limits of what is measured on a component, told by the app that knows the rules.

A provider is added in that app's ``AppConfig.ready``; this module knows none of the rules.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from turnouts.analysis.terms import Quantity
from turnouts.models import Component, Turnout


@dataclass(frozen=True)
class WearLimit:
    """A limit in mm where the component stands. ``least``: the value must not go below it.

    ``unsettled`` says in a sentence what was taken on the safe side, and is empty otherwise.
    """

    quantity: Quantity
    mm: Decimal
    least: bool
    clause: str
    title: str
    rule_set: str
    unsettled: str = ""


Standing = Sequence[tuple[Component, Turnout]]
Provider = Callable[[Standing, date], Mapping[int, Sequence[WearLimit]]]

_providers: list[Provider] = []


def add_provider(provider: Provider) -> None:
    """Ask ``provider`` too; once, however often it is added."""
    if provider not in _providers:
        _providers.append(provider)


def wear_limits(standing: Standing, on: date) -> dict[int, list[WearLimit]]:
    """By component id every limit that is set where it stands; the turnouts come ``with_place``.

    Where two rule sets give one quantity the same limit, the first is kept.
    """
    said: dict[int, list[WearLimit]] = defaultdict(list)
    for provider in _providers:
        for component, limits in provider(standing, on).items():
            for limit in limits:
                if not any(_same(limit, kept) for kept in said[component]):
                    said[component].append(limit)
    return said


def _same(one: WearLimit, other: WearLimit) -> bool:
    return (one.quantity, one.mm, one.least) == (other.quantity, other.mm, other.least)
