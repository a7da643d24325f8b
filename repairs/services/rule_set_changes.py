"""Under which rule sets a territory stands: proposed by one engineer, answered by another."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from repairs.models import RuleSetChange, TerritoryRules
from repairs.services.queue import request_triage
from repairs.services.second_person import held_for_answer, put_answer, why_not_preview
from repairs.services.territory_rules import applying, approved_rules, laid_over, set_names
from repairs.triage.rules import rule_sets
from turnouts.access import Action, require
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Conflict, Refused

LETTERS = 300


@transaction.atomic
def propose_rule_sets(
    *, by: Person, territory: Territory, names: Sequence[str], reason: str, at: datetime
) -> RuleSetChange:
    """Keep the wish that a territory stand under these shipped rule sets; at least one.

    It changes nothing until a second engineer has seen what it would do and approves it.
    """
    require(by, Action.EDIT_RULES, territory)
    Territory.objects.select_for_update(no_key=True).get(pk=territory.pk)
    chosen, stood = list(dict.fromkeys(names)), set_names([territory.pk])[territory.pk]
    _check_names(chosen, stood)
    if not reason.strip():
        raise Refused("Say why the territory is to stand under them.")
    if len(reason) > LETTERS:
        raise Refused(f"The reason is too long: {LETTERS} letters at most.")
    if territory.rule_set_changes.filter(state="proposed").exists():
        raise Conflict("A change of its rule sets waits for an answer already.")
    _check_stands(territory, chosen)
    return RuleSetChange.objects.create(
        territory=territory,
        names=chosen,
        stood=stood,
        reason=reason.strip(),
        proposed_by=by,
        proposed_at=at,
    )


@transaction.atomic
def approve_rule_sets(
    *,
    by: Person,
    change: RuleSetChange,
    preview: LongRun | None,
    on: date,
    at: datetime,
    note: str = "",
) -> LongRun:
    """Put the territory under the rule sets, and queue the judging of all open defects by them.

    ``preview`` is the run whose result the person has before them; it must be of today and of what
    stands now.
    """
    row = held_for_answer(change, by)
    reason = why_not_preview(row, preview, on)
    if reason:
        raise Conflict(reason)
    put_answer(row, "approved", by=by, note=note, at=at)
    _check_stands(row.territory, row.names)
    row.save()
    row.territory.rule_sets.exclude(rule_set__in=row.names).delete()
    for name in row.names:
        TerritoryRules.objects.get_or_create(territory=row.territory, rule_set=name)
    return request_triage(by=by, on=on, request_key=f"rule sets {row.pk} approved")


@transaction.atomic
def reject_rule_sets(
    *, by: Person, change: RuleSetChange, note: str, at: datetime
) -> RuleSetChange:
    """Say no, with words; the proposal is kept."""
    row = held_for_answer(change, by)
    put_answer(row, "rejected", by=by, note=note, at=at)
    row.save()
    return row


def _check_names(chosen: list[str], stood: list[str]) -> None:
    unknown = [name for name in chosen if name not in rule_sets()]
    if unknown or not chosen:
        known = ", ".join(rule_sets())
        what = f"There is no rule set {', '.join(unknown)}" if unknown else "Choose at least one"
        raise Refused(f"{what}. The rule sets are: {known}.")
    if set(chosen) == set(stood):
        raise Refused("The territory stands under these rule sets already.")


def _check_stands(territory: Territory, names: Sequence[str]) -> None:
    """The railway's own figures must stand over each of the sets; Refused in their words."""
    laid_over(names, applying(approved_rules(), territory.pk))
