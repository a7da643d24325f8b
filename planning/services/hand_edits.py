"""Changes by hand: checked at once by code that does not know the planner, kept as a new draft.

A published plan never changes, and no draft is written over: each change is a plan of its own.
The plan that was changed counts its version up, so that whoever had it open at the same time is
told before anything of theirs is made on ground that has moved.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from planning.models import WeekPlan
from planning.services.desk import Desk, made_for, open_desk, with_lock
from planning.services.drafts import Origin, keep_plan
from planning.services.holding import STARTED
from planning.services.proof import with_bound
from planning.services.said import refusal
from planning.services.spots import ByHand, Spot
from planning.solver.check import check
from planning.solver.plan import Change, LeftOut, Plan
from planning.solver.problem import Problem
from repairs.models import RepairJob
from turnouts.access import Action, require
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused, check_version


@dataclass(frozen=True, slots=True)
class Wanted:
    """Where the supervisor wants a job: crew and window by their codes, and the start."""

    crew: str
    window: str
    start: datetime


@transaction.atomic
def place_by_hand(
    *, by: Person, plan: WeekPlan, expected_version: int, job: str, wanted: Wanted, at: datetime
) -> WeekPlan:
    """Move a job to this crew, window and start, or put a left-out one there; gives a new draft.

    The job is locked there. Raises Refused with what would break and by how much, Conflict when
    the plan was changed meanwhile, or when the job is locked or its work has begun.
    """
    desk = _open(by, plan, expected_version)
    _demand_movable(desk, job)
    spot = _spot(desk, job, wanted, at)
    problem = desk.locked_at(spot)
    made = first_that_keeps_the_rules(desk, problem, spot)
    word = "moved to" if desk.spot_of(job) else "put in with"
    start = timezone.localtime(wanted.start)
    change = f"{job} {word} crew {spot.crew} in window {spot.window}, {start:%a %H:%M}."
    return _keep(desk, problem, made, by, change, at)


@transaction.atomic
def take_out_by_hand(
    *, by: Person, plan: WeekPlan, expected_version: int, job: str, at: datetime
) -> WeekPlan:
    """Take a placed job out of the plan; gives a new draft in which it is left out.

    Of a job done in parts all parts go.
    """
    desk = _open(by, plan, expected_version)
    _demand_movable(desk, job)
    if desk.spot_of(job) is None:
        raise Refused(f"Job {job} is not in {plan}; there is nothing to take out.")
    whole = desk.whole_of(job)
    for part in desk.parts_of(whole) - {job}:
        if desk.spot_of(part) is not None:
            _demand_movable(desk, part)
    again = "Put it in by hand." if whole == job else "Plan the week again to have it in parts."
    out = LeftOut(whole, f"Taken out by hand by {by}.", Change("none", again))
    stay = tuple(spot for spot in desk.spots if spot.job not in desk.parts_of(whole))
    made = ByHand(desk.problem, desk.known).plan(stay, (*desk.left_out, out))
    change = f"{job} taken out." if whole == job else f"{whole} taken out with all its parts."
    return _keep(desk, desk.problem, _sound(desk, desk.problem, made), by, change, at)


@transaction.atomic
def lock_by_hand(
    *, by: Person, plan: WeekPlan, expected_version: int, job: str, locked: bool, at: datetime
) -> WeekPlan:
    """Lock a placed job to its crew, window and start, or free it.

    A draft takes the lock itself, because what is planned does not change; of a published plan a
    draft with the lock is made.
    """
    row = _claim(by, plan, expected_version)
    placed = row.placed.select_related("job").filter(job__reference=job).first()
    if placed is None:
        raise Refused(f"Job {job} is not in {row}; only a job that has a place can be locked.")
    if placed.job.state in STARTED and not locked:
        raise Conflict(f"Work on {job} has begun; it never moves, so it stays locked.")
    if row.state == "draft":
        placed.locked = locked
        placed.save(update_fields=["locked"])
        return row
    desk = open_desk(row)
    spot = desk.spot_of(job)
    if spot is None:
        raise Conflict(f"Job {job} no longer waits for track time; look at the week again.")
    problem = desk.locked_at(spot) if locked else with_lock(desk.problem, job, None)
    made = ByHand(problem, desk.known).plan(desk.spots, desk.left_out)
    word = "locked where it is" if locked else "freed"
    return _keep(desk, problem, _sound(desk, problem, made), by, f"{job} {word}.", at)


def _claim(by: Person, plan: WeekPlan, expected_version: int) -> WeekPlan:
    """The plan's row for this change alone, with its version counted up."""
    require(by, Action.PLAN, plan.territory)
    row = WeekPlan.objects.select_for_update().get(pk=plan.pk)
    check_version(str(row), row.version, expected_version)
    if row.state == "superseded":
        raise Conflict("A later plan took this one's place; change that one instead.")
    row.version += 1
    row.save(update_fields=["version"])
    return row


def _open(by: Person, plan: WeekPlan, expected_version: int) -> Desk:
    return open_desk(_claim(by, plan, expected_version))


def _demand_movable(desk: Desk, name: str) -> None:
    job = next((one for one in desk.problem.jobs if one.id == name), None)
    if job is None:
        state = RepairJob.objects.filter(reference=name).values_list("state", flat=True).first()
        why = f"it is {state.replace('_', ' ')}" if state else "there is no such job here"
        raise Refused(f"Job {name} does not wait for track time in this week: {why}.")
    if name in desk.held.started:
        raise Conflict(f"Work on {name} has begun; it never moves.")
    if job.lock is not None:
        raise Conflict(f"Job {name} is locked where it is; take the lock off first.")


def _spot(desk: Desk, job: str, wanted: Wanted, at: datetime) -> Spot:
    if wanted.crew not in {crew.id for crew in desk.problem.crews}:
        raise Refused(f"There is no crew {wanted.crew} in this territory's week.")
    if wanted.window not in {window.id for window in desk.problem.windows}:
        raise Refused(f"There is no work window {wanted.window} in this territory's week.")
    if not desk.week.start <= wanted.start < desk.week.end:
        raise Refused(f"{wanted.start:%Y-%m-%d %H:%M} does not lie in the week of this plan.")
    if wanted.start < at:
        past = f"{timezone.localtime(wanted.start):%a %H:%M}"
        now = f"{timezone.localtime(at):%a %H:%M}"
        raise Refused(f"{past} is past, it is {now} now. Choose a time that is still to come.")
    return Spot(job, wanted.crew, wanted.window, desk.week.minute(wanted.start), pinned=True)


def first_that_keeps_the_rules(desk: Desk, problem: Problem, spot: Spot) -> Plan:
    """The plan with the job at this spot, the others of that day put off no more than they must.

    Where the job comes in the crew's day by its start is tried first, then before each job that
    would follow later. Raises Refused with what breaks in the first of them.
    """
    by_hand = ByHand(problem, desk.known)
    first: str | None = None
    for spots in _orders(by_hand, desk.others(spot.job), spot):
        made = by_hand.plan(spots, desk.out_but(spot.job))
        breaches = check(problem, made)
        if not breaches:
            return made
        first = first or refusal(breaches, problem, made, desk.week)
    raise Refused(f"Not changed. {first}")


def _orders(by_hand: ByHand, others: tuple[Spot, ...], spot: Spot) -> Iterator[tuple[Spot, ...]]:
    """The other spots with this one among them: by its start, then earlier in its crew's day."""
    day = by_hand.day_of(spot)
    before = [o for o in others if o.start_min < spot.start_min]
    after = [o for o in others if o.start_min >= spot.start_min]
    yield (*before, spot, *after)
    for at in range(len(before) - 1, -1, -1):
        if by_hand.day_of(before[at]) == day:
            yield (*before[:at], spot, *before[at:], *after)


def _sound(desk: Desk, problem: Problem, made: Plan) -> Plan:
    breaches = check(problem, made)
    if breaches:
        raise Refused(f"Not changed. {refusal(breaches, problem, made, desk.week)}")
    return made


def _keep(
    desk: Desk, problem: Problem, made: Plan, by: Person, change: str, at: datetime
) -> WeekPlan:
    proof = desk.plan.detail.get("proof")
    proved = with_bound(made, problem, proof)
    return keep_plan(
        origin=Origin(by=by, based_on=desk.plan, change=change),
        territory=desk.plan.territory,
        week=desk.week,
        problem=problem,
        plan=proved,
        proof=proof if proved.bound is not None else None,
        at=at,
        held=desk.held.estimates,
        as_of=made_for(desk.plan),
    )
