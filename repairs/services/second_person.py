"""What one engineer proposes another answers, with what it would change before them."""

from datetime import date, datetime
from typing import Any, TypeVar

from repairs.models import OwnerRule, RuleSetChange
from repairs.services.territory_rules import approved_rules, set_names
from turnouts.access import Action, Forbidden, require, territory_ids
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import newest_run

Proposed = OwnerRule | RuleSetChange
P = TypeVar("P", OwnerRule, RuleSetChange)

PREVIEW = "rule preview"
"""The kind of the long run that shows what a proposal would change."""


def require_for(by: Person, territory: Territory | None) -> None:
    """The right to change the rules there; a rule of all territories takes it in all of them."""
    require(by, Action.EDIT_RULES, territory)
    if territory is None and territory_ids(by, Action.EDIT_RULES) is not None:
        raise Forbidden(
            "A rule for all territories takes an engineer of all territories. Choose your own."
        )


def asked_of(row: Proposed) -> dict[str, Any]:
    """What a preview run is asked, by which it is found again."""
    return {"rule": row.pk} if isinstance(row, OwnerRule) else {"sets": row.pk}


def proposal_of(run: LongRun) -> Proposed:
    """The proposal that a preview run looks at."""
    if "rule" in run.asked:
        return OwnerRule.objects.get(pk=run.asked["rule"])
    return RuleSetChange.objects.get(pk=run.asked["sets"])


def newest_preview(row: Proposed) -> LongRun | None:
    """The last preview that anybody asked for."""
    return newest_run(PREVIEW, asked_of(row))


def why_not_preview(row: Proposed, preview: LongRun | None, on: date) -> str:
    """Why it cannot be approved on this preview; nothing when it can."""
    ours = preview is not None and preview.kind == PREVIEW
    if preview is None or not ours or not asked_of(row).items() <= preview.asked.items():
        return "Look first at what the rule would change: ask for the preview."
    if preview.state != "done":
        return "The preview has not come to its end. Wait for it, or ask for it again."
    if preview.asked["on"] != on.isoformat():
        return f"The preview is of {preview.asked['on']}. Ask for one of today."
    if preview.result["standing"] != standing_rules(row):
        return "Another rule was approved since the preview. Ask for it again."
    return ""


def standing_rules(row: Proposed) -> list[Any]:
    """What the railway has set already where the proposal speaks; a preview is of no other day."""
    places = [row.territory_id] if row.territory_id is not None else []
    if not places:
        places = list(Territory.objects.values_list("pk", flat=True))
    names = set_names(places)
    return [[r.pk for r in approved_rules()], [[place, *names[place]] for place in sorted(names)]]


def held_for_answer(row: P, by: Person) -> P:
    """The proposal, held until the transaction ends, if this person may answer it."""
    # All are held: two approved at once could each stand, and not both together.
    for model in (OwnerRule, RuleSetChange):
        list(model.objects.select_for_update().values_list("pk"))
    held = type(row).objects.select_related("territory").get(pk=row.pk)
    require_for(by, held.territory)
    if held.proposed_by_id == by.pk:
        raise Forbidden("You proposed this rule; a second engineer has to answer it.")
    if held.state != "proposed":
        raise Conflict(f"This rule is {held.get_state_display().lower()} already.")
    return held


def put_answer(row: Proposed, state: str, *, by: Person, note: str, at: datetime) -> None:
    """The answer on a held row, not yet saved; a rejection takes words."""
    if state == "rejected" and not note.strip():
        raise Refused("Say in words why the rule is rejected.")
    row.state, row.answered_by, row.answered_at, row.answer_note = state, by, at, note.strip()
