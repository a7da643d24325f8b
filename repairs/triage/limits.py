"""Measured values held against the limits in force."""

from dataclasses import dataclass, replace
from decimal import Decimal

from repairs.triage.decision import Effect, Finding, Missing, Outcome
from repairs.triage.exceptions import eased
from repairs.triage.facts import HIGHEST_CLASS, Case
from repairs.triage.rows import Compare, DefectPart, LimitRow
from repairs.triage.rules import RuleSet
from repairs.triage.words import limit_sentence

CLASSES_FROM_THE_TOP = tuple(range(HIGHEST_CLASS, 0, -1))
THE_DEFECT = "the defect as reported"
PAST = (Outcome.NEAR, Outcome.BEYOND)


@dataclass(frozen=True, slots=True)
class Value:
    """A value that answers a limit row, in mm, with where it comes from."""

    mm: Decimal
    uncertainty: Decimal
    reference: str
    at_mm: Decimal | None = None


def judge_limits(
    case: Case, rules: RuleSet, track_class: int | None
) -> tuple[list[Finding], list[Missing]]:
    """Every limit row that speaks of the component, judged, and the readings that are missing."""
    findings, missing = [], []
    for row in rules.limits:
        meant = row.where.speaks_of_component(case.component)
        if meant is not False:
            finding, lacks = _judge(row, case, rules, track_class, known=meant is True)
            findings.append(finding)
            missing += lacks
    return _hold_together(findings, missing, rules)


def values_for(row: LimitRow, case: Case, rules: RuleSet) -> list[Value]:
    """The newest readings of the row's quantity, and the size of the defect where it counts."""
    taken = [r for r in case.readings if r.quantity == row.quantity]
    newest = max((r.taken_on for r in taken), default=None)
    values = [
        Value(r.value, r.uncertainty, r.reference, r.at_mm) for r in taken if r.taken_on == newest
    ]
    size = _size_of_defect(row, case)
    if size is not None and case.defect is not None:
        values.append(Value(size, case.defect.uncertainty_mm, THE_DEFECT))
    if row.extent_of:
        values += _reach(row.extent_of, case, rules)
    return values


def outcome_of(compare: Compare, value: Value, limit: Decimal) -> Outcome:
    """Beyond, near or within; a value nearer to its limit than its uncertainty is near."""
    if not _allowed(compare, value.mm, limit):
        return Outcome.BEYOND
    worst = value.uncertainty if compare is not Compare.NOT_LESS_THAN else -value.uncertainty
    return Outcome.WITHIN if _allowed(compare, value.mm + worst, limit) else Outcome.NEAR


def _allowed(compare: Compare, mm: Decimal, limit: Decimal) -> bool:
    if compare is Compare.NOT_LESS_THAN:
        return mm >= limit
    return mm <= limit if compare is Compare.NOT_MORE_THAN else mm < limit


def _size_of_defect(row: LimitRow, case: Case) -> Decimal | None:
    if case.defect is None or row.from_defect is None:
        return None
    if not row.from_defect.speaks_of_defect(case.defect):
        return None
    deep = row.defect_part is DefectPart.DEPTH
    return case.defect.depth_mm if deep else case.defect.length_mm


def _reach(depth_rule: str, case: Case, rules: RuleSet) -> list[Value]:
    """How far back a depth still past its limit was found: a length that needs no reading."""
    row = next((r for r in rules.limits if r.rule == depth_rule), None)
    if row is None:
        return []
    return [
        Value(v.at_mm, Decimal(0), v.reference)
        for v in values_for(row, case, rules)
        if v.at_mm is not None and outcome_of(row.compare, v, row.limit_for(1)) in PAST
    ]


def _judge(
    row: LimitRow, case: Case, rules: RuleSet, track_class: int | None, *, known: bool
) -> tuple[Finding, list[Missing]]:
    easing = eased(row, case, rules, track_class or HIGHEST_CLASS)
    head = _blank(row, case, easing.clause)
    if easing.lifted:
        said = f"{row.title}: no limit here ({easing.clause})."
        return replace(head, outcome=Outcome.NOT_APPLICABLE, sentence=said, required=False), []
    value = _worst(row, values_for(row, case, rules))
    if value is None or _too_far_back(row, value, rules):
        return _unanswered(row, head, case, known=known)
    outcome = outcome_of(row.compare, value, easing.limit)
    signed = value.mm - easing.limit
    finding = replace(
        head,
        outcome=outcome,
        sentence=limit_sentence(
            row, easing.clause, value.mm, easing.limit, outcome, value.uncertainty
        ),
        measured=value.mm,
        limit=easing.limit,
        margin_mm=signed if row.compare is Compare.NOT_LESS_THAN else -signed,
        uncertainty_mm=value.uncertainty,
        reference=value.reference,
        class_met=_class_met(row, value, case, rules) if row.effect is Effect.CLASS else None,
        applies_to_traffic=outcome in PAST,
    )
    if outcome not in PAST:
        return finding, []
    return finding, [*easing.missing, *([] if known else [_design_asked(row, case, blocks=False)])]


def _blank(row: LimitRow, case: Case, clause: str) -> Finding:
    return Finding(
        rule_id=row.rule,
        row_start=row.start,
        clause=clause,
        title=row.title,
        source=row.source,
        checked=row.checked,
        outcome=Outcome.NOT_MEASURED,
        sentence="",
        effect=row.effect,
        quantity=row.quantity,
        cap_mph=row.cap_mph,
        required=row.needed_for is not None
        and row.needed_for.speaks_of_defect(case.defect) is True,
    )


def _worst(row: LimitRow, values: list[Value]) -> Value | None:
    if row.compare is Compare.NOT_LESS_THAN:
        return min(values, key=lambda v: v.mm - v.uncertainty, default=None)
    return max(values, key=lambda v: v.mm + v.uncertainty, default=None)


def _too_far_back(row: LimitRow, value: Value, rules: RuleSet) -> bool:
    """Whether a shallow depth was taken only behind the stretch the law asks about."""
    back = next((r for r in rules.limits if r.extent_of == row.rule), None)
    if back is None or value.at_mm is None or value.at_mm <= back.limit_for(1):
        return False
    return outcome_of(row.compare, value, row.limit_for(1)) is Outcome.WITHIN


def _unanswered(
    row: LimitRow, head: Finding, case: Case, *, known: bool
) -> tuple[Finding, list[Missing]]:
    finding = replace(head, sentence=f"{row.title}: not measured ({row.clause}).")
    if not head.required:
        return finding, []
    why = f"{row.clause} sets a limit on it"
    if not known:
        return finding, [_design_asked(row, case, blocks=True)]
    what = row.quantity.label.lower() if row.quantity else f"{row.defect_part} of the defect"
    return finding, [Missing(row.quantity, what, why)]


def _design_asked(row: LimitRow, case: Case, *, blocks: bool) -> Missing:
    """A part of unknown design or steel is judged as if the row spoke of it."""
    what = f"the design and steel of the {case.component.kind.label.lower()}"
    return Missing(None, what, f"{row.clause} may or may not apply to it", blocks)


def _class_met(row: LimitRow, value: Value, case: Case, rules: RuleSet) -> int:
    for track_class in CLASSES_FROM_THE_TOP:
        easing = eased(row, case, rules, track_class)
        if easing.lifted or outcome_of(row.compare, value, easing.limit) is Outcome.WITHIN:
            return track_class
    return 0


def _hold_together(
    findings: list[Finding], missing: list[Missing], rules: RuleSet
) -> tuple[list[Finding], list[Missing]]:
    """Rows that trigger only together: one that is within lets the others pass and be missing."""
    group_of = {row.rule: row.together for row in rules.limits if row.together}
    groups: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.rule_id in group_of:
            groups.setdefault(group_of[finding.rule_id], []).append(finding)
    eased_rules: set[str] = set()
    for members in groups.values():
        outcomes = {f.outcome for f in members}
        if Outcome.WITHIN in outcomes or not outcomes <= set(PAST):
            eased_rules |= {f.rule_id for f in members}
        if Outcome.WITHIN in outcomes:
            answered = {f.quantity for f in members}
            missing = [m for m in missing if m.quantity is None or m.quantity not in answered]
    return [
        replace(f, applies_to_traffic=False, sentence=_only_together(f))
        if f.rule_id in eased_rules and f.applies_to_traffic
        else f
        for f in findings
    ], missing


def _only_together(finding: Finding) -> str:
    return f"{finding.sentence} It restricts traffic only together with its other half."
