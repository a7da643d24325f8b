"""The limits of worn lengths of many components, by the rules of the territory they stand in."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from django.db.models import Q

from repairs.services.facts import component_facts
from repairs.services.territory_rules import rules_by_territory
from repairs.triage.exceptions import eased
from repairs.triage.facts import EXCEPTED, HIGHEST_CLASS, Case, TrackFacts
from repairs.triage.indexed import rows_on
from repairs.triage.rows import Compare, LimitRow
from repairs.triage.rules import RuleSet, rules_in_force
from turnouts.models import Component, TrackClass, Turnout
from turnouts.wear_limits import Standing, WearLimit

NO_CLASS = "The class of track is not recorded; the limit of the highest class is taken."
NO_DESIGN = "Design or steel is not recorded; the limit may not apply to it."
TOGETHER = "By the law depth and length count together: only past both is the limit missed."


def limits_where_they_stand(standing: Standing, on: date) -> dict[int, list[WearLimit]]:
    """By component id; in a number of queries that does not grow with the components."""
    sets = {
        territory: [rules_in_force(rules, on) for rules in found]
        for territory, found in rules_by_territory(
            {turnout.territory.pk for _, turnout in standing}
        ).items()
    }
    classes = _classes((turnout for _, turnout in standing), on)
    return {
        component.pk: [
            limit
            for rules in sets[turnout.territory.pk]
            for limit in _limits(component, _class_at(turnout, classes), rules, on)
        ]
        for component, turnout in standing
    }


def _limits(
    component: Component, track_class: int | None, rules: RuleSet, on: date
) -> Iterable[WearLimit]:
    case = Case(
        component=component_facts(component),
        defect=None,
        readings=(),
        track=TrackFacts(track_class),
        reported_on=on,
        decided_on=on,
    )
    for row, known in rows_on(rules, case).limits:
        if row.quantity is not None:
            yield from _limit(row, case, rules, track_class, known=known)


def _limit(
    row: LimitRow, case: Case, rules: RuleSet, track_class: int | None, *, known: bool
) -> Iterable[WearLimit]:
    """The limit of a row on this class of track; none where the law lifts it."""
    excepted = track_class == EXCEPTED and EXCEPTED in row.by_class
    easing = eased(row, case, rules, EXCEPTED if excepted else track_class or HIGHEST_CLASS)
    if easing.lifted or row.quantity is None:
        return
    open_questions = (
        NO_CLASS if track_class is None and row.by_class else "",
        "" if known else NO_DESIGN,
        TOGETHER if row.together else "",
    )
    yield WearLimit(
        quantity=row.quantity,
        mm=easing.limit,
        least=row.compare is Compare.NOT_LESS_THAN,
        clause=easing.clause,
        title=row.title,
        rule_set=rules.id,
        unsettled=" ".join(said for said in open_questions if said),
    )


def _classes(turnouts: Iterable[Turnout], on: date) -> dict[int, list[TrackClass]]:
    rows = TrackClass.objects.filter(
        Q(until__isnull=True) | Q(until__gt=on),
        track__in={turnout.track_id for turnout in turnouts},
        since__lte=on,
    )
    found: dict[int, list[TrackClass]] = defaultdict(list)
    for row in rows:
        found[row.track_id].append(row)
    return found


def _class_at(turnout: Turnout, classes: dict[int, list[TrackClass]]) -> int | None:
    """The class at the turnout; where two ranges meet at it, the stricter (higher) one."""
    here = [
        row.track_class
        for row in classes.get(turnout.track_id, [])
        if row.from_m <= turnout.chainage_m <= row.to_m
    ]
    return max(here, default=None)
