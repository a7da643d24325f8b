"""When a turnout has to be inspected next, and whether that day has passed."""

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta

from repairs.triage.facts import Case, InspectionFacts
from repairs.triage.inspection_rows import InspectionKind, InspectionRow
from repairs.triage.rules import RuleSet, rules_in_force

_CONDITIONS = ("held_by_one_rod", "used_monthly", "main_or_siding", "passengers_or_over_10_mgt")


@dataclass(frozen=True, slots=True)
class InspectionDue:
    """The last day an inspection may be made; ``None`` where it is wanted before trains run.

    ``last`` is the inspection it is counted from, ``None`` when none is on record: then it is
    overdue whatever the day. ``unrecorded`` names facts taken on the safe side.
    """

    kind: InspectionKind
    due_on: date | None
    last: date | None
    overdue: bool
    clause: str
    sentence: str
    checked: str
    unrecorded: tuple[str, ...] = ()


def inspections_due(
    facts: InspectionFacts, track_class: int | None, rules: RuleSet, on: date
) -> tuple[InspectionDue, ...]:
    """The inspections a rule set asks for, those due first at the front.

    Of several rows of one kind the one that is due first stands. A fact or a class that nobody
    recorded does not excuse from a row. Raises RuleError when no rules are in force on the day.
    """
    asked: dict[InspectionKind, InspectionDue] = {}
    for row in rules_in_force(rules, on).inspections:
        if not _meant(row, facts, track_class):
            continue
        found = _due(row, facts, on)
        if row.kind not in asked or _order(found) < _order(asked[row.kind]):
            asked[row.kind] = found
    return tuple(sorted(asked.values(), key=_order))


def overdue(case: Case, rules: RuleSet) -> list[str]:
    """A sentence for each inspection of the case's turnout that is past its day."""
    if case.inspected is None:
        return []
    due = inspections_due(case.inspected, case.track.track_class, rules, case.decided_on)
    return [f"Overdue. {one.sentence}" for one in due if one.overdue]


def _meant(row: InspectionRow, facts: InspectionFacts, track_class: int | None) -> bool:
    if row.classes and track_class is not None and track_class not in row.classes:
        return False
    asked = ((getattr(row, name), getattr(facts, name)) for name in _CONDITIONS)
    return all(want is None or fact is None or want is fact for want, fact in asked)


def _due(row: InspectionRow, facts: InspectionFacts, on: date) -> InspectionDue:
    last = _last(row.kind, facts)
    due_on = None if row.before_use or last is None else _next(last, row)
    late = (row.before_use and last != on) or (due_on is not None and due_on < on)
    unrecorded = tuple(
        name.replace("_", " ")
        for name in _CONDITIONS
        if getattr(row, name) is not None and getattr(facts, name) is None
    )
    return InspectionDue(
        kind=row.kind,
        due_on=due_on,
        last=last,
        overdue=late or last is None,
        clause=row.clause,
        sentence=_said(row, last, due_on),
        checked=row.checked,
        unrecorded=unrecorded,
    )


def _said(row: InspectionRow, last: date | None, due_on: date | None) -> str:
    start = f"{row.title}: {row.says} ({row.clause})"
    if last is None:
        return f"{start}. None is on record."
    when = "before trains run" if due_on is None else f"by {due_on:%d %b %Y}"
    return f"{start}. The last was on {last:%d %b %Y}; the next is wanted {when}."


def _last(kind: InspectionKind, facts: InspectionFacts) -> date | None:
    """The newest inspection that counts: one on foot is also one of the track."""
    if kind is InspectionKind.TRACK:
        seen = [day for day in (facts.passed_on, facts.walked_on) if day is not None]
        return max(seen, default=None)
    return facts.walked_on if kind is InspectionKind.ON_FOOT else facts.thrown_on


def _next(last: date, row: InspectionRow) -> date:
    """``months`` after 31 January is the last day of February: never more than the calendar's."""
    if row.days is not None:
        return last + timedelta(days=row.days)
    years, month = divmod(last.month - 1 + (row.months or 0), 12)
    year = last.year + years
    return date(year, month + 1, min(last.day, monthrange(year, month + 1)[1]))


def _order(due: InspectionDue) -> date:
    """With nothing on record, or before use, it is due at once."""
    return due.due_on or date.min
