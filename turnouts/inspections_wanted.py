"""Which inspections a turnout is due for. The app that knows the rules says so through a provider.

It is set in that app's ``AppConfig.ready``; this module knows none of the rules.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from turnouts.models import Turnout


@dataclass(frozen=True)
class Wanted:
    """One inspection: the last day it may be made, and the clause in a sentence.

    ``due_on`` is empty where it is wanted before trains run. ``unrecorded`` names the facts taken
    on the safe side, ``text_not_read`` how the rule's text was checked where nobody read it.
    """

    kind: str
    due_on: date | None
    last: date | None
    overdue: bool
    clause: str
    sentence: str
    rule_set: str
    unrecorded: tuple[str, ...] = ()
    text_not_read: str = ""


Provider = Callable[[Sequence[Turnout], date], Mapping[int, Sequence[Wanted]]]

_providers: list[Provider] = []


def add_provider(provider: Provider) -> None:
    """Ask ``provider`` too; once, however often it is added."""
    if provider not in _providers:
        _providers.append(provider)


def inspections_wanted(turnout: Turnout, on: date) -> list[Wanted]:
    """What every provider says of a turnout, overdue first, then by the day."""
    return inspections_wanted_at_each([turnout], on)[turnout.pk]


def inspections_wanted_at_each(turnouts: Sequence[Turnout], on: date) -> dict[int, list[Wanted]]:
    """The same of many by their ids; the turnouts come ``with_place``."""
    said: dict[int, list[Wanted]] = defaultdict(list)
    for provider in _providers:
        for turnout, wanted in provider(turnouts, on).items():
            said[turnout] += wanted
    for wanted in said.values():
        wanted.sort(key=lambda one: (not one.overdue, one.due_on or date.min))
    return said
