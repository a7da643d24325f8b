"""A railway's own rule set: it may tighten any figure, and loosen only what the law leaves open.

A change is one figure of one row from a day on. Where the law gets a stricter edition later, that
edition stands from its day: a change never holds a row below the law.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from repairs.triage.owner_figures import Figure, FigureRefused, changed, check_classes, held_to
from repairs.triage.read import RAILWAYS_OWN
from repairs.triage.rows import Row
from repairs.triage.rules import TABLES, RuleSet

OWN_SOURCE = "railway"
"""The source that changed rows name; it is listed in ``rules/sources.toml``."""


class OwnerRuleRefused(ValueError):
    """A change that cannot stand; the text says which rule, why, and what would be taken."""


@dataclass(frozen=True, slots=True)
class OwnerChange:
    """One figure of a row as the railway sets it, from ``start`` up to but not on ``end``.

    ``value`` is in the unit of the figure: mm for a limit, mph for a cap, whole numbers otherwise.
    ``track_class`` narrows a limit to one class; ``None`` sets all of them.
    """

    rule: str
    figure: Figure
    value: Decimal
    start: date
    reason: str
    track_class: int | None = None
    end: date | None = None


@lru_cache(maxsize=32)
def owner_rules(base: RuleSet, changes: tuple[OwnerChange, ...]) -> RuleSet:
    """The base rule set with the railway's own figures laid over it, dates kept.

    With no changes it is the base itself. Raises OwnerRuleRefused for a change that would loosen
    law, names no row or figure, gives no reason, or makes a lower class stricter than a higher.
    """
    if not changes:
        return base
    known: dict[str, list[Row]] = {}
    for row in base.rows():
        known.setdefault(row.rule, []).append(row)
    by_rule: dict[str, list[OwnerChange]] = {}
    for change in changes:
        _check(change, known, base)
        by_rule.setdefault(change.rule, []).append(change)
    for rule, some in by_rule.items():
        _refuse_doubles(rule, some)
    tables: dict[str, Any] = {
        table.held_in: tuple(_laid_over(getattr(base, table.held_in), by_rule, base))
        for table in TABLES.values()
    }
    title = f"{base.title}, with the railway's own figures"
    return replace(base, id=f"{base.id}+railway", title=title, **tables)


def _check(change: OwnerChange, known: dict[str, list[Row]], base: RuleSet) -> None:
    editions = known.get(change.rule)
    if editions is None:
        raise OwnerRuleRefused(
            f"{base.title} has no rule {change.rule}. Take the name from a row of the set."
        )
    if not change.reason.strip():
        raise OwnerRuleRefused(f"{change.rule}: say why the railway sets its own figure.")
    if change.end is not None and change.end <= change.start:
        raise OwnerRuleRefused(
            f"{change.rule}: the change ends on {change.end}, not after it starts on "
            f"{change.start}. Correct one of the dates."
        )
    standing = _edition(editions, change.start)
    if standing is None:
        first = min(row.start for row in editions)
        raise OwnerRuleRefused(
            f"{change.rule} is not in force on {change.start}; it begins on {first}. "
            "Start the change later."
        )
    _refuse_loosening(change, standing, base)


def _refuse_loosening(change: OwnerChange, standing: Row, base: RuleSet) -> None:
    wanted = _with(standing, change)
    if standing.railway_may_set or wanted == held_to(wanted, standing, change.figure, base):
        return
    raise OwnerRuleRefused(
        f"{standing.clause}, {standing.title.lower()}: {change.value.normalize():f} would be "
        f"looser than the law, which says {standing.value_seen}. A railway may tighten what the "
        "law sets, not loosen it."
    )


def _refuse_doubles(rule: str, changes: list[OwnerChange]) -> None:
    seen = {(c.figure, c.track_class, c.start) for c in changes}
    if len(seen) < len(changes):
        raise OwnerRuleRefused(
            f"{rule}: two changes of the same figure start on the same day. Remove one."
        )


def _laid_over(
    rows: Iterable[Row], by_rule: dict[str, list[OwnerChange]], base: RuleSet
) -> Iterable[Row]:
    """The rows in their order, each changed rule as one row for each stretch of time."""
    rows = tuple(rows)
    done: set[str] = set()
    for row in rows:
        if row.rule not in by_rule:
            yield row
        elif row.rule not in done:
            done.add(row.rule)
            editions = [other for other in rows if other.rule == row.rule]
            yield from _timeline(editions, by_rule[row.rule], base)


def _timeline(editions: list[Row], changes: list[OwnerChange], base: RuleSet) -> Iterable[Row]:
    days = {row.start for row in editions} | {c.start for c in changes}
    days |= {c.end for c in changes if c.end is not None}
    for day in sorted(days):
        standing = _edition(editions, day)
        if standing is not None:
            yield _on_day(standing, changes, base, day)


def _edition(editions: list[Row], on: date) -> Row | None:
    begun = [row for row in editions if row.start <= on]
    newest = max(begun, key=lambda row: row.start, default=None)
    return None if newest is None or (newest.end is not None and newest.end <= on) else newest


def _on_day(standing: Row, changes: list[OwnerChange], base: RuleSet, day: date) -> Row:
    """The row as the changes begun by that day make it; of one figure the newest change counts."""
    active = [c for c in changes if c.start <= day and (c.end is None or day < c.end)]
    row = standing
    for change in sorted(active, key=lambda c: c.start):
        row = _with(row, change)
    if not standing.railway_may_set:
        for figure in {change.figure for change in active}:
            row = held_to(row, standing, figure, base)
    try:
        check_classes(row)
    except FigureRefused as refused:
        raise OwnerRuleRefused(str(refused)) from refused
    if row == standing:
        return replace(row, start=day)
    return _signed(row, standing, active, day)


def _signed(row: Row, standing: Row, active: list[OwnerChange], day: date) -> Row:
    """The changed row with its own source, and what stands behind it in words."""
    said = "; ".join(dict.fromkeys(change.reason.strip() for change in active))
    own = standing.railway_may_set
    return replace(
        row,
        start=day,
        clause=standing.clause if own else f"{standing.clause}, tightened by the railway",
        source=OWN_SOURCE,
        checked=RAILWAYS_OWN,
        why=said,
        checked_note=f"{said}; without the railway's figure it is {standing.value_seen}",
    )


def _with(row: Row, change: OwnerChange) -> Row:
    try:
        return changed(row, change.figure, change.value, change.track_class)
    except FigureRefused as refused:
        raise OwnerRuleRefused(str(refused)) from refused
