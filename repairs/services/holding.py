"""What holds at many turnouts together: decisions as they stand, and inspections that are due."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date

from repairs.models import Decision
from repairs.services.inspections import wanted_at_each
from repairs.services.standing import Standing, rank, standing_for
from repairs.triage.inspection_rows import InspectionKind
from turnouts.analysis.life import OPEN_STATES
from turnouts.inspections_wanted import Wanted
from turnouts.models import Turnout
from turnouts.what_holds import Held


def held_at(turnouts: Sequence[Turnout], on: date) -> Mapping[int, Held]:
    """By turnout id, in a number of queries that does not grow with the turnouts. They come
    ``with_place``."""
    decisions = list(
        Decision.objects.current()
        .filter(
            defect__turnout__in=turnouts,
            defect__state__in=[state.value for state in OPEN_STATES],
        )
        .select_related("defect")
        .defer("detail")
    )
    standing = standing_for(decisions)
    by_turnout: dict[int, list[Standing]] = defaultdict(list)
    for decision in decisions:
        by_turnout[decision.defect.turnout_id].append(standing[decision.pk])
    wanted = wanted_at_each(turnouts, on)
    return {row.pk: _held(by_turnout[row.pk], wanted[row.pk]) for row in turnouts}


def _held(standing: Sequence[Standing], asked: Sequence[Wanted]) -> Held:
    """Inspections of the track are asked for every few days everywhere and say nothing here."""
    of_turnout = [one for one in asked if one.kind != InspectionKind.TRACK.value]
    wanted = [one for one in of_turnout if not one.unrecorded]
    worst = max(standing, key=lambda one: rank(one.traffic, one.speed_kmh), default=None)
    return Held(
        traffic=worst.traffic if worst else "class_speed",
        speed_kmh=worst.speed_kmh if worst else None,
        repair_due=min((one.due_on for one in standing if one.due_on), default=None),
        inspection_due=min((one.due_on for one in wanted if one.due_on), default=None),
        inspect_now=any(one.due_on is None for one in wanted),
        facts_lacking=len(wanted) < len(of_turnout),
    )
