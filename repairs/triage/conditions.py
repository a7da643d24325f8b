"""Rules on what is seen rather than gauged."""

from dataclasses import replace

from repairs.triage.decision import Effect, Finding, Missing, Outcome
from repairs.triage.facts import Case, DefectFacts
from repairs.triage.indexed import rows_on
from repairs.triage.rows import ConditionRow, Row
from repairs.triage.rules import RuleSet

Judged = tuple[list[Finding], list[Missing]]


def judge_conditions(case: Case, rules: RuleSet) -> Judged:
    """Every condition row that speaks of the defect on this component."""
    findings: list[Finding] = []
    missing: list[Missing] = []
    for row, known in rows_on(rules, case).conditions:
        if case.defect is None or row.where.speaks_of_defect(case.defect) is not True:
            continue
        if row.reaches_base and case.defect.reaches_base is False:
            continue
        if row.unless_tested and case.defect.flaw is not None:
            continue
        finding, lacks = _condition(row, case.defect, rules, known=known)
        findings.append(finding)
        missing += lacks
    return findings, missing


def head_of(row: Row, rules: RuleSet, effect: Effect, sentence: str) -> Finding:
    """A finding of a row on something seen, before its outcome is known."""
    return Finding(
        rule_id=row.rule,
        row_start=row.start,
        clause=row.clause,
        title=row.title,
        source=row.source,
        checked=row.checked,
        outcome=Outcome.NOT_MEASURED,
        sentence=sentence,
        effect=effect,
        required=True,
        rule_set=rules.id,
        checked_note=row.checked_note,
    )


def _condition(
    row: ConditionRow, defect: DefectFacts, rules: RuleSet, *, known: bool
) -> tuple[Finding, list[Missing]]:
    said = f"{row.says[0].upper()}{row.says[1:]} ({row.clause})."
    head = head_of(row, rules, row.effect, said)
    if not known:
        what = "the design of the component"
        return head, [Missing(None, what, f"{row.clause} may apply to it")]
    if row.reaches_base and defect.reaches_base is None:
        what = f"whether the {defect.kind.label.lower()} reaches the base"
        return replace(head, sentence=f"{row.title}: not recorded."), [
            Missing(None, what, f"{row.title.lower()} changes the answer")
        ]
    asked = [Missing(None, row.ask, f"{row.clause} goes by it")] if row.ask else []
    seen = replace(
        head, outcome=Outcome.BEYOND, applies_to_traffic=True, disposition=row.disposition
    )
    return seen, asked
