"""The engineer decides whether a component is welded again or replaced; the decision is kept."""

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction

from repairs.models import RenewalChoice
from repairs.services.weld_or_replace import Costs, weld_or_replace_costs
from turnouts.access import Action, acting_role
from turnouts.analysis.renewal.ways import Way
from turnouts.models import Component, Person
from turnouts.services.component_file import with_history
from turnouts.services.errors import Conflict, Refused

REASON_LETTERS = 500


@dataclass(frozen=True)
class Chosen:
    """What the engineer decides. ``welds`` counts only for welding again."""

    way: Way
    welds: int
    window_on: date | None
    reason: str


def choices_of(component: Component) -> list[RenewalChoice]:
    """All decisions on a component, the one that holds first."""
    rows = RenewalChoice.objects.filter(component=component).select_related("by", "turnout")
    return list(rows.order_by("-at", "-pk"))


@transaction.atomic
def choose_renewal(
    *,
    by: Person,
    component: Component,
    chosen: Chosen,
    seen: int | None,
    on: date,
    at: datetime,
) -> RenewalChoice:
    """Keep a decision with the costs of the day beside it; it takes the place of the one before.

    ``seen`` is the id of the decision that held when the engineer read the page, or nothing:
    Conflict where another has been made since.
    """
    Component.objects.select_for_update().get(pk=component.pk)
    row = with_history(Component.objects.all()).get(pk=component.pk)
    costs = weld_or_replace_costs(row, on, chosen.window_on)
    role = acting_role(by, Action.CHOOSE_RENEWAL, costs.turnout.territory)
    _check(chosen)
    holds = next(iter(choices_of(row)), None)
    if (holds.pk if holds else None) != seen:
        raise Conflict(
            f"Somebody else has decided on {row.serial} while you had it open. Nothing of yours "
            "was saved; read their decision and its reason, and decide again if it must be."
        )
    best = costs.advice.recommended
    return RenewalChoice.objects.create(
        component=row,
        turnout=costs.turnout,
        takes_place_of=holds,
        by=by,
        role=role.value,
        at=at,
        way=chosen.way.value,
        welds=chosen.welds if chosen.way is Way.WELD else 0,
        window_on=chosen.window_on,
        reason=chosen.reason.strip(),
        advised_way=best.way.value,
        advised_welds=best.welds if best.way is Way.WELD else 0,
        advised_clear=costs.advice.clear,
        detail=_kept(costs),
    )


def _check(chosen: Chosen) -> None:
    if not chosen.reason.strip():
        raise Refused("Say why it is decided so; the reason is kept beside the decision.")
    if len(chosen.reason) > REASON_LETTERS:
        raise Refused(f"The reason is too long: {REASON_LETTERS} letters at most.")
    if chosen.way is Way.WELD and not 1 <= chosen.welds <= 20:
        raise Refused("Say how many more times it is to be welded before it is replaced: 1 to 20.")
    if chosen.way is Way.REPLACE_IN_WINDOW and chosen.window_on is None:
        raise Refused("Give the day of the renewal window in which it is to be replaced.")


def _kept(costs: Costs) -> dict[str, Any]:
    advice = costs.advice
    return {
        "options": [asdict(option) | {"way": option.way.value} for option in advice.options],
        "break_even_mgt": advice.break_even_mgt,
        "mean_weld_life_mgt": advice.mean_weld_life_mgt,
        "chance_weld_pays": advice.chance_weld_pays,
        "sentence": advice.sentence,
        "reasons": [*advice.reasons, *costs.grounds],
        "prices": asdict(costs.prices),
        "family_on": costs.family_on.isoformat() if costs.family_on else None,
    }
