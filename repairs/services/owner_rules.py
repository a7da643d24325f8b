"""The railway's own rules: proposed by one engineer, answered by another."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Q, QuerySet

from repairs.models import OwnerRule
from repairs.rule_figures import one_settable, stood_words
from repairs.services.queue import request_triage
from repairs.services.second_person import (
    held_for_answer,
    put_answer,
    require_for,
    why_not_preview,
)
from repairs.services.territory_rules import applying, approved_rules, laid_over, set_names
from repairs.triage.owner_figures import Figure
from repairs.triage.rows import Row
from repairs.triage.rules import rule_sets
from turnouts.access import Action, territory_ids
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Conflict, Refused

LETTERS = 300


@dataclass(frozen=True)
class Proposal:
    """What an engineer asks for. ``value`` is in the figure's unit: mm, mph or a whole number.

    ``typed`` is the speed as typed where ``value`` is the whole mph below it.
    """

    rule: str
    figure: Figure
    value: Decimal
    starts_on: date
    reason: str
    track_class: int | None = None
    ends_on: date | None = None
    territory: Territory | None = None
    typed: str = ""


def visible_rules(person: Person, action: Action = Action.SEE) -> QuerySet[OwnerRule]:
    """The railway's rules that speak of a territory where the person may do ``action``."""
    rows = OwnerRule.objects.select_related("territory", "proposed_by", "answered_by")
    where = territory_ids(person, action)
    if where is None:
        return rows
    if not where:
        return rows.none()
    return rows.filter(Q(territory__isnull=True) | Q(territory__in=where))


@transaction.atomic
def propose_rule(*, by: Person, proposal: Proposal, on: date, at: datetime) -> OwnerRule:
    """Keep the proposal, or refuse with the sentence that says why it could not stand.

    It changes nothing until a second engineer has seen what it would do and approves it.
    """
    require_for(by, proposal.territory)
    if proposal.starts_on < on:
        raise Refused(
            f"A rule cannot begin on {proposal.starts_on}, before today: what was decided then "
            "stands. Give today or a later day."
        )
    _check_length(proposal)
    row = OwnerRule(
        rule=proposal.rule,
        figure=proposal.figure.value,
        track_class=proposal.track_class,
        value=proposal.value,
        typed=proposal.typed,
        stood=_stood(proposal),
        starts_on=proposal.starts_on,
        ends_on=proposal.ends_on,
        territory=proposal.territory,
        reason=proposal.reason.strip(),
        proposed_by=by,
        proposed_at=at,
    )
    check_stands(row)
    row.save()
    return row


def check_stands(row: OwnerRule) -> None:
    """Raise Refused where the rule cannot stand over the law with what is approved already.

    It is held against every shipped set that has its row, in each territory it would speak of.
    """
    holding = [name for name, rules in rule_sets().items() if _row(rules.rows(), row.rule)]
    if not holding:
        raise Refused(f"No rule set has a rule {row.rule}. Take it from the list of rules.")
    approved = approved_rules()
    places = {row.territory_id}
    if row.territory_id is None:
        places |= {rule.territory_id for rule in approved}
    for place in places:
        laid_over(holding, [*applying(approved, place), row])


@transaction.atomic
def approve_rule(
    *, by: Person, rule: OwnerRule, preview: LongRun | None, on: date, at: datetime, note: str = ""
) -> LongRun:
    """Put the rule in force, and queue the judging of all open defects by it.

    ``preview`` is the run whose result the person has before them; it must be of today and of the
    rules that stand now.
    """
    row = held_for_answer(rule, by)
    reason = why_not_preview(row, preview, on)
    if reason:
        raise Conflict(reason)
    row.begins_on = max(row.starts_on, on)
    if row.ends_on is not None and row.ends_on <= row.begins_on:
        raise Refused(f"The rule would have ended on {row.ends_on}. Reject it and propose anew.")
    put_answer(row, "approved", by=by, note=note, at=at)
    check_stands(row)
    row.save()
    return request_triage(by=by, on=on, request_key=f"rule {row.pk} approved")


@transaction.atomic
def reject_rule(*, by: Person, rule: OwnerRule, note: str, at: datetime) -> OwnerRule:
    """Say no, with words; the proposal is kept."""
    row = held_for_answer(rule, by)
    put_answer(row, "rejected", by=by, note=note, at=at)
    row.save()
    return row


def _stood(proposal: Proposal) -> str:
    """What holds on the day the rule is to begin; nothing where no set there has its row."""
    territory = proposal.territory.pk if proposal.territory else None
    names = list(rule_sets()) if territory is None else set_names([territory])[territory]
    own = applying(approved_rules(), territory)
    one = one_settable(
        laid_over(names, own), proposal.starts_on, proposal.rule, proposal.figure.value
    )
    return "" if one is None else stood_words(one)[:LETTERS]


def _row(rows: Iterable[Row], name: str) -> Row | None:
    return next((row for row in rows if row.rule == name), None)


def _check_length(proposal: Proposal) -> None:
    if len(proposal.reason) > LETTERS:
        raise Refused(f"The reason is too long: {LETTERS} letters at most.")
