"""What holds at turnouts for trains, and by when something is due. Told by the app that decides.

Providers are added in that app's ``AppConfig.ready``; this module knows none of the rules.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from turnouts.models import Turnout


@dataclass(frozen=True)
class Held:
    """The strictest of what holds at a turnout.

    ``traffic`` is ``class_speed``, ``restricted`` (with ``speed_kmh``), ``stop`` or ``unknown``,
    which keeps the present restriction. ``repair_due`` and ``inspection_due`` are the first days;
    ``inspect_now`` where one is wanted before trains run or nothing is on record; ``facts_lacking``
    where the rules ask for one only because a fact is not recorded, which is not counted as due.
    """

    traffic: str = "class_speed"
    speed_kmh: Decimal | None = None
    repair_due: date | None = None
    inspection_due: date | None = None
    inspect_now: bool = False
    facts_lacking: bool = False

    @property
    def restricted(self) -> bool:
        return self.traffic != "class_speed"


Provider = Callable[[Sequence[Turnout], date], Mapping[int, Held]]

_providers: list[Provider] = []


def add_provider(provider: Provider) -> None:
    """Ask ``provider`` too; once, however often it is added. One says all of a turnout."""
    if provider not in _providers:
        _providers.append(provider)


def held_at(turnouts: Sequence[Turnout], on: date) -> dict[int, Held]:
    """By turnout id what holds on a day; a turnout of which nobody says anything is free."""
    held = {turnout.pk: Held() for turnout in turnouts}
    for provider in _providers:
        held |= provider(turnouts, on)
    return held
