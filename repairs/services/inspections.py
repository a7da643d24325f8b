"""When a turnout has to be inspected next, by every rule set its territory stands under."""

from datetime import date
from decimal import Decimal

from django.utils import timezone

from repairs.services.territory_rules import rules_by_territory
from repairs.showing import READ
from repairs.triage.facts import InspectionFacts
from repairs.triage.inspection import inspections_due
from turnouts.inspections_wanted import Wanted
from turnouts.models import TrackClass, Traffic, Turnout

ON_FOOT = ("on_foot", "detailed")
"""Inspections of the whole turnout on foot; one after a repair looks at the repair only."""

BUSY_MGT = Decimal(10)
"""Over so many million gross tons a year, 49 CFR 213.233(c)."""


def wanted_at(turnout: Turnout, on: date) -> list[Wanted]:
    """What is due on a day; the turnout comes ``with_place``. Raises RuleError before the rules."""
    territory = turnout.territory.pk
    facts, track_class = inspection_facts(turnout, on), _track_class(turnout, on)
    return [
        Wanted(
            kind=one.kind.value,
            due_on=one.due_on,
            last=one.last,
            overdue=one.overdue,
            clause=one.clause,
            sentence=one.sentence,
            rule_set=rules.id,
            unrecorded=one.unrecorded,
            text_not_read="" if one.checked in READ else one.checked.replace("-", " "),
        )
        for rules in rules_by_territory([territory])[territory]
        for one in inspections_due(facts, track_class, rules, on)
    ]


def inspection_facts(turnout: Turnout, on: date) -> InspectionFacts:
    """When it was last looked at, as known on a day, and what says how often it must be."""
    visits = turnout.inspections.filter(inspected_at__date__lte=on)
    days = [
        (kind, thrown, timezone.localdate(at))
        for kind, thrown, at in visits.values_list("kind", "thrown", "inspected_at")
    ]
    return InspectionFacts(
        walked_on=max((day for kind, _, day in days if kind in ON_FOOT), default=None),
        thrown_on=max((day for _, thrown, day in days if thrown), default=None),
        passed_on=max((day for kind, _, day in days if kind == "vehicle"), default=None),
        held_by_one_rod=turnout.held_by_one_rod,
        used_monthly=turnout.used_monthly,
        main_or_siding=turnout.track.kind in ("main", "siding"),
        passengers_or_over_10_mgt=_busy(turnout, on),
    )


def _busy(turnout: Turnout, on: date) -> bool | None:
    """Whether it carries passengers or over 10 MGT; ``None`` where what is known is not enough."""
    rows = Traffic.objects.filter(turnout=turnout, since__lte=on).order_by("since")
    newest = {row.route: row.annual_mgt for row in rows}
    if turnout.carries_passengers or sum(newest.values()) > BUSY_MGT:
        return True
    known = turnout.carries_passengers is not None and bool(newest)
    return False if known else None


def _track_class(turnout: Turnout, on: date) -> int | None:
    """The class at the turnout; where two ranges meet at it, the stricter (higher) one."""
    rows = TrackClass.objects.filter(
        track=turnout.track,
        from_m__lte=turnout.chainage_m,
        to_m__gte=turnout.chainage_m,
        since__lte=on,
    ).exclude(until__lte=on)
    return max(rows.values_list("track_class", flat=True), default=None)
