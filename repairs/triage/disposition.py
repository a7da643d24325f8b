"""Watch, grind, adjust, weld in track, weld in the shop or replace."""

from dataclasses import dataclass
from decimal import Decimal

from repairs.triage.decision import Finding, Missing
from repairs.triage.facts import Case
from repairs.triage.limits import PAST, values_for
from repairs.triage.rows import ChoiceRow, DefectPart, LimitRow, Row
from repairs.triage.rules import RuleSet
from turnouts.analysis.terms import Disposition

ORDER = (
    Disposition.WATCH,
    Disposition.GRIND,
    Disposition.ADJUST,
    Disposition.WELD_IN_TRACK,
    Disposition.WELD_IN_SHOP,
    Disposition.REPLACE,
)
"""From the mildest to the most; measure first stands outside it."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A disposition with its reason, the row behind it, and what has to be measured for it."""

    disposition: Disposition
    reason: str
    row: Row | None = None
    missing: tuple[Missing, ...] = ()
    also: tuple[str, ...] = ()


def choose(case: Case, findings: list[Finding], rules: RuleSet, *, unanswered: bool) -> Choice:
    """The disposition: by the defect, raised by any limit that is missed.

    ``unanswered`` says that a reading the traffic answer needs is missing; nothing is then left to
    be merely watched.
    """
    by_law = [_by_finding(f, rules) for f in findings if f.outcome in PAST]
    remedies = [choice for choice in by_law if choice is not None]
    by_defect = _by_defect(case, rules)
    replaced = [c for c in remedies if c.disposition is Disposition.REPLACE]
    if replaced:
        return replaced[0]
    if by_defect is not None and by_defect.disposition is Disposition.MEASURE_FIRST:
        return _with_also(by_defect, remedies)
    candidates = ([by_defect] if by_defect is not None else []) + remedies
    if not candidates:
        return _nothing_found(unanswered)
    chosen = max(candidates, key=lambda c: ORDER.index(c.disposition))
    if unanswered and chosen.disposition is Disposition.WATCH:
        return _nothing_found(unanswered)
    return _with_also(chosen, remedies)


def _nothing_found(unanswered: bool) -> Choice:
    if unanswered:
        return Choice(Disposition.MEASURE_FIRST, "readings that the rules ask for are missing")
    return Choice(Disposition.WATCH, "every limit that was measured is met")


def _with_also(chosen: Choice, remedies: list[Choice]) -> Choice:
    """The choice with the other work that limits ask for, such as setting the guard rail."""
    others = {c.reason for c in remedies if c.disposition is not chosen.disposition}
    return Choice(
        chosen.disposition, chosen.reason, chosen.row, chosen.missing, tuple(sorted(others))
    )


def _by_finding(finding: Finding, rules: RuleSet) -> Choice | None:
    if finding.disposition is not None:
        row = next((r for r in rules.conditions if r.rule == finding.rule_id), None)
        return Choice(finding.disposition, finding.sentence.rstrip("."), row)
    limit = next((r for r in rules.limits if r.rule == finding.rule_id), None)
    if limit is None or not finding.applies_to_traffic:
        return None
    return Choice(limit.remedy, limit.remedy_says, limit)


def _by_defect(case: Case, rules: RuleSet) -> Choice | None:
    defect = case.defect
    if defect is None:
        return None
    depth = _depth(case, rules)
    for row in rules.choices:
        if defect.kind not in (row.where.kinds or (defect.kind,)):
            continue  # most rows are of another kind; asking them all costs half the time
        answers = _answers(row, case, depth)
        if False in answers.values():
            continue
        asked = [what for what, answer in answers.items() if answer is None]
        if asked:
            missing = tuple(Missing(None, what, f"{row.title.lower()}?") for what in asked)
            reason = f"whether it is to be {row.disposition.label.lower()} goes by what is missing"
            return Choice(Disposition.MEASURE_FIRST, reason, row, missing)
        return Choice(row.disposition, row.says, row)
    return Choice(
        Disposition.MEASURE_FIRST,
        "no line of the railway's choices speaks of this; the engineer decides",
    )


def _answers(row: ChoiceRow, case: Case, depth: Decimal | None) -> dict[str, bool | None]:
    """What a line asks, each with its answer; ``None`` where the fact is not recorded."""
    defect = case.defect
    assert defect is not None  # noqa: S101 - asked for a defect only
    kind = defect.kind.label.lower()
    return {
        "the design and steel of the component": row.where.speaks_of_component(case.component),
        f"the orientation of the {kind}": row.where.speaks_of_defect(defect),
        f"whether the {kind} reaches the base": (
            True if row.reaches_base is None else defect.reaches_base
        ),
        f"the depth of the {kind}": _over(depth, row.depth_over),
        f"the length of the {kind}": _over(defect.length_mm, row.length_over),
        "earlier welds": _over(case.component.earlier_welds_here, row.earlier_welds_over),
    }


def _over(value: Decimal | int | None, least: Decimal | int | None) -> bool | None:
    if least is None:
        return True
    return None if value is None else value > least


def _depth(case: Case, rules: RuleSet) -> Decimal | None:
    """The deepest of the reported depth and the gauged wear that counts for the same place."""
    assert case.defect is not None  # noqa: S101 - asked for a defect only
    depths = [] if case.defect.depth_mm is None else [case.defect.depth_mm]
    for row in rules.limits:
        if _gauges_the_defect(row, case):
            depths += [value.mm for value in values_for(row, case, rules)]
    return max(depths, default=None)


def _gauges_the_defect(row: LimitRow, case: Case) -> bool:
    return (
        row.defect_part is DefectPart.DEPTH
        and row.from_defect is not None
        and row.from_defect.speaks_of_defect(case.defect) is True
        and row.where.speaks_of_component(case.component) is not False
    )
