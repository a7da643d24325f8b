"""The rail defect table: the line a defect falls in, and the remedial actions of that line."""

from dataclasses import replace
from decimal import Decimal

from repairs.triage.conditions import Judged, head_of
from repairs.triage.decision import Effect, Finding, Missing, Outcome
from repairs.triage.facts import Case, DefectFacts
from repairs.triage.indexed import rows_on
from repairs.triage.limits import THE_DEFECT
from repairs.triage.rail_rows import ActionRow, RailDefectRow
from repairs.triage.rules import RuleSet
from repairs.triage.words import joined, said_length


def judge_rail_defects(case: Case, rules: RuleSet, track_class: int | None) -> Judged:
    """Every line of the table that the defect falls in, and what has to be known to tell."""
    defect = case.defect
    if defect is None:
        return [], []
    lines = [row for row, _ in rows_on(rules, case).rail_defects if _is_meant(row, defect)]
    findings = [_rail_defect(row, case, rules, track_class) for row in lines if _fits(row, defect)]
    asked = _asked(lines, defect, rules)
    return [*findings, *(finding for finding, _ in asked)], [missing for _, missing in asked]


def _is_meant(row: RailDefectRow, defect: DefectFacts) -> bool:
    """Whether the line may be about the defect; a direction nobody recorded rules none out."""
    if (row.flaws and defect.flaw not in row.flaws) or (row.damaged and defect.damaged is not True):
        return False
    return row.where.speaks_of_defect(defect) is not False


def _asked(
    lines: list[RailDefectRow], defect: DefectFacts, rules: RuleSet
) -> list[tuple[Finding, Missing]]:
    """One finding and one question for each fact that lines go by and nobody recorded."""
    kind = defect.kind.label.lower()
    unknown = {
        f"the length of the {kind}": [r for r in lines if _by_length(r)]
        if defect.length_mm is None
        else [],
        f"whether the {kind} has run into the head or broken a piece out of it": [
            r for r in lines if r.heads
        ]
        if defect.head is None
        else [],
        "the flaw's share of the head, by a rail test": [
            r for r in lines if r.share_from is not None
        ]
        if defect.head_share_percent is None
        else [],
        f"the orientation of the {kind}": [
            r for r in lines if r.where.speaks_of_defect(defect) is None
        ],
    }
    return [
        (
            head_of(rows[0], rules, Effect.JUDGE, f"{rows[0].clause}: {what} is not recorded."),
            Missing(None, what, f"{rows[0].clause} goes by it"),
        )
        for what, rows in unknown.items()
        if rows
    ]


def _by_length(row: RailDefectRow) -> bool:
    return row.over is not None or row.up_to is not None


def _fits(row: RailDefectRow, defect: DefectFacts) -> bool:
    if row.heads and defect.head not in row.heads:
        return False
    if row.share_from is not None:
        share = defect.head_share_percent
        under = row.share_under
        return share is not None and share >= row.share_from and (under is None or share < under)
    if not _by_length(row):
        return True
    if defect.length_mm is None:
        return False
    longest = defect.length_mm + defect.uncertainty_mm
    above = row.over is None or longest > row.over
    return above and (row.up_to is None or longest <= row.up_to)


def _rail_defect(
    row: RailDefectRow, case: Case, rules: RuleSet, track_class: int | None
) -> Finding:
    actions = _actions(row.actions, case, rules)
    caps = [
        a.cap_mph
        for a in actions
        if a.cap_mph is not None and (track_class is None or track_class in a.capped_classes)
    ]
    finding = head_of(
        row,
        rules,
        Effect.STOP if any(a.effect is Effect.STOP for a in actions) else Effect.JUDGE,
        f"{row.title}{_size(row, case.defect)}: {_said(row, actions, case, rules)}",
    )
    finding = replace(
        finding,
        outcome=Outcome.BEYOND,
        cap_mph=min(caps, default=None),
        due_days=min((a.days for a in actions if a.days is not None), default=None),
        applies_to_traffic=True,
    )
    return _with_length(finding, row, case.defect)


def _said(row: RailDefectRow, actions: list[ActionRow], case: Case, rules: RuleSet) -> str:
    """What the line asks for; where the law leaves a choice both, and which holds until then."""
    first = joined([a.says for a in actions])
    note = f" {row.note}" if row.note else ""
    others = _actions(row.or_actions, case, rules)
    if not others:
        return f"{first} ({row.clause}, {_letters(actions)}).{note}"
    other = joined([a.says for a in others])
    return (
        f"either {first}, or {other} ({row.clause}, {_letters(actions)} or {_letters(others)}). "
        f"The first and stricter holds until a qualified person chooses the other.{note}"
    )


def _size(row: RailDefectRow, defect: DefectFacts | None) -> str:
    if defect is None:
        return ""
    if row.share_from is not None:
        return f", {defect.head_share_percent} % of the head"
    measured = row.over is not None and defect.length_mm is not None
    return f", {said_length(defect.length_mm)} long" if measured and defect.length_mm else ""


def _with_length(finding: Finding, row: RailDefectRow, defect: DefectFacts | None) -> Finding:
    """The finding with the length beside the bound it is over, where the line has one."""
    length: Decimal | None = defect.length_mm if defect is not None else None
    if defect is None or length is None:
        return finding
    near = row.over is not None and length <= row.over
    doubt = (
        f" It is under this line by no more than its uncertainty of "
        f"{said_length(defect.uncertainty_mm)}, so the harder line is taken."
    )
    return replace(
        finding,
        sentence=f"{finding.sentence}{doubt}" if near else finding.sentence,
        outcome=Outcome.NEAR if near else Outcome.BEYOND,
        measured=length,
        limit=row.over,
        margin_mm=None if row.over is None else row.over - length,
        uncertainty_mm=defect.uncertainty_mm,
        reference=THE_DEFECT,
    )


def _letters(actions: list[ActionRow]) -> str:
    return f"action {'+'.join(a.letter for a in actions)}"


def _actions(letters: tuple[str, ...], case: Case, rules: RuleSet) -> list[ActionRow]:
    """The actions of a line. Where joint bars cannot be fitted another governs in their place."""
    by_letter = {row.letter: row for row in rules.actions}
    actions = [by_letter[letter] for letter in letters]
    instead = [by_letter[a.instead] for a in actions if case.component.kind in a.instead_for]
    return instead or actions
