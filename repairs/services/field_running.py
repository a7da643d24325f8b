"""Jobs under way as the office knows them: what each is at, its chance, when it was heard of."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from repairs.field.clock import Clock, clock
from repairs.field.events import Kind, TrackState
from repairs.field.reduce import state_of
from repairs.field.state import FieldState, StageIs
from repairs.models import ChanceNotice, FieldEvent, JobSheet
from repairs.services.field_rows import as_event, facts_of
from turnouts.access import Action, visible
from turnouts.models import Person


@dataclass(frozen=True)
class Running:
    """One job begun and not signed. ``heard_at`` is when its phones last reached the office.

    ``doing`` names the stage under way, or what comes next.
    """

    sheet: JobSheet
    state: FieldState
    clock: Clock
    heard_at: datetime
    doing: str
    doing_since: datetime | None
    told: tuple[ChanceNotice, ...] = ()

    @property
    def over_min(self) -> float:
        """Minutes since the track had to be handed back; below 0 while there is time left."""
        return -self.clock.minutes_left

    @property
    def under_way(self) -> bool:
        """Whether it is neither handed back nor broken off."""
        return self.state.started and not self.state.is_over

    @property
    def left_open(self) -> bool:
        """Whether work has ended with the track cut: nothing may run over it."""
        return self.state.is_over and self.state.track is TrackState.OPEN

    @property
    def silent_min(self) -> float:
        """Minutes since the office last heard of the job."""
        return (self.clock.now - self.heard_at).total_seconds() / 60


def started_sheets() -> QuerySet[JobSheet]:
    """Sheets somebody has started and nobody has signed yet, the next hand back first."""
    begun = FieldEvent.objects.filter(kind=Kind.STARTED.value).values("sheet")
    rows = JobSheet.objects.filter(pk__in=begun, records__isnull=True)
    return rows.select_related("job__turnout__track__line__territory", "job__component").order_by(
        "hand_back_at", "number"
    )


def running(sheets: Iterable[JobSheet], at: datetime) -> list[Running]:
    """Those of the sheets that are neither handed back nor broken off; two queries for all."""
    return [one for one in _begun(sheets, at) if one.under_way]


def _begun(sheets: Iterable[JobSheet], at: datetime) -> list[Running]:
    rows = {sheet.pk: sheet for sheet in sheets}
    events: dict[int, list[FieldEvent]] = defaultdict(list)
    for event in FieldEvent.objects.filter(sheet__in=rows).select_related("by").order_by("number"):
        events[event.sheet_id].append(event)
    told: dict[int, list[ChanceNotice]] = defaultdict(list)
    for notice in ChanceNotice.objects.filter(sheet__in=rows).select_related("person"):
        told[notice.sheet_id].append(notice)
    return [_running(row, events[pk], tuple(told[pk]), at) for pk, row in rows.items()]


def _running(
    sheet: JobSheet, rows: list[FieldEvent], told: tuple[ChanceNotice, ...], at: datetime
) -> Running:
    facts = facts_of(sheet)
    state = state_of(facts, [as_event(row) for row in rows])
    doing, since = _doing(state)
    heard_at = max((row.received_at for row in rows), default=at)
    return Running(sheet, state, clock(facts, state, at), heard_at, doing, since, told)


def _doing(state: FieldState) -> tuple[str, datetime | None]:
    now = [stage for stage in state.stages if stage.state is StageIs.RUNNING]
    if now:
        return now[-1].name, now[-1].started_at
    done = [n for n, stage in enumerate(state.stages) if stage.state is not StageIs.WAITING]
    following = state.stages[done[-1] + 1 :] if done else state.stages
    return (f"Before: {following[0].name}" if following else "Hand back"), None


@dataclass(frozen=True)
class RunningNow:
    """What a supervisor looks at in the night: jobs under way, and those that wait for a name.

    ``unheard`` are sheets whose track time has begun and of which nothing has been heard;
    ``unsigned`` have ended, those that left the track open first.
    """

    running: list[Running]
    unheard: list[JobSheet]
    unsigned: list[Running]


def running_for(person: Person, at: datetime) -> RunningNow:
    """The jobs somebody supervises; of those under way the least sure first."""
    sheets = list(visible(person, started_sheets(), Action.LET_START))
    begun = _begun(sheets, at)
    due = visible(person, JobSheet.objects.all(), Action.LET_START).filter(
        withdrawn_at__isnull=True, starts_at__lte=at, hand_back_at__gt=at, records__isnull=True
    )
    return RunningNow(
        running=sorted(
            (one for one in begun if one.under_way),
            key=lambda one: (one.clock.chance, one.clock.hand_back_at),
        ),
        unheard=list(
            due.exclude(pk__in=[sheet.pk for sheet in sheets])
            .select_related("job__turnout__track__line__territory")
            .order_by("starts_at", "number")
        ),
        unsigned=sorted(
            (one for one in begun if not one.under_way), key=lambda one: not one.left_open
        ),
    )
