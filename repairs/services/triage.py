"""Triage: each reported defect gets the rules' answer, kept with all it rests on."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import F

from repairs.models import Confirmation, Decision
from repairs.services.decision_rows import replace_decisions
from repairs.services.facts import cases_for
from repairs.services.overrules import carry_over
from repairs.services.plain import as_json
from repairs.services.standing import standing_of
from repairs.services.territory_rules import rules_by_territory
from repairs.triage.all_sets import Combined, decide_all
from turnouts.access import Action, acting_role, require, visible
from turnouts.analysis.terms import DefectState
from turnouts.models import Defect, DefectStep, Person
from turnouts.services.errors import Conflict
from turnouts.services.runs import Progress

BATCH = 500
"""Defects judged and written at a time: bounds memory, and is the grain of the progress shown."""

ORDER = ("turnout_id", "pk")
"""The order in which rows are locked; one for all, so that no two runs wait for each other."""

OWN = ("rule_set", "edition", "traffic", "disposition", "due_on", "sentence")
"""What is kept of the answer of each rule set beside the one that stands."""

RULE_SET_LETTERS = 200

JUDGED = [DefectState.REPORTED.value, DefectState.TRIAGED.value]


@dataclasses.dataclass(frozen=True)
class TriageResult:
    """How many were looked at, how many got a new answer, and how the answers fall."""

    looked_at: int
    changed: int
    by_disposition: dict[str, int]


def triage_defect(*, by: Person, defect: Defect, on: date, at: datetime) -> Decision:
    """Judge one defect now; the answer stands as the current decision."""
    require(by, Action.TRIAGE, defect.turnout.territory)
    with transaction.atomic():
        _judge([defect.pk], by=by, on=on, at=at)
    return Decision.objects.current().get(defect=defect)


def triage_open(*, by: Person, on: date, at: datetime, progress: Progress) -> TriageResult:
    """Judge every open defect that is not yet planned, in the person's territories.

    All or nothing: a fault half-way leaves the old decisions standing.
    """
    require(by, Action.TRIAGE)
    rows = visible(by, Defect.objects.filter(state__in=JUDGED), Action.TRIAGE)
    # Turnout by turnout, so that a batch reads the readings of few of them.
    ids = list(rows.order_by(*ORDER).values_list("pk", flat=True))
    changed = 0
    with transaction.atomic():
        for done, batch in enumerate(_batches(ids)):
            changed += _judge(batch, by=by, on=on, at=at)
            progress(done * BATCH + len(batch), len(ids), "Judging defects")
    return TriageResult(len(ids), changed, _dispositions(ids))


def _batches(ids: Sequence[int]) -> Iterable[Sequence[int]]:
    return (ids[start : start + BATCH] for start in range(0, len(ids), BATCH))


def _dispositions(ids: Sequence[int]) -> dict[str, int]:
    counts: dict[str, int] = {}
    current = Decision.objects.current().filter(defect__in=ids)
    for word in current.values_list("disposition", flat=True):
        counts[word] = counts.get(word, 0) + 1
    return dict(sorted(counts.items()))


def _judge(ids: Sequence[int], *, by: Person, on: date, at: datetime) -> int:
    """Decide on a batch and write what is new; returns how many decisions changed."""
    defects = list(
        Defect.objects.with_place()
        .select_for_update(of=("self",))
        .filter(pk__in=ids)
        .order_by(*ORDER)
    )
    standing = {d.defect_id: d for d in Decision.objects.current().filter(defect__in=ids)}
    rules = rules_by_territory({defect.turnout.territory.pk for defect in defects})
    fresh = [
        _row(defect, decide_all(case, rules[defect.turnout.territory.pk]), on, at)
        for defect, case in zip(defects, cases_for(defects, on), strict=True)
    ]
    new = [row for row in fresh if not _same_answer(standing.get(row.defect_id), row)]
    if new:
        replace_decisions(new)
        changed = {row.defect_id for row in new}
        carry_over({key: old for key, old in standing.items() if key in changed})
    _step(defects, by=by, at=at)
    return len(new)


def _row(defect: Defect, combined: Combined, on: date, at: datetime) -> Decision:
    answer = combined.decision
    return Decision(
        defect=defect,
        decided_at=at,
        decided_on=on,
        rule_set=f"{answer.rule_set} {answer.edition}"[:RULE_SET_LETTERS],
        traffic=answer.traffic.kind.value,
        speed_kmh=answer.traffic.speed_kmh,
        disposition=answer.disposition.value,
        due_on=answer.due_on,
        due_reason=answer.due_reason,
        sentence=answer.sentence,
        detail=as_json(answer) | _by_set(combined),
    )


def _by_set(combined: Combined) -> dict[str, Any]:
    """What each rule set says alone, where a territory stands under several."""
    if len(combined.by_set) == 1:
        return {}
    return {"by_set": [{name: as_json(getattr(d, name)) for name in OWN} for d in combined.by_set]}


def _same_answer(old: Decision | None, new: Decision) -> bool:
    """Whether judging again said the same for the same reasons, so that nothing is written."""
    if old is None:
        return False
    names = ("rule_set", "traffic", "disposition", "due_on", "sentence", "detail")
    return all(getattr(old, name) == getattr(new, name) for name in names)


def _step(defects: Sequence[Defect], *, by: Person, at: datetime) -> None:
    """Reported defects become triaged; the caller holds their rows locked."""
    reported = [d for d in defects if d.state == DefectState.REPORTED.value]
    Defect.objects.filter(pk__in=[d.pk for d in reported]).update(
        state=DefectState.TRIAGED.value, version=F("version") + 1
    )
    DefectStep.objects.bulk_create(
        DefectStep(defect=d, state=DefectState.TRIAGED.value, at=at, by=by) for d in reported
    )


@transaction.atomic
def confirm_decision(
    *, by: Person, decision: Decision, at: datetime, note: str = ""
) -> Confirmation:
    """A qualified person puts their name to a current decision, once."""
    role = acting_role(by, Action.CONFIRM, decision.defect.turnout.territory)
    row = Decision.objects.select_for_update().get(pk=decision.pk)
    if not row.current:
        raise Conflict("A newer decision has taken this one's place; look at that one.")
    if standing_of(row).overrule is not None:
        raise Conflict(
            "An engineer has overruled this decision or an earlier one of this defect. An engineer "
            "answers first; what the rules said cannot be confirmed against it."
        )
    if Confirmation.objects.filter(decision=row).exists():
        raise Conflict("This decision is confirmed already.")
    return Confirmation.objects.create(decision=row, by=by, role=role.value, at=at, note=note)
