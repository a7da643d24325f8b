"""Measured values held against the limits in force."""

from dataclasses import dataclass
from decimal import Decimal

from repairs.triage.decision import Effect, Finding, Missing, Outcome
from repairs.triage.exceptions import Easing, eased
from repairs.triage.facts import EXCEPTED, HIGHEST_CLASS, Case
from repairs.triage.indexed import links, rows_on
from repairs.triage.rows import Compare, DefectPart, LimitRow
from repairs.triage.rules import RuleSet
from repairs.triage.together import PAST, hold_together
from repairs.triage.words import limit_sentence

CLASSES_FROM_THE_TOP = tuple(range(HIGHEST_CLASS, 0, -1))
THE_DEFECT = "the defect as reported"


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
    for row, known in rows_on(rules, case).limits:
        finding, lacks = judge_limit(row, case, rules, track_class, known=known)
        findings.append(finding)
        missing += lacks
    return hold_together(findings, missing, rules)


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


def limit_on(row: LimitRow, case: Case, rules: RuleSet, track_class: int | None) -> Decimal:
    """The limit in mm that a row sets for the case; the highest class's where none is known."""
    return _easing(row, case, rules, track_class).limit


def _easing(row: LimitRow, case: Case, rules: RuleSet, track_class: int | None) -> Easing:
    excepted = case.track.track_class == EXCEPTED and EXCEPTED in row.by_class
    return eased(row, case, rules, EXCEPTED if excepted else track_class or HIGHEST_CLASS)


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
    row = links(rules).limits.get(depth_rule)
    if row is None:
        return []
    return [
        Value(v.at_mm, Decimal(0), v.reference)
        for v in values_for(row, case, rules)
        if v.at_mm is not None and outcome_of(row.compare, v, row.limit_for(1)) in PAST
    ]


def judge_limit(
    row: LimitRow, case: Case, rules: RuleSet, track_class: int | None, *, known: bool = True
) -> tuple[Finding, list[Missing]]:
    """One limit row held against the case, before rows that only count together are settled.

    ``known`` is false where nobody recorded whether the component is one the row speaks of.
    """
    easing = _easing(row, case, rules, track_class)
    if easing.lifted:
        said = f"{row.title}: no limit here ({easing.clause})."
        return _finding(row, case, rules, easing.clause, Outcome.NOT_APPLICABLE, said), []
    value = _worst(row, values_for(row, case, rules))
    if value is None or _too_far_back(row, value, rules):
        said = f"{row.title}: not measured ({row.clause})."
        finding = _finding(row, case, rules, row.clause, Outcome.NOT_MEASURED, said)
        return finding, [_asked(row, case, known=known)] if finding.required else []
    outcome = outcome_of(row.compare, value, easing.limit)
    said = limit_sentence(row, easing.clause, value.mm, easing.limit, outcome, value.uncertainty)
    class_met = _class_met(row, value, case, rules) if row.effect is Effect.CLASS else None
    finding = _finding(
        row, case, rules, easing.clause, outcome, said, value, easing.limit, class_met
    )
    if outcome not in PAST:
        return finding, []
    return finding, [*easing.missing, *([] if known else [_design_asked(row, case, blocks=False)])]


def _finding(
    row: LimitRow,
    case: Case,
    rules: RuleSet,
    clause: str,
    outcome: Outcome,
    sentence: str,
    value: Value | None = None,
    limit: Decimal | None = None,
    met: int | None = None,
) -> Finding:
    over = value.mm - limit if value is not None and limit is not None else None
    needed = row.needed_for is not None and row.needed_for.speaks_of_defect(case.defect) is True
    return Finding(
        rule_id=row.rule,
        row_start=row.start,
        clause=clause,
        title=row.title,
        source=row.source,
        checked=row.checked,
        outcome=outcome,
        sentence=sentence,
        effect=row.effect,
        quantity=row.quantity,
        measured=None if value is None else value.mm,
        limit=limit,
        margin_mm=over if over is None or row.compare is Compare.NOT_LESS_THAN else -over,
        uncertainty_mm=None if value is None else value.uncertainty,
        reference="" if value is None else value.reference,
        class_met=met,
        cap_mph=row.cap_mph,
        applies_to_traffic=outcome in PAST,
        required=needed and outcome is not Outcome.NOT_APPLICABLE,
        rule_set=rules.id,
        checked_note=row.checked_note,
    )


def _worst(row: LimitRow, values: list[Value]) -> Value | None:
    if row.compare is Compare.NOT_LESS_THAN:
        return min(values, key=lambda v: v.mm - v.uncertainty, default=None)
    return max(values, key=lambda v: v.mm + v.uncertainty, default=None)


def _too_far_back(row: LimitRow, value: Value, rules: RuleSet) -> bool:
    """Whether a shallow depth was taken only behind the stretch the law asks about."""
    back = links(rules).reach_of.get(row.rule)
    if back is None or value.at_mm is None or value.at_mm <= back.limit_for(1):
        return False
    return outcome_of(row.compare, value, row.limit_for(1)) is Outcome.WITHIN


def _asked(row: LimitRow, case: Case, *, known: bool) -> Missing:
    if not known:
        return _design_asked(row, case, blocks=True)
    return Missing(row.quantity, row.asks_for, f"{row.clause} sets a limit on it")


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
