"""Rules on what is seen rather than gauged, and the rail defect table."""

from dataclasses import replace
from decimal import Decimal

from repairs.triage.decision import Effect, Finding, Missing, Outcome
from repairs.triage.facts import Case, DefectFacts
from repairs.triage.limits import THE_DEFECT
from repairs.triage.rows import ActionRow, ConditionRow, RailDefectRow, Row
from repairs.triage.rules import RuleSet
from repairs.triage.words import joined, said_length

Judged = tuple[list[Finding], list[Missing]]


def judge_conditions(case: Case, rules: RuleSet) -> Judged:
    """Every condition row that speaks of the defect on this component."""
    findings: list[Finding] = []
    missing: list[Missing] = []
    for row in rules.conditions:
        if case.defect is None or row.where.speaks_of_defect(case.defect) is not True:
            continue
        meant = row.where.speaks_of_component(case.component)
        if meant is False or (row.reaches_base and case.defect.reaches_base is False):
            continue
        finding, lacks = _condition(row, case.defect, known=meant is True)
        findings.append(finding)
        missing += lacks
    return findings, missing


def judge_rail_defects(case: Case, rules: RuleSet, track_class: int | None) -> Judged:
    """The line of the rail defect table for the defect, with its remedial actions."""
    defect = case.defect
    if defect is None:
        return [], []
    lines = [
        row
        for row in rules.rail_defects
        if row.where.speaks_of_component(case.component) and row.where.speaks_of_defect(defect)
    ]
    sized = [row for row in lines if row.over is not None or row.up_to is not None]
    if sized and defect.length_mm is None:
        what = f"the length of the {defect.kind.label.lower()}"
        unmeasured = _head(sized[0], Effect.JUDGE, f"{sized[0].clause}: {what} is not recorded.")
        return [unmeasured], [Missing(None, what, f"{sized[0].clause} goes by it")]
    return [_rail_defect(row, case, rules, track_class) for row in lines if _fits(row, defect)], []


def _head(row: Row, effect: Effect, sentence: str) -> Finding:
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
    )


def _condition(
    row: ConditionRow, defect: DefectFacts, *, known: bool
) -> tuple[Finding, list[Missing]]:
    said = f"{row.says[0].upper()}{row.says[1:]} ({row.clause})."
    head = _head(row, row.effect, said)
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


def _fits(row: RailDefectRow, defect: DefectFacts) -> bool:
    if row.over is None and row.up_to is None:
        return True
    longest = (defect.length_mm or Decimal(0)) + defect.uncertainty_mm
    above = row.over is None or longest > row.over
    return above and (row.up_to is None or longest <= row.up_to)


def _rail_defect(
    row: RailDefectRow, case: Case, rules: RuleSet, track_class: int | None
) -> Finding:
    actions = [_action(letter, case, rules) for letter in row.actions]
    caps = [
        a.cap_mph
        for a in actions
        if a.cap_mph is not None and (track_class is None or track_class in a.capped_classes)
    ]
    stops = any(a.effect is Effect.STOP for a in actions)
    said = joined([a.says for a in actions])
    length = case.defect.length_mm if case.defect is not None else None
    near = row.over is not None and length is not None and length <= row.over
    size = f" {said_length(length)} long" if length is not None and row.over is not None else ""
    head = _head(
        row,
        Effect.STOP if stops else Effect.JUDGE,
        f"{row.title}{size}: {said} ({row.clause}, {_letters(actions)}).",
    )
    return replace(
        head,
        outcome=Outcome.NEAR if near else Outcome.BEYOND,
        measured=length,
        limit=row.over,
        margin_mm=row.over - length if row.over is not None and length is not None else None,
        uncertainty_mm=case.defect.uncertainty_mm if case.defect is not None else None,
        reference=THE_DEFECT,
        cap_mph=min(caps, default=None),
        due_days=min((a.days for a in actions if a.days is not None), default=None),
        applies_to_traffic=True,
    )


def _letters(actions: list[ActionRow]) -> str:
    return f"action {'+'.join(a.letter for a in actions)}"


def _action(letter: str, case: Case, rules: RuleSet) -> ActionRow:
    """The action of a letter, or the one that stands in where joint bars cannot be fitted."""
    action = next(row for row in rules.actions if row.letter == letter)
    if case.component.kind in action.instead_for:
        return next(row for row in rules.actions if row.letter == action.instead)
    return action
