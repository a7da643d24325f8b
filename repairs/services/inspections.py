"""When a turnout has to be inspected next, by every rule set its territory stands under."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from django.db.models import Max
from django.utils import timezone

from repairs.services.territory_rules import rules_by_territory
from repairs.showing import READ
from repairs.triage.facts import InspectionFacts
from repairs.triage.inspection import InspectionDue, inspections_due
from turnouts.inspections_wanted import Wanted
from turnouts.models import Inspection, TrackClass, Traffic, Turnout

ON_FOOT = ("on_foot", "detailed")
"""Inspections of the whole turnout on foot; one after a repair looks at the repair only."""

BUSY_MGT = Decimal(10)
"""Over so many million gross tons a year, 49 CFR 213.233(c)."""


def wanted_at(turnout: Turnout, on: date) -> list[Wanted]:
    """What is due on a day; the turnout comes ``with_place``. Raises RuleError before the rules."""
    return wanted_at_each([turnout], on)[turnout.pk]


def wanted_at_each(turnouts: Sequence[Turnout], on: date) -> dict[int, list[Wanted]]:
    """The same of many by their ids, in a number of queries that does not grow with them."""
    rules = rules_by_territory({turnout.territory.pk for turnout in turnouts})
    facts, classes = _facts(turnouts, on), _track_classes(turnouts, on)
    return {
        turnout.pk: [
            _wanted(one, of.id)
            for of in rules[turnout.territory.pk]
            for one in inspections_due(facts[turnout.pk], classes[turnout.pk], of, on)
        ]
        for turnout in turnouts
    }


def _wanted(one: InspectionDue, rule_set: str) -> Wanted:
    return Wanted(
        kind=one.kind.value,
        due_on=one.due_on,
        last=one.last,
        overdue=one.overdue,
        clause=one.clause,
        sentence=one.sentence,
        rule_set=rule_set,
        unrecorded=one.unrecorded,
        text_not_read="" if one.checked in READ else one.checked.replace("-", " "),
    )


def inspection_facts(turnout: Turnout, on: date) -> InspectionFacts:
    """When it was last looked at, as known on a day, and what says how often it must be."""
    return _facts([turnout], on)[turnout.pk]


def _facts(turnouts: Sequence[Turnout], on: date) -> dict[int, InspectionFacts]:
    seen: dict[int, list[tuple[str, bool | None, date]]] = defaultdict(list)
    visits = Inspection.objects.filter(turnout__in=turnouts, inspected_at__date__lte=on)
    last = visits.order_by().values_list("turnout_id", "kind", "thrown")
    for pk, kind, thrown, at in last.annotate(at=Max("inspected_at")):
        seen[pk].append((kind, thrown, timezone.localdate(at)))
    traffic: dict[int, dict[str, Decimal]] = defaultdict(dict)
    rows = Traffic.objects.filter(turnout__in=turnouts, since__lte=on).order_by("since")
    for pk, route, mgt in rows.values_list("turnout_id", "route", "annual_mgt"):
        traffic[pk][route] = mgt
    return {row.pk: _facts_of(row, seen[row.pk], traffic[row.pk]) for row in turnouts}


def _facts_of(
    turnout: Turnout,
    seen: Sequence[tuple[str, bool | None, date]],
    traffic: Mapping[str, Decimal],
) -> InspectionFacts:
    return InspectionFacts(
        walked_on=max((day for kind, _, day in seen if kind in ON_FOOT), default=None),
        thrown_on=max((day for _, thrown, day in seen if thrown), default=None),
        passed_on=max((day for kind, _, day in seen if kind == "vehicle"), default=None),
        held_by_one_rod=turnout.held_by_one_rod,
        used_monthly=turnout.used_monthly,
        main_or_siding=turnout.track.kind in ("main", "siding"),
        passengers_or_over_10_mgt=_busy(turnout, traffic),
    )


def _busy(turnout: Turnout, traffic: Mapping[str, Decimal]) -> bool | None:
    """Whether it carries passengers or over 10 MGT; ``None`` where what is known is not enough."""
    if turnout.carries_passengers or sum(traffic.values()) > BUSY_MGT:
        return True
    known = turnout.carries_passengers is not None and bool(traffic)
    return False if known else None


def _track_classes(turnouts: Sequence[Turnout], on: date) -> dict[int, int | None]:
    """The class at each turnout; where two ranges meet at it, the stricter (higher) one."""
    rows = TrackClass.objects.filter(track__in={row.track_id for row in turnouts}, since__lte=on)
    by_track: dict[int, list[tuple[Decimal, Decimal, int]]] = defaultdict(list)
    for track, from_m, to_m, track_class in rows.exclude(until__lte=on).values_list(
        "track_id", "from_m", "to_m", "track_class"
    ):
        by_track[track].append((from_m, to_m, track_class))
    return {
        row.pk: max(
            (of for from_m, to_m, of in by_track[row.track_id] if from_m <= row.chainage_m <= to_m),
            default=None,
        )
        for row in turnouts
    }
