"""What passed over a component, in MGT, from the traffic rows of the turnouts it stood in."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from turnouts.analysis import tonnage
from turnouts.analysis.terms import Hand, Position, Route
from turnouts.models import Component, Installation
from turnouts.services.errors import Refused


@dataclass(frozen=True)
class Carried:
    """Tonnage of one stay and of the component up to its end, in MGT, or why it is not known."""

    installation: Installation
    during_mgt: Decimal | None
    total_mgt: Decimal | None
    why_not: str = ""


def during_mgt(installation: Installation, until: date) -> Decimal:
    """What passed over one stay up to ``until``; Refused where the traffic is not known."""
    try:
        return tonnage.passed_mgt(
            _traffic(installation), installation.installed_on, until, _routes(installation)
        )
    except tonnage.TonnageError as fault:
        raise Refused(f"{installation.turnout}: {fault}") from None


def total_at_last_removal(component: Component) -> Decimal:
    """The running total a component brings to its next place; a new one has carried nothing."""
    last = component.installations.filter(removed_on__isnull=False).order_by("-removed_on").first()
    return (last.mgt_at_removal if last else None) or Decimal(0)


def carried(component: Component, today: date) -> list[Carried]:
    """Each stay with its tonnage, the latest first.

    Reads ``component.installations`` with turnout and traffic, so prefetch them for many.
    """
    stays = sorted(component.installations.all(), key=lambda s: s.installed_on, reverse=True)
    return [_carried(stay, today) for stay in stays if stay.installed_on <= today]


def _carried(stay: Installation, today: date) -> Carried:
    if stay.mgt_at_removal is not None:
        during = stay.mgt_at_removal - stay.mgt_at_installation
        return Carried(stay, during, stay.mgt_at_removal)
    try:
        during = during_mgt(stay, min(stay.removed_on or today, today))
    except Refused as fault:
        return Carried(stay, None, None, str(fault))
    return Carried(stay, during, stay.mgt_at_installation + during)


def _traffic(installation: Installation) -> list[tonnage.Traffic]:
    rows = installation.turnout.traffic.all()
    return [tonnage.Traffic(Route(row.route), row.since, row.annual_mgt) for row in rows]


def _routes(installation: Installation) -> frozenset[Route]:
    hand = Hand(installation.turnout.hand)
    return tonnage.routes_over(Position(installation.position), hand)
