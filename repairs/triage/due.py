"""By when: the earliest date that a rule sets, counted from the day of the report."""

from datetime import date, timedelta

from repairs.triage.decision import Finding, Traffic
from repairs.triage.facts import Case
from repairs.triage.rows import DueRow
from repairs.triage.rules import RuleSet
from turnouts.analysis.terms import Disposition


def due(
    case: Case,
    traffic: Traffic,
    disposition: Disposition,
    findings: list[Finding],
    rules: RuleSet,
) -> tuple[date, str, DueRow | None]:
    """The due date, what sets it, and its row; LookupError when no row sets one."""
    set_by: list[tuple[int, str, DueRow | None]] = [
        (row.days, f"{row.says} ({row.clause})", row)
        for row in rules.due
        if _speaks(row, case, traffic, disposition)
    ]
    set_by += [(f.due_days, f.sentence, None) for f in findings if f.due_days is not None]
    if not set_by:
        raise LookupError(
            f"{rules.title}: no [[due]] row fits {disposition.value} with traffic "
            f"{traffic.kind.value}. Add one."
        )
    days, reason, row = min(set_by, key=lambda item: item[0])
    return case.reported_on + timedelta(days=days), reason, row


def _speaks(row: DueRow, case: Case, traffic: Traffic, disposition: Disposition) -> bool:
    """Whether the row is meant; a class nobody recorded is taken as any that the row names."""
    track_class = case.track.track_class
    return (
        (not row.dispositions or disposition in row.dispositions)
        and (not row.traffic or traffic.kind in row.traffic)
        and (not row.classes or track_class is None or track_class in row.classes)
    )
