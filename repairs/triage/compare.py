"""Two editions of the rules over many cases: which answers change and why, before one is taken."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from repairs.triage.decide import answer, decide, judge, judged_class
from repairs.triage.decision import Decision, Traffic, TrafficKind
from repairs.triage.due import due
from repairs.triage.facts import Case
from repairs.triage.limits import judge_limit
from repairs.triage.rows import DueRow, ExceptionRow, LimitRow, Row
from repairs.triage.rules import RuleSet, rules_in_force
from repairs.triage.where import Where
from repairs.triage.words import said_speed

Pair = tuple[Row | None, Row | None]
"""A row as it was and as it is to be."""


@dataclass(frozen=True, slots=True)
class Changed:
    """One case whose answer is another under the new rules; ``index`` is its place in the cases."""

    index: int
    old: Decision
    new: Decision
    why: str


def compare(cases: Sequence[Case], before: RuleSet, after: RuleSet) -> tuple[Changed, ...]:
    """The cases whose traffic, disposition or due date differ, in their order, each with why.

    A case that no changed row speaks of is not decided again: its answer cannot differ.
    Raises RuleError when either rule set has no rows in force on the day of a case.
    """
    changed = (_compared(index, case, before, after) for index, case in enumerate(cases))
    return tuple(one for one in changed if one is not None)


def _compared(index: int, case: Case, before: RuleSet, after: RuleSet) -> Changed | None:
    rows = changed_rows(before, after, case.decided_on)
    acting = [pair for pair in rows if _has_a_say(pair, case, before, after)]
    both = _both(case, before, after, only_due=_only_due(acting)) if acting else None
    if both is None or _same(*both):
        return None
    old, new = both
    meant = [pair for pair in rows if _may_speak(pair, case, before, after)]
    return Changed(index, old, new, _why(old, new, meant))


def _has_a_say(pair: Pair, case: Case, before: RuleSet, after: RuleSet) -> bool:
    """Whether a changed row may change the answer. Most cases are settled here, a limit at a time:
    one that comes out the same under both editions changes nothing, whatever else is in the case.
    """
    if not _may_speak(pair, case, before, after):
        return False
    old, new = pair
    if not (isinstance(old, LimitRow) and isinstance(new, LimitRow)) or not _figures_only(old, new):
        return True
    return _outcome(old, case, before) != _outcome(new, case, after)


def _only_due(pairs: list[Pair]) -> bool:
    return all(isinstance(row, DueRow | None) for pair in pairs for row in pair)


def _both(
    case: Case, before: RuleSet, after: RuleSet, *, only_due: bool
) -> tuple[Decision, Decision] | None:
    """The two decisions; ``None`` where rows on due dates alone leave the date as it is.

    Such rows decide nothing but the date, so a case whose date stays is judged only once.
    """
    rules = rules_in_force(before, case.decided_on)
    judged = judge(case, rules)
    if only_due:
        dates = (
            due(case, judged.traffic, judged.choice.disposition, judged.findings, edition)[0]
            for edition in (rules, rules_in_force(after, case.decided_on))
        )
        if len(set(dates)) == 1:
            return None
    return answer(case, rules, judged), decide(case, after)


def _figures_only(old: LimitRow, new: LimitRow) -> bool:
    """Whether two editions of a limit differ in the limit alone, and it stands by itself."""
    if old.together or old.extent_of or new.together or new.extent_of:
        return False
    said = {name: getattr(old, name) for name in ("value", "by_class", *_SAID_ONLY)}
    return replace(new, **said) == old


_SAID_ONLY = ("start", "end", "clause", "source", "checked", "checked_note", "why")


def _outcome(row: LimitRow, case: Case, rules: RuleSet) -> tuple[object, ...]:
    """All of a limit's finding that traffic, disposition and due date go by."""
    rules = rules_in_force(rules, case.decided_on)
    finding, missing = judge_limit(row, case, rules, judged_class(case, rules))
    return finding.outcome, finding.class_met, finding.required, tuple(m.what for m in missing)


@lru_cache(maxsize=64)
def changed_rows(before: RuleSet, after: RuleSet, on: date) -> tuple[Pair, ...]:
    """The rows in force on a day that differ, old and new side by side; ``None`` for no row.

    The order of the lines of choice is part of what they say, so a moved line counts as changed.
    """
    old = {row.rule: row for row in rules_in_force(before, on).rows()}
    new = {row.rule: row for row in rules_in_force(after, on).rows()}
    names = dict.fromkeys((*old, *new))
    pairs = [(old.get(name), new.get(name)) for name in names]
    pairs = [pair for pair in pairs if pair[0] != pair[1]]
    return (*pairs, *_moved(before, after, on))


def _moved(before: RuleSet, after: RuleSet, on: date) -> tuple[Pair, ...]:
    olds = [row.rule for row in rules_in_force(before, on).choices]
    news = {row.rule: row for row in rules_in_force(after, on).choices}
    kept = [rule for rule in olds if rule in news]
    if kept == [rule for rule in news if rule in set(olds)]:
        return ()
    return tuple((news[rule], news[rule]) for rule in kept)


def _may_speak(pair: Pair, case: Case, before: RuleSet, after: RuleSet) -> bool:
    return any(
        row is not None and _speaks(row, case, rules)
        for row, rules in zip(pair, (before, after), strict=True)
    )


def _speaks(row: Row, case: Case, rules: RuleSet) -> bool:
    """Whether a row may have a say in a case; where that is not known it may."""
    if isinstance(row, ExceptionRow):
        relaxed = [limit for limit in rules.limits if limit.rule == row.relaxes]
        return any(_speaks(limit, case, rules) for limit in relaxed)
    where = getattr(row, "where", None)
    if not isinstance(where, Where):
        return True
    if where.speaks_of_component(case.component) is False:
        return False
    if isinstance(row, LimitRow):
        return True  # its `where` names parts only; readings decide the rest
    return where.speaks_of_defect(case.defect) is not False


def _same(old: Decision, new: Decision) -> bool:
    return (old.traffic, old.disposition, old.due_on) == (new.traffic, new.disposition, new.due_on)


def _why(old: Decision, new: Decision, rows: list[Pair]) -> str:
    """What is other in the answer, then the changed rows that had a say in it."""
    said = []
    if old.traffic != new.traffic:
        said.append(f"{_traffic(old.traffic)} becomes {_traffic(new.traffic)}")
    if old.disposition is not new.disposition:
        said.append(f"{old.disposition.label.lower()} becomes {new.disposition.label.lower()}")
    if old.due_on != new.due_on:
        said.append(f"due {new.due_on:%d %b %Y} instead of {old.due_on:%d %b %Y}")
    seen = {row.rule_id for row in (*old.rules_seen, *new.rules_seen)}
    behind = [pair for pair in rows if _name(pair) in seen] or rows
    return f"{'; '.join(said)}, because of {'; '.join(_row_said(pair) for pair in behind)}."


def _name(pair: Pair) -> str:
    return next(row.rule for row in pair if row is not None)


def _row_said(pair: Pair) -> str:
    old, new = pair
    if new is None:
        return "" if old is None else f"{old.title} ({old.clause}), which is gone"
    if old is None:
        return f"{new.title} ({new.clause}), which is new"
    if old.value_seen == new.value_seen:
        return f"{new.title} ({new.clause}), worded anew"
    return f"{new.title} ({new.clause}), {old.value_seen} before, {new.value_seen} now"


def _traffic(traffic: Traffic) -> str:
    if traffic.kind is TrafficKind.STOP or traffic.speed_mph is None:
        return traffic.kind.label.lower()
    speed = said_speed(traffic.speed_mph, traffic.passenger_mph)
    return f"{traffic.kind.label.lower()} ({speed})"
