"""Rows that restrict traffic only together, such as a point worn both down and back."""

from dataclasses import replace

from repairs.triage.decision import Finding, Missing, Outcome
from repairs.triage.indexed import links
from repairs.triage.rows import LimitRow
from repairs.triage.rules import RuleSet

PAST = (Outcome.NEAR, Outcome.BEYOND)
"""Outcomes that count as past the limit: a value within its uncertainty is on the safe side."""


def hold_together(
    findings: list[Finding], missing: list[Missing], rules: RuleSet
) -> tuple[list[Finding], list[Missing]]:
    """Findings and missing readings after rows of one group were held together.

    One half within its limit settles the group: the other half neither restricts nor is missing.
    One half past its limit with the other not measured makes the other needed.
    """
    rows = links(rules).together
    groups: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.rule_id in rows:
            groups.setdefault(rows[finding.rule_id].together, []).append(finding)
    settled: dict[str, Finding] = {}
    for members in groups.values():
        outcomes = {f.outcome for f in members}
        if Outcome.WITHIN in outcomes:
            answered = {f.quantity for f in members}
            missing = [m for m in missing if m.quantity is None or m.quantity not in answered]
        if outcomes <= set(PAST):
            continue
        half_past = bool(outcomes & set(PAST)) and Outcome.WITHIN not in outcomes
        for finding in members:
            settled[finding.rule_id] = _alone(finding, half_past=half_past)
            if half_past and finding.outcome is Outcome.NOT_MEASURED:
                missing = [*missing, _other_half(rows[finding.rule_id])]
    return [settled.get(f.rule_id, f) for f in findings], missing


def _alone(finding: Finding, *, half_past: bool) -> Finding:
    if finding.outcome is Outcome.NOT_MEASURED:
        return replace(finding, required=finding.required or half_past)
    if not finding.applies_to_traffic:
        return finding
    said = f"{finding.sentence} It restricts traffic only together with its other half."
    return replace(finding, applies_to_traffic=False, sentence=said)


def _other_half(row: LimitRow) -> Missing:
    why = f"the other half of {row.clause} is past its limit"
    return Missing(row.quantity, row.asks_for, why)
