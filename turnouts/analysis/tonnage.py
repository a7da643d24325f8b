"""Tonnage that passed over a component, through all its moves.

Tonnage is in MGT, million gross tons. Traffic is a row for each route with the yearly tonnage
from a day on, until the next row of that route. One day carries the yearly tonnage / 365.25, in
leap years too, so a tonnage depends only on the number of days. From the first day, up to but not
including the last.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from turnouts.analysis.terms import Hand, Position, Route
from turnouts.analysis.units import rounded

DAYS_IN_YEAR = Fraction("365.25")

BOTH_ROUTES = frozenset(Route)


class TonnageError(ValueError):
    """Dates or traffic from which no tonnage follows; the text is a sentence."""


@dataclass(frozen=True, slots=True)
class Traffic:
    """The yearly tonnage of one route from a day on."""

    route: Route
    since: date
    annual_mgt: Decimal


@dataclass(frozen=True, slots=True)
class Stay:
    """A component in one turnout, from a day until another (None: it is still there)."""

    turnout: str
    since: date
    until: date | None
    traffic: tuple[Traffic, ...]
    routes: frozenset[Route] = BOTH_ROUTES


@dataclass(frozen=True, slots=True)
class Passed:
    """What passed during one stay, and in all up to the end of it, in MGT."""

    stay: Stay
    until: date
    during_mgt: Decimal
    total_mgt: Decimal


def routes_over(position: Position, hand: Hand) -> frozenset[Route]:
    """The routes whose wheels run on, or are held by, what stands in ``position``.

    In a right-hand turnout the left switch point is closed for the diverging route and the right
    one for the through route; a left-hand turnout is its mirror image. Frogs, plates and stock
    rails count both routes: stock rails carry both ahead of the points. Neither point of an
    equilateral turnout is told apart, so each counts both.
    """
    if position.value.startswith("through_"):
        return frozenset({Route.THROUGH})
    if position.value.startswith("diverging_"):
        return frozenset({Route.DIVERGING})
    if hand is Hand.EQUILATERAL:
        return BOTH_ROUTES
    if position is Position.LEFT_SWITCH_POINT:
        return frozenset({Route.DIVERGING if hand is Hand.RIGHT else Route.THROUGH})
    if position is Position.RIGHT_SWITCH_POINT:
        return frozenset({Route.THROUGH if hand is Hand.RIGHT else Route.DIVERGING})
    return BOTH_ROUTES


def passed_mgt(
    traffic: Iterable[Traffic],
    start: date,
    end: date,
    routes: frozenset[Route] = BOTH_ROUTES,
) -> Decimal:
    """The tonnage in MGT over ``routes`` from ``start`` up to ``end``, to seven places.

    A route without any row carries nothing. Raises TonnageError when ``end`` is before ``start``,
    or when ``start`` is before the first row: what passed then is not known, and is not zero.
    """
    if end < start:
        raise TonnageError(f"The end {end} is before the start {start}.")
    rows = [row for row in traffic if row.route in routes]
    return rounded(sum((_of_route(rows, route, start, end) for route in routes), Fraction(0)))


def history(stays: Iterable[Stay], today: date) -> tuple[Passed, ...]:
    """What passed over a component stay by stay, up to ``today``. Time in the shop counts nothing.

    Stays after ``today`` are left out. Raises TonnageError when two stays overlap.
    """
    ordered = sorted((s for s in stays if s.since <= today), key=lambda stay: stay.since)
    _check_apart(ordered)
    total, passed = Decimal(0), []
    for stay in ordered:
        until = min(stay.until or today, today)
        during = passed_mgt(stay.traffic, stay.since, until, stay.routes)
        total += during
        passed.append(Passed(stay, until, during, total))
    return tuple(passed)


def total_mgt(stays: Iterable[Stay], today: date) -> Decimal:
    """The tonnage in MGT over a component in all its stays up to ``today``."""
    passed = history(stays, today)
    return passed[-1].total_mgt if passed else Decimal(0)


def _of_route(rows: list[Traffic], route: Route, start: date, end: date) -> Fraction:
    own = sorted((row for row in rows if row.route is route), key=lambda row: row.since)
    if not own:
        return Fraction(0)
    if start < own[0].since:
        raise TonnageError(
            f"The traffic of the {route.value} route is known from {own[0].since} only, so the "
            f"tonnage since {start} is not. Add a traffic row for the time before."
        )
    ends = [row.since for row in own[1:]] + [end]
    return sum(
        (
            _carried(row, max(start, row.since), min(end, until))
            for row, until in zip(own, ends, strict=True)
        ),
        Fraction(0),
    )


def _carried(row: Traffic, start: date, end: date) -> Fraction:
    return Fraction(row.annual_mgt) / DAYS_IN_YEAR * max((end - start).days, 0)


def _check_apart(ordered: list[Stay]) -> None:
    for before, after in pairwise(ordered):
        if before.until is None or before.until > after.since:
            raise TonnageError(
                f"The component was put in at {after.turnout} on {after.since}, while it was still "
                f"in {before.turnout}. Give the day it came out there."
            )
