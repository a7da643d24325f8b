"""What signed records say of weld repairs, told by the app that keeps them.

A provider is added in that app's ``AppConfig.ready``; this module knows nothing of job sheets.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Passes:
    """The hottest recorded pass of a repair and the limit on its sheet, both in degC.

    ``procedure`` is the title of the one on the sheet; no pass is recorded where none was measured.
    """

    sheet: str
    procedure: str
    hottest_degc: Decimal | None
    limit_degc: Decimal | None


Provider = Callable[[Sequence[int]], Mapping[int, Passes]]

_providers: list[Provider] = []


def add_provider(provider: Provider) -> None:
    """Ask ``provider`` too; once, however often it is added."""
    if provider not in _providers:
        _providers.append(provider)


def weld_passes(defects: Sequence[int]) -> dict[int, Passes]:
    """By defect id the passes that were recorded when it was welded; most have none."""
    return {pk: passes for provider in _providers for pk, passes in provider(defects).items()}
