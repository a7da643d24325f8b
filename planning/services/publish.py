"""Publishing a plan: it goes live with job sheets, load-outs and notices; the old plan ends."""

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from planning.models import PlannedJob, WeekPlan
from planning.services.crew_calendars import update_entries
from planning.services.holding import WAITING
from planning.services.load_outs import load_out_of
from planning.services.material_orders import orders_of
from planning.services.telling import write_notices
from repairs.models import Qualification
from repairs.services.job_sheets import TrackTime, issue_job_sheet, withdraw_job_sheet
from turnouts.access import Action, require
from turnouts.models import Person
from turnouts.services.errors import Conflict, check_version

PLACE = ("job_id", "crew_id", "window_id", "starts_at")

SAME = ("crew_id", "truck_id", "window_id", "starts_at", "ends_at", "estimate_id")
"""What must be unchanged for a job sheet of the superseded plan to stand."""


def publish_plan(*, by: Person, plan: WeekPlan, expected_version: int, at: datetime) -> WeekPlan:
    """Make a draft the plan of its week. Publishing it again changes nothing.

    The database refuses to have a crew, a truck or a turnout live twice at one time; that comes
    back as a sentence and nothing is changed.
    """
    require(by, Action.PUBLISH, plan.territory)
    try:
        with transaction.atomic():
            return _publish(by, plan, expected_version, at)
    except IntegrityError as refusal:
        raise Conflict(
            "A crew, a truck or a turnout of this plan is already at work elsewhere at the same "
            "time in another published plan. Plan the week again and publish that."
        ) from refusal


def _publish(by: Person, plan: WeekPlan, expected_version: int, at: datetime) -> WeekPlan:
    row = WeekPlan.objects.select_for_update().get(pk=plan.pk)
    if row.state == "published":
        return row
    check_version(str(row), row.version, expected_version)
    if row.state == "superseded":
        raise Conflict("A later plan took this one's place; plan the week again instead.")
    _refuse_if_older(row)
    _refuse_if_past(row, at)
    _refuse_if_order_is_late(row, at)
    before = _supersede(row)
    _go_live(row, dict(before), by, at)
    row.state, row.published_at, row.published_by = "published", at, by
    row.load_out = load_out_of(row)
    row.version += 1
    row.save(update_fields=["state", "published_at", "published_by", "load_out", "version"])
    update_entries(row, before, at)
    write_notices(row, before)
    return row


def _refuse_if_order_is_late(row: WeekPlan, at: datetime) -> None:
    """A draft reckons with orders placed on the day it was made."""
    late = timezone.localdate(at) > timezone.localdate(row.made_at)
    if late and (orders := orders_of(row)):
        named = ", ".join(one.material.replace("_", " ") for one in orders)
        raise Conflict(
            f"Plan {row.number} waits for material ordered on {orders[0].order_by:%Y-%m-%d} "
            f"({named}), and that day is past. Plan the week again and publish that."
        )


def _refuse_if_older(row: WeekPlan) -> None:
    """A draft made before the plan that stands rests on facts that have moved on since."""
    newer = WeekPlan.objects.filter(
        territory=row.territory, week=row.week, state="published", number__gt=row.number
    ).first()
    if newer is not None:
        raise Conflict(
            f"Plan {newer.number} was made later and is published already. Look at it, and plan "
            "the week again if it is not what you want."
        )


def _refuse_if_past(row: WeekPlan, at: datetime) -> None:
    """Crews cannot be sent out for a time that is past; what already stands so may stay."""
    late = row.placed.filter(leaves_at__lt=at, job__state__in=WAITING).select_related("job")
    standing = PlannedJob.objects.filter(
        live=True, plan__territory=row.territory, plan__week=row.week
    )
    same = {tuple(getattr(one, name) for name in PLACE) for one in standing}
    new = [one for one in late if tuple(getattr(one, name) for name in PLACE) not in same]
    if new:
        jobs = ", ".join(one.job.reference for one in new[:3])
        leaves = timezone.localtime(new[0].leaves_at)
        raise Conflict(
            f"The crew for {jobs} would have had to leave on {leaves:%a %H:%M}, which is past. "
            "Plan the week again from now on and publish that."
        )


def _supersede(row: WeekPlan) -> dict[int, PlannedJob]:
    """End the plan that stands; its placements by job."""
    old = WeekPlan.objects.select_for_update().filter(
        territory=row.territory, week=row.week, state="published"
    )
    placed = list(PlannedJob.objects.filter(plan__in=old).select_related("sheet", "job", "turnout"))
    PlannedJob.objects.filter(plan__in=old).update(live=False, sheet=None)
    for plan in old:
        plan.state = "superseded"
        plan.version += 1
        plan.save(update_fields=["state", "version"])
    return {one.job_id: one for one in placed}


def _go_live(row: WeekPlan, before: dict[int, PlannedJob], by: Person, at: datetime) -> None:
    new = list(
        row.placed.select_related(
            "job__turnout__track__line__territory",
            "job__component",
            "estimate",
            "crew",
            "window__track",
        )
    )
    stay = {placed.job_id for placed in new}
    # First, because a job that was whole may now be done in parts, which treat the same defects.
    for gone in before.keys() - stay:
        _withdraw(before.pop(gone), by, at)
    for placed in new:
        old = before.pop(placed.job_id, None)
        if old is not None and old.sheet is not None and _same(old, placed):
            placed.sheet = old.sheet
        else:
            _withdraw(old, by, at)
            placed.sheet = _issue(placed, by, at)
        placed.live = True
    PlannedJob.objects.bulk_update(new, ["live", "sheet"])


def _same(old: PlannedJob, new: PlannedJob) -> bool:
    return all(getattr(old, name) == getattr(new, name) for name in SAME)


def _withdraw(old: PlannedJob | None, by: Person, at: datetime) -> None:
    """A sheet that nobody works by any more; of a job broken off it is the record, and stays."""
    if old is not None and old.sheet is not None and old.job.state != "broken_off":
        withdraw_job_sheet(by=by, sheet=old.sheet, at=at)


def _issue(placed: PlannedJob, by: Person, at: datetime):  # type: ignore[no-untyped-def]
    people = gang(placed)
    return issue_job_sheet(
        by=by,
        job=placed.job,
        estimate=placed.estimate,
        crew=placed.crew.name,
        people=people,
        track_time=TrackTime(
            starts_at=placed.window.starts_at,
            hand_back_at=placed.window.ends_at,
            window=placed.window.reference,
            track=str(placed.window.track),
            from_milepost=placed.window.from_milepost,
            to_milepost=placed.window.to_milepost,
            protection=placed.window.get_protection_display(),
            employee_in_charge=_in_charge(people, placed),
        ),
        planned_start=placed.starts_at,
        chance=placed.chance,
        set_chance=placed.plan.chance,
        at=at,
    )


def gang(placed: PlannedJob) -> list[Person]:
    """Who is in the crew on the day of the job."""
    day = timezone.localdate(placed.starts_at)
    members = placed.crew.members.filter(since__lte=day).select_related("person")
    return [m.person for m in members if m.until is None or day < m.until]


def _in_charge(people: list[Person], placed: PlannedJob) -> str:
    """Proposed from those qualified; the railway's own designation counts in track."""
    day = timezone.localdate(placed.starts_at)
    rows = Qualification.objects.filter(person__in=people, procedure="employee_in_charge")
    named = [str(row.person) for row in rows.select_related("person") if row.valid_on(day)]
    return named[0] if named else ""
