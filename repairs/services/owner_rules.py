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
from repairs.services.territory_rules import applying, approved_rules, laid_over, set_names
from repairs.triage.owner_figures import Figure
from repairs.triage.rows import Row
from repairs.triage.rules import rule_sets
from turnouts.access import Action, Forbidden, require, territory_ids
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Conflict, Refused

LETTERS = 300
PREVIEW = "rule preview"
"""The kind of the long run that shows what a proposed rule would change."""


@dataclass(frozen=True)
class Proposal:
    """What an engineer asks for. ``value`` is in the figure's unit: mm, mph or a whole number."""

    rule: str
    figure: Figure
    value: Decimal
    starts_on: date
    reason: str
    track_class: int | None = None
    ends_on: date | None = None
    territory: Territory | None = None


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


def require_for(by: Person, territory: Territory | None) -> None:
    """The right to change the rules there; a rule of all territories takes it in all of them."""
    require(by, Action.EDIT_RULES, territory)
    if territory is None and territory_ids(by, Action.EDIT_RULES) is not None:
        raise Forbidden(
            "A rule for all territories takes an engineer of all territories. Choose your own."
        )


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
    row = _locked(rule, by)
    _check_preview(row, preview, on)
    row.begins_on = max(row.starts_on, on)
    if row.ends_on is not None and row.ends_on <= row.begins_on:
        raise Refused(f"The rule would have ended on {row.ends_on}. Reject it and propose anew.")
    row.state, row.answered_by, row.answered_at, row.answer_note = "approved", by, at, note.strip()
    check_stands(row)
    row.save()
    return request_triage(by=by, on=on, request_key=f"rule {row.pk} approved")


@transaction.atomic
def reject_rule(*, by: Person, rule: OwnerRule, note: str, at: datetime) -> OwnerRule:
    """Say no, with words; the proposal is kept."""
    row = _locked(rule, by)
    if not note.strip():
        raise Refused("Say in words why the rule is rejected.")
    row.state, row.answered_by, row.answered_at, row.answer_note = "rejected", by, at, note.strip()
    row.save()
    return row


def newest_preview(rule: OwnerRule) -> LongRun | None:
    """The last preview that anybody asked for."""
    runs = LongRun.objects.filter(kind=PREVIEW, asked__rule=rule.pk)
    return runs.order_by("-requested_at", "-pk").first()


def why_not_preview(rule: OwnerRule, preview: LongRun | None, on: date) -> str:
    """Why the rule cannot be approved on this preview; nothing when it can."""
    if preview is None or preview.kind != PREVIEW or preview.asked.get("rule") != rule.pk:
        return "Look first at what the rule would change: ask for the preview."
    if preview.state != "done":
        return "The preview has not come to its end. Wait for it, or ask for it again."
    if preview.asked["on"] != on.isoformat():
        return f"The preview is of {preview.asked['on']}. Ask for one of today."
    if preview.result["standing"] != [r.pk for r in approved_rules()]:
        return "Another rule was approved since the preview. Ask for it again."
    return ""


def _check_preview(rule: OwnerRule, preview: LongRun | None, on: date) -> None:
    reason = why_not_preview(rule, preview, on)
    if reason:
        raise Conflict(reason)


def _locked(rule: OwnerRule, by: Person) -> OwnerRule:
    """The proposal, held until the transaction ends, if this person may answer it."""
    # All rules are held: two approved at once could each stand, and not both together.
    list(OwnerRule.objects.select_for_update().values_list("pk"))
    row = OwnerRule.objects.select_related("territory").get(pk=rule.pk)
    require_for(by, row.territory)
    if row.proposed_by_id == by.pk:
        raise Forbidden("You proposed this rule; a second engineer has to answer it.")
    if row.state != "proposed":
        raise Conflict(f"This rule is {row.get_state_display().lower()} already.")
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
