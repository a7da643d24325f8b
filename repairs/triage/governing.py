"""Which value the answer hangs on: the one whose finding sets traffic, then that of the work."""

from collections.abc import Iterator, Sequence

from repairs.triage.all_sets import RISING
from repairs.triage.decide import Judged, judge
from repairs.triage.decision import Finding
from repairs.triage.disposition import Size
from repairs.triage.facts import Case
from repairs.triage.indexed import links
from repairs.triage.limits import THE_DEFECT
from repairs.triage.rows import ChoiceRow, DefectPart, LimitRow
from repairs.triage.rules import RuleSet
from repairs.triage.traffic import severity
from turnouts.analysis.terms import Quantity

Name = tuple[Quantity | None, DefectPart | None]
"""A value of a case: a quantity that is measured, or a size of the defect."""


def governing_values(case: Case, sets: Sequence[RuleSet]) -> tuple[Name, ...]:
    """The values the answer hangs on, the first of them first; none where nothing is near.

    Of several rule sets the strictest leads, as it does in the answer. The sets are those in force
    on the day. A needed value that nobody measured governs like one that is past its limit.
    """
    judged = [(rules, judge(case, rules)) for rules in sets]
    by_traffic = sorted(judged, key=lambda one: severity(one[1].traffic), reverse=True)
    by_work = sorted(judged, key=lambda one: RISING.index(one[1].choice.disposition), reverse=True)
    found = [name for rules, one in by_traffic for name in _of_traffic(one, rules)]
    found += [name for rules, one in by_work for name in _of_work(one, case, rules)]
    return tuple(dict.fromkeys(found))


def _of_traffic(judged: Judged, rules: RuleSet) -> Iterator[Name]:
    for finding in judged.governing:
        yield from _of_finding(finding, rules)
    for missing in judged.missing:
        if missing.blocks and missing.quantity is not None:
            yield missing.quantity, None


def _of_work(judged: Judged, case: Case, rules: RuleSet) -> Iterator[Name]:
    row = judged.choice.row
    if isinstance(row, LimitRow):
        for finding in judged.findings:
            if finding.rule_id == row.rule:
                yield from _of_finding(finding, rules)
    if not isinstance(row, ChoiceRow) or case.defect is None:
        return
    asked = ((DefectPart.DEPTH, row.depth_over), (DefectPart.LENGTH, row.length_over))
    for part, over in asked:
        if over is not None:
            gauged = Size.of(part, case, case.defect, rules).gauged_by
            yield (gauged, None) if gauged is not None else (None, part)


def _of_finding(finding: Finding, rules: RuleSet) -> Iterator[Name]:
    if finding.reference != THE_DEFECT:
        if finding.quantity is not None:
            yield finding.quantity, None
        return
    row = links(rules).limits.get(finding.rule_id)
    part = DefectPart.LENGTH if row is None else row.defect_part
    if part is not None and finding.limit is not None:
        yield None, part
