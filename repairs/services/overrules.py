"""An engineer overrules the machine: with a reason, and beside its answer."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from repairs.models import Decision, Overrule
from repairs.services.standing import (
    Standing,
    follows_the_rules,
    newest_overrules,
    rank,
    standing_of,
)
from repairs.triage.rules import FEDERAL, RULES_FOLDER
from repairs.triage.traffic import KMH_PER_MPH
from turnouts.access import Action, acting_role
from turnouts.analysis.dated import value_in_force
from turnouts.analysis.terms import Disposition
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused

AUTHORITY = RULES_FOLDER / "authority.toml"
BELOW_CLASS_1 = "213.9(b)"
LOCAL = "local"
REASON_LETTERS = 500


@dataclass(frozen=True)
class Word:
    """What the engineer says holds. ``lifts`` is their explicit yes to lifting a restriction."""

    traffic: str
    speed_kmh: Decimal | None
    disposition: Disposition
    due_on: date
    reason: str
    authority: str = ""
    lifts: bool = False


@transaction.atomic
def overrule_decision(
    *, by: Person, decision: Decision, word: Word, on: date, at: datetime
) -> Overrule:
    """Keep the engineer's word on a current decision; the machine's answer stays beside it.

    Where trains may do more by it than by the rules or by the word that stood, or a restriction
    may stay longer, the engineer names the authority and says expressly that they lift it.
    """
    role = acting_role(by, Action.OVERRULE, decision.defect.turnout.territory)
    row = Decision.objects.select_for_update(of=("self",)).get(pk=decision.pk)
    if not row.current:
        raise Conflict("A newer decision has taken this one's place; look at that one.")
    _check_word(word, on)
    standing = standing_of(row)
    milder = is_milder(word, row, standing, on)
    if milder:
        _check_authority(word, row, on)
    made = Overrule(
        decision=row,
        by=by,
        role=role.value,
        at=at,
        traffic=word.traffic,
        speed_kmh=word.speed_kmh,
        disposition=word.disposition.value,
        due_on=word.due_on,
        reason=word.reason.strip(),
        milder=milder,
        authority=word.authority if milder else "",
    )
    if standing.overrule is None and follows_the_rules(made, row):
        raise Refused("That is what the rules say already; confirm the decision instead.")
    made.save()
    return made


def is_milder(word: Word, decision: Decision, standing: Standing, on: date) -> bool:
    """Whether trains may do more by the word than by the rules, or than by what stood before it.

    An open question counts as a restriction: only a stop answers it without naming an authority.
    """
    given = rank(word.traffic, word.speed_kmh)
    if given < max(_asked(decision), rank(standing.traffic, standing.speed_kmh)):
        return True
    if decision.traffic == "unknown" and word.traffic != "stop":
        return True
    if _faster(word, decision):
        return True
    dates = [day for day in (decision.due_on, standing.due_on) if day is not None]
    restricted = decision.traffic != "class_speed" and word.traffic == "restricted"
    # A date that has passed cannot be given again; today is the soonest there is.
    return restricted and bool(dates) and word.due_on > max(min(dates), on)


def _asked(decision: Decision) -> tuple[int, Decimal]:
    return rank(decision.traffic, decision.speed_kmh)


def _faster(word: Word, decision: Decision) -> bool:
    """Whether the one speed for all trains is more than the rules let freight or passengers run.

    Where the rules let no passenger trains run, that stays: the speed is for the trains that may.
    """
    if word.speed_kmh is None:
        return False
    said = decision.detail["traffic"]
    allowed = [Decimal(said[name]) for name in ("speed_mph", "passenger_mph") if name in said]
    return any(word.speed_kmh / KMH_PER_MPH > mph for mph in allowed)


def _check_word(word: Word, on: date) -> None:
    if not word.reason.strip():
        raise Refused("Say why the decision is overruled; the reason is kept beside it.")
    if len(word.reason) > REASON_LETTERS:
        raise Refused(f"The reason is too long: {REASON_LETTERS} letters at most.")
    if word.traffic not in dict(Overrule.TRAFFIC):
        raise Refused("Traffic is class speed, a restricted speed or stop.")
    if (word.traffic == "restricted") != (word.speed_kmh is not None):
        raise Refused("A speed belongs to a restriction, and to nothing else.")
    if word.speed_kmh is not None and word.speed_kmh <= 0:
        raise Refused("A restricted speed is above zero; choose stop where no train may run.")
    if word.due_on < on:
        raise Refused(f"The due date {word.due_on} has passed. Give today or a later day.")


def _check_authority(word: Word, decision: Decision, on: date) -> None:
    if word.authority not in dict(Overrule.AUTHORITY):
        raise Refused(
            "By this, trains may do more than the rules or the present word say, or a restriction "
            "stays longer. Name under which authority you let it: 213.7, 213.9(b) or the local "
            "rule."
        )
    if not word.lifts:
        raise Refused("Tick that you lift the present restriction under your own name.")
    if word.authority == LOCAL and FEDERAL in decision.rule_set:
        raise Refused("This track stands under 49 CFR 213; name 213.7 or 213.9(b).")
    below_class_1 = decision.traffic == "stop" and word.authority != LOCAL
    if word.authority == BELOW_CLASS_1 or below_class_1:
        _check_below_class_1(word, on)


def _check_below_class_1(word: Word, on: date) -> None:
    """49 CFR 213.9(b): class 1 speed at most, and for 30 days at most."""
    mph = Decimal(value_in_force(AUTHORITY, "below_class_1_mph", on))
    days = int(value_in_force(AUTHORITY, "below_class_1_days", on))
    last = on + timedelta(days=days)
    if word.traffic == "class_speed" or (word.speed_kmh or Decimal(0)) > mph * KMH_PER_MPH:
        raise Refused(f"Below class 1, 213.9(b) lets trains run at {mph:f} mph at most.")
    if word.due_on > last:
        raise Refused(
            f"Below class 1, 213.9(b) lets trains run for {days} days at most: the work is due by "
            f"{last}."
        )


def carry_over(before: Mapping[int, Decision]) -> None:
    """Keep a word standing over the new decision of a defect where it rests on the same facts.

    ``before`` are the decisions that were just replaced, by defect. Where the facts are other,
    nothing is carried: the page then asks the engineers again.
    """
    words = {
        defect: word
        for defect, word in newest_overrules(before).items()
        if word.decision_id == before[defect].pk
    }
    if not words:
        return
    Overrule.objects.bulk_create(
        _carried(words[decision.defect_id], decision)
        for decision in Decision.objects.current().filter(defect__in=words)
        if _facts(before[decision.defect_id]) == _facts(decision)
    )


def _carried(word: Overrule, decision: Decision) -> Overrule:
    return Overrule(
        decision=decision,
        by=word.by,
        role=word.role,
        at=word.at,
        traffic=word.traffic,
        speed_kmh=word.speed_kmh,
        disposition=word.disposition,
        due_on=word.due_on,
        reason=word.reason,
        milder=word.milder,
        authority=word.authority,
        carried_from=word,
    )


def _facts(decision: Decision) -> tuple[object, ...]:
    """What an overruling rests on: the answer, and each value beside its limit."""
    findings = decision.detail.get("findings", [])
    kept = ("rule_id", "measured", "limit", "outcome", "uncertainty_mm")
    return (
        decision.traffic,
        decision.detail["traffic"],
        decision.disposition,
        decision.due_on,
        sorted([str(finding.get(name)) for name in kept] for finding in findings),
    )
