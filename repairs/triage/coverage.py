"""Which clause stands in which row, how many worked cases hold it, and how its text was checked.

``python -m repairs.triage.coverage`` writes the table to ``COVERAGE.md`` beside this file.
"""

from collections.abc import Iterable, Sequence
from pathlib import Path

from repairs.triage.decide import decide
from repairs.triage.decision import Decision, Outcome
from repairs.triage.inspection_rows import InspectionRow
from repairs.triage.rail_rows import ActionRow
from repairs.triage.rows import AdviceRow, ExceptionRow, LeftOutRow, Row
from repairs.triage.rules import FILES, RuleSet, rule_sets
from repairs.triage.together import PAST
from repairs.triage.worked import WorkedCase, read_worked_cases

TABLE = Path(__file__).with_name("COVERAGE.md")
CASES = Path(__file__).parents[2] / "tests" / "cases" / "triage"

_HEAD = """# What the rules cover

Written by `python -m repairs.triage.coverage`; change the rules or the worked cases, not this page.

A row that measures or sees something counts the worked cases in which it came out within and past,
an exception those in which it eased a limit, an action those that call for it. A row that only says
something, such as that an inspection is overdue, counts the cases in which it is said; any other
row the cases whose answer rests on it. Rows of the railway's own stand once, under the first set.
A clause that no row holds is listed with why it is left out.
"""


def table(cases: Sequence[WorkedCase]) -> str:
    """The whole page as Markdown."""
    said = [_HEAD]
    shown: set[str] = set()
    for name, rules in rule_sets().items():
        rows = [row for row in rules.rows() if row.rule not in shown]
        shared = {row.rule for row in rows if _is_shared(row.rule)}
        shown |= shared
        said += _section(rules, rows, [case for case in cases if case.rules == name])
    return "\n".join(said)


def _is_shared(rule: str) -> bool:
    return all(any(row.rule == rule for row in rules.rows()) for rules in rule_sets().values())


def _section(rules: RuleSet, rows: Iterable[Row], cases: list[WorkedCase]) -> list[str]:
    decisions = [decide(case.case, rules) for case in cases if not case.is_refused]
    lines = [
        f"| {row.clause} | {row.title} (`{row.rule}`, from {row.start}) "
        f"| {_counted(row, rules, decisions)} | {_checked(row, rules)} |"
        for row in rows
    ]
    heading = f"## {rules.title}\n\nRule set `{rules.id}`, {len(cases)} worked cases.\n"
    return [heading, "| clause | row | cases | text |", "| --- | --- | --- | --- |", *lines, ""]


def _counted(row: Row, rules: RuleSet, decisions: list[Decision]) -> str:
    if isinstance(row, AdviceRow | InspectionRow):
        return f"said in {sum(any(row.says in c for c in d.cautions) for d in decisions)}"
    if isinstance(row, ExceptionRow):
        eased = f"as eased by {row.clause}"
        return f"eased in {sum(any(eased in f.clause for f in d.findings) for d in decisions)}"
    if isinstance(row, LeftOutRow):
        return f"left out: {row.says}"
    if isinstance(row, ActionRow):
        lines = {
            line.rule
            for line in rules.rail_defects
            if row.letter in (*line.actions, *line.or_actions)
        }
        return f"called for in {sum(_judged(d, lines, PAST) > 0 for d in decisions)}"
    within = sum(_judged(d, {row.rule}, (Outcome.WITHIN,)) for d in decisions)
    past = sum(_judged(d, {row.rule}, PAST) for d in decisions)
    if within or past:
        return f"{within} within, {past} past" if within else f"{past} past"
    return f"used in {sum(any(s.rule_id == row.rule for s in d.rules_seen) for d in decisions)}"


def _judged(decision: Decision, rules: set[str], outcomes: tuple[Outcome, ...]) -> int:
    return sum(f.rule_id in rules and f.outcome in outcomes for f in decision.findings)


def _checked(row: Row, rules: RuleSet) -> str:
    since = rules.sources[row.source].since
    return row.checked if since is None else f"{row.checked}, as of {since}"


def main() -> None:
    """Write the table of the rules as shipped and the worked cases in the tests."""
    TABLE.write_text(table(read_worked_cases(CASES)), encoding="utf-8")
    print(f"{TABLE.name}: {len(FILES)} rule sets")


if __name__ == "__main__":
    main()
