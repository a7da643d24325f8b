"""Watch, grind, adjust, weld in track, weld in the shop or replace."""

from dataclasses import dataclass
from decimal import Decimal

from repairs.triage.decision import Finding, Missing
from repairs.triage.facts import Case, DefectFacts
from repairs.triage.indexed import links, rows_on
from repairs.triage.limits import values_for
from repairs.triage.rows import ChoiceRow, DefectPart, LimitRow, Row
from repairs.triage.rules import RuleSet
from repairs.triage.together import PAST
from turnouts.analysis.terms import Disposition, Quantity

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
        return _with_also(replaced[0], remedies)
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
    measuring = chosen.disposition is Disposition.MEASURE_FIRST
    others = {
        c.reason
        for c in remedies
        if c.disposition is not chosen.disposition
        and (measuring or c.disposition is Disposition.ADJUST)
    }
    return Choice(
        chosen.disposition, chosen.reason, chosen.row, chosen.missing, tuple(sorted(others))
    )


def _by_finding(finding: Finding, rules: RuleSet) -> Choice | None:
    if finding.disposition is not None:
        row = links(rules).conditions.get(finding.rule_id)
        return Choice(finding.disposition, finding.sentence.rstrip("."), row)
    limit = links(rules).limits.get(finding.rule_id)
    if limit is None or not finding.applies_to_traffic:
        return None
    return Choice(limit.remedy, limit.remedy_says, limit)


def _by_defect(case: Case, rules: RuleSet) -> Choice | None:
    defect = case.defect
    if defect is None:
        return None
    depth = Size.of(DefectPart.DEPTH, case, defect, rules)
    length = Size.of(DefectPart.LENGTH, case, defect, rules)
    for row, known in rows_on(rules, case).choices:
        answers = _answers(row, case, defect, depth.mm, length.mm, known=known)
        if False in answers:
            continue
        if None in answers:
            asks = zip(answers, _asks(case, defect, depth, length), strict=True)
            asked = [
                Missing(*ask, row.title, blocks=False) for answer, ask in asks if answer is None
            ]
            reason = f"{row.disposition.label.lower()} or not goes by what is missing"
            return Choice(Disposition.MEASURE_FIRST, reason, row, tuple(asked))
        return Choice(row.disposition, row.says, row)
    reason = "no line of the railway's choices speaks of this; the engineer decides"
    return Choice(Disposition.MEASURE_FIRST, reason)


@dataclass(frozen=True, slots=True)
class Size:
    """A size of the defect in mm, reported or gauged, and what to ask for where there is none.

    ``gauged_by`` is the quantity whose reading is the largest, ``None`` where the report's is.
    """

    mm: Decimal | None
    ask: tuple[Quantity | None, str]
    gauged_by: Quantity | None = None

    @staticmethod
    def of(part: DefectPart, case: Case, defect: DefectFacts, rules: RuleSet) -> "Size":
        """The largest of the reported size and the readings that gauge the same place."""
        gauges = [row for row, _ in rows_on(rules, case).limits if _gauges(row, part, defect)]
        reported = defect.depth_mm if part is DefectPart.DEPTH else defect.length_mm
        mm, gauged_by = reported, None
        for row in gauges:
            for value in values_for(row, case, rules):
                if mm is None or value.mm > mm:
                    mm, gauged_by = value.mm, row.quantity
        ask: tuple[Quantity | None, str] = (None, f"the {part} of the {defect.kind.label.lower()}")
        for row in gauges:
            if row.quantity is not None:
                ask = row.quantity, row.quantity.label.lower()
        return Size(mm, ask, gauged_by)


def _answers(
    row: ChoiceRow,
    case: Case,
    defect: DefectFacts,
    depth: Decimal | None,
    length: Decimal | None,
    *,
    known: bool,
) -> tuple[bool | None, ...]:
    """What a line asks, answered in turn; ``None`` where the fact is not recorded.

    ``known`` is false where the component may or may not be one the line speaks of.
    """
    most_welds = row.earlier_welds_over
    return (
        True if known else None,
        row.where.speaks_of_defect(defect),
        True if row.reaches_base is None else defect.reaches_base,
        True if row.reaches_edge is None else defect.reaches_edge,
        _over(depth, row.depth_over),
        _over(length, row.length_over),
        most_welds is None or case.component.earlier_welds_here > most_welds,
        _where_known(row, defect, depth),
    )


def _where_known(row: ChoiceRow, defect: DefectFacts, depth: Decimal | None) -> bool:
    """What a line asks of facts that are seldom recorded: it fits only where they are known."""
    if row.access is not None and defect.access is not row.access:
        return False
    left, skin = defect.metal_left_mm, defect.hardened_mm
    left = None if left is None else left - defect.uncertainty_mm
    if row.left_under is not None and (left is None or left >= row.left_under):
        return False
    return not row.through_skin or (depth is not None and skin is not None and depth >= skin)


def _asks(
    case: Case, defect: DefectFacts, depth: Size, length: Size
) -> tuple[tuple[Quantity | None, str], ...]:
    """What to fetch for each answer that is ``None``, in the same order."""
    kind = defect.kind.label.lower()
    return (
        (None, f"the design and steel of the {case.component.kind.label.lower()}"),
        (None, f"the orientation of the {kind}"),
        (None, f"whether the {kind} reaches the base"),
        (None, f"whether the {kind} runs out at an edge"),
        depth.ask,
        length.ask,
        (None, "the number of earlier welds"),
        (None, "what is left of the part"),
    )


def _over(value: Decimal | None, least: Decimal | None) -> bool | None:
    if least is None:
        return True
    return None if value is None else value > least


def _gauges(row: LimitRow, part: DefectPart, defect: DefectFacts) -> bool:
    return (
        row.defect_part is part
        and row.from_defect is not None
        and row.from_defect.speaks_of_defect(defect) is True
    )
