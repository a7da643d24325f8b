"""What a proposed rule would change: all open defects judged by the present and the new rules."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from repairs.models import OwnerRule
from repairs.services.facts import cases_for
from repairs.services.plain import as_json
from repairs.services.second_person import (
    PREVIEW,
    Proposed,
    asked_of,
    proposal_of,
    require_for,
    standing_rules,
)
from repairs.services.territory_rules import Sets, applying, approved_rules, laid_over, set_names
from repairs.services.triage import JUDGED
from repairs.triage.all_sets import decide_all
from repairs.triage.compare import compare
from repairs.triage.decision import Decision
from repairs.triage.facts import Case
from repairs.triage.traffic import severity
from turnouts.models import Defect, LongRun, Person
from turnouts.services.errors import Conflict
from turnouts.services.runs import Progress, start_run

PREVIEW_TASK = "repairs.rule_preview"
BATCH = 500
LISTED = 500
"""Changes kept with the run one by one; all of them are counted."""


@dataclass(frozen=True)
class Answer:
    """An answer in short, as the list shows it."""

    traffic: str
    mph: str
    passenger_mph: str | None
    disposition: str
    due_on: date


def request_preview(*, by: Person, rule: Proposed, on: date, request_key: str) -> LongRun:
    """Queue the judging of the open defects that a proposed rule would speak of."""
    require_for(by, rule.territory)
    if rule.state != "proposed":
        raise Conflict(f"This rule is {rule.get_state_display().lower()} already.")
    asked = {**asked_of(rule), "on": on.isoformat()}
    run, _ = start_run(kind=PREVIEW, request_key=request_key, by=by, asked=asked, task=PREVIEW_TASK)
    return run


def carry_out_preview(run: LongRun, progress: Progress) -> dict[str, Any]:
    """Judge twice, write nothing but the run's own result."""
    rule = proposal_of(run)
    today = date.fromisoformat(run.asked["on"])
    # A rule that begins later is looked at on the day it will begin.
    starts_on = rule.starts_on if isinstance(rule, OwnerRule) else today
    return preview(rule, max(today, starts_on), progress)


def preview(rule: Proposed, on: date, progress: Progress) -> dict[str, Any]:
    """Counts, and the first changes one by one, of the rule as from ``on``."""
    ids, standing = _open_defects(rule), standing_rules(rule)
    pairs = _Pairs(rule, approved_rules())
    counts: Counter[str] = Counter()
    listed: list[dict[str, Any]] = []
    for start in range(0, len(ids), BATCH):
        rows = list(Defect.objects.with_place().filter(pk__in=ids[start : start + BATCH]))
        pairs.read(rows)
        for row, case in zip(rows, cases_for(rows, on), strict=True):
            changed = _changed(case, *pairs.of(row), row_by_row=isinstance(rule, OwnerRule))
            if changed is not None:
                counts.update(changed["ways"])
                counts["changed"] += 1
                if len(listed) < LISTED:
                    listed.append({"defect": row.reference, **changed})
        progress(start + len(rows), len(ids), "Judging defects by both")
    return {
        "on": on.isoformat(),
        "looked_at": len(ids),
        "standing": standing,
        **{name: counts[name] for name in ("changed", *WAYS)},
        "listed": listed,
    }


WAYS = ("stricter", "milder", "disposition", "due")


def _open_defects(rule: Proposed) -> list[int]:
    rows = Defect.objects.filter(state__in=JUDGED)
    if rule.territory_id is not None:
        rows = rows.filter(turnout__track__line__territory=rule.territory_id)
    return list(rows.order_by("turnout_id", "pk").values_list("pk", flat=True))


class _Pairs:
    """The sets before and after, by territory."""

    def __init__(self, rule: Proposed, approved: Sequence[OwnerRule]) -> None:
        self.rule = rule
        self.approved = approved
        self.found: dict[int, tuple[Sets, Sets]] = {}

    def read(self, rows: Sequence[Defect]) -> None:
        new = {row.turnout.territory.pk for row in rows} - set(self.found)
        for territory, names in set_names(new).items():
            own = applying(self.approved, territory)
            self.found[territory] = laid_over(names, own), self._after(names, own)

    def _after(self, names: Sequence[str], own: Sequence[OwnerRule]) -> Sets:
        if isinstance(self.rule, OwnerRule):
            return laid_over(names, [*own, self.rule])
        return laid_over(self.rule.names, own)

    def of(self, row: Defect) -> tuple[Sets, Sets]:
        return self.found[row.turnout.territory.pk]


def _changed(case: Case, before: Sets, after: Sets, *, row_by_row: bool) -> dict[str, Any] | None:
    """Old, new and why, where the answer that stands becomes another; ``None`` where it does not.

    ``row_by_row`` where the sets are the same but for some rows: where then no set's own answer
    changes, the strictest of them cannot.
    """
    whys = _whys(case, before, after) if row_by_row else []
    if row_by_row and not whys:
        return None
    old, new = decide_all(case, before).decision, decide_all(case, after).decision
    ways = _ways(old, new)
    if not ways:
        return None
    return {
        "old": as_json(_short(old)),
        "new": as_json(_short(new)),
        "ways": ways,
        "why": " ".join(whys) or new.sentence,
    }


def _whys(case: Case, before: Sets, after: Sets) -> list[str]:
    """Why each set's own answer changes."""
    changed = (one for b, a in zip(before, after, strict=True) for one in compare([case], b, a))
    return list(dict.fromkeys(one.why for one in changed))


def _ways(old: Decision, new: Decision) -> list[str]:
    worse = severity(new.traffic) > severity(old.traffic)
    ways = {
        "stricter": old.traffic != new.traffic and worse,
        "milder": old.traffic != new.traffic and not worse,
        "disposition": old.disposition is not new.disposition,
        "due": old.due_on != new.due_on,
    }
    return [name for name, holds in ways.items() if holds]


def _short(answer: Decision) -> Answer:
    speeds = answer.traffic
    return Answer(
        traffic=speeds.kind.value,
        mph="" if speeds.speed_mph is None else str(speeds.speed_mph),
        passenger_mph=None if speeds.passenger_mph is None else str(speeds.passenger_mph),
        disposition=answer.disposition.value,
        due_on=answer.due_on,
    )
