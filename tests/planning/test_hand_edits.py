"""Changes by hand: what keeps the rules becomes a draft, what breaks one is refused in words."""

from datetime import timedelta
from math import log, log1p, sqrt
from statistics import NormalDist

import pytest

from planning.models import PlannedJob, WeekPlan
from planning.services.hand_edits import Wanted, lock_by_hand, place_by_hand, take_out_by_hand
from planning.services.publish import publish_plan
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import at
from turnouts.access import Forbidden
from turnouts.services.errors import Conflict, Refused

NOW = at(-1, 12)


def move(
    week: SmallWeek, plan: WeekPlan, job: str, hour: float, *, day: int = 0, **wanted: str
) -> WeekPlan:
    given = {"crew": week.crew.code, "window": week.window.reference} | wanted
    return place_by_hand(
        by=week.supervisor,
        plan=plan,
        expected_version=plan.version,
        job=job,
        wanted=Wanted(start=at(day, hour), **given),
        at=NOW,
    )


def take_out(week: SmallWeek, plan: WeekPlan, job: str) -> WeekPlan:
    return take_out_by_hand(
        by=week.supervisor, plan=plan, expected_version=plan.version, job=job, at=NOW
    )


def lock(week: SmallWeek, plan: WeekPlan, job: str, *, locked: bool = True) -> WeekPlan:
    return lock_by_hand(
        by=week.supervisor,
        plan=plan,
        expected_version=plan.version,
        job=job,
        locked=locked,
        at=NOW,
    )


def starts(plan: WeekPlan) -> dict[str, str]:
    rows = plan.placed.select_related("job")
    return {one.job.reference: f"{one.starts_at:%a %H:%M}" for one in rows}


def second(plan: WeekPlan) -> PlannedJob:
    """The job that comes last in the small week's one day."""
    found = plan.placed.select_related("job").order_by("-starts_at").first()
    assert found is not None
    return found


def test_a_job_moved_by_hand_makes_a_new_draft_and_leaves_the_old_one_whole(
    small_week: SmallWeek,
) -> None:
    first = small_week.plan()
    before = starts(first)
    last = second(first)

    made = move(small_week, first, last.job.reference, 13)

    assert (made.number, made.state, made.origin, made.based_on) == (2, "draft", "edited", first)
    assert made.change == (
        f"{last.job} moved to crew {small_week.crew.code} in window "
        f"{small_week.window.reference}, Mon 13:00."
    )
    assert starts(made) == before | {last.job.reference: "Mon 13:00"}
    assert starts(first) == before
    assert made.placed.get(job=last.job).locked


def test_a_later_start_lowers_the_chance_and_keeps_what_was_proved(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    last = second(plan)

    made = move(small_week, plan, last.job.reference, 13.6)

    # 144 minutes are left for a log-normal time of 120 on average with a deviation of 12:
    # sigma^2 = ln(1 + 0.1^2), mu = ln 120 - sigma^2 / 2, and P(ln D < ln 144) = 0.9698.
    spread = log1p(0.01)
    left = NormalDist(log(120) - spread / 2, sqrt(spread)).cdf(log(144))
    assert made.placed.get(job=last.job).chance == pytest.approx(left, abs=0.002)
    assert last.chance > left + 0.01
    assert made.value == plan.value
    assert made.bound == plan.bound
    assert made.detail["gap"] == pytest.approx((plan.bound - made.value) / plan.bound)


@pytest.mark.parametrize(
    ("hour", "words"),
    [
        (7.5, ["30 min before window", "begins at Mon 08:00"]),
        (14.5, ["30 min after window", "is handed back at Mon 16:00"]),
        (13.9, ["% is asked for", "points more"]),
        (20, ["is not on shift on Mon 20:00"]),
    ],
)
def test_a_move_that_breaks_a_rule_is_refused_and_says_by_how_much(
    small_week: SmallWeek, hour: float, words: list[str]
) -> None:
    plan = small_week.plan()

    with pytest.raises(Refused) as refused:
        move(small_week, plan, second(plan).job.reference, hour)

    for each in words:
        assert each in str(refused.value)
    assert WeekPlan.objects.get().version == 1


def test_a_crew_that_cannot_be_there_in_time_is_refused_with_the_minutes(
    small_week: SmallWeek,
) -> None:
    plan = small_week.plan()
    first = plan.placed.select_related("job").order_by("starts_at").first()
    assert first is not None
    held = lock(small_week, plan, first.job.reference)

    with pytest.raises(Refused, match=r"min of road .* min too late"):
        move(small_week, held, second(plan).job.reference, 9)


def test_the_others_of_the_day_are_put_off_no_more_than_they_must(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    last = second(plan)
    first = plan.placed.select_related("job").order_by("starts_at").first()
    assert first is not None

    made = move(small_week, plan, last.job.reference, 8)

    assert starts(made)[last.job.reference] == "Mon 08:00"
    moved = made.placed.get(job=first.job)
    last_now = made.placed.get(job=last.job)
    assert moved.starts_at - last_now.ends_at == moved.starts_at - moved.leaves_at


def test_a_crew_without_the_qualification_is_refused(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    other = track_time.crew(small_week.crew.depot, holds=("employee_in_charge",))

    with pytest.raises(Refused, match=r"Nobody in crew .* is qualified for manganese-wire"):
        move(small_week, plan, second(plan).job.reference, 13, crew=other.code)


def test_a_second_gang_in_a_window_for_one_is_refused(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    other = track_time.crew(small_week.crew.depot)

    with pytest.raises(Refused, match=r"room for 1 gang; crews .* 1 too many"):
        move(small_week, plan, second(plan).job.reference, 13, crew=other.code)


def test_a_window_that_does_not_reach_the_turnout_is_refused(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    short = track_time.window(small_week.track, day=1, to_milepost=1, to_m=railway.MILE_M)

    with pytest.raises(Refused, match="does not reach turnout"):
        move(small_week, plan, second(plan).job.reference, 9, day=1, window=short.reference)


def test_too_little_material_is_refused_with_what_is_short(small_week: SmallWeek) -> None:
    plan = take_out(small_week, small_week.plan(), small_week.jobs[0].reference)
    small_week.crew.truck.stock.filter(material="manganese-wire").update(quantity=1)

    with pytest.raises(Refused, match=r"of manganese-wire from the depots, which have 0: .* short"):
        move(small_week, plan, small_week.jobs[0].reference, 13)


def test_a_job_taken_out_is_left_out_and_can_be_put_in_again(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    job = second(plan).job

    without = take_out(small_week, plan, job.reference)

    left = without.left_out.get(job=job)
    assert left.reason == f"Taken out by hand by {small_week.supervisor}."
    assert without.value < plan.value
    assert without.bound == plan.bound
    again = move(small_week, without, job.reference, 13)
    assert starts(again)[job.reference] == "Mon 13:00"
    assert not again.left_out.exists()
    assert again.value == pytest.approx(plan.value)


def test_a_week_whose_facts_have_moved_on_has_no_bound_any_more(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    track_time.job(railway.turnout(small_week.track, mile="8"), per_day="900")

    made = move(small_week, plan, second(plan).job.reference, 13)

    assert plan.bound is not None
    assert (made.bound, made.detail["gap"]) == (None, None)
    assert made.left_out.get().reason == "It came in after this plan was made."


def test_a_job_that_was_cancelled_meanwhile_is_gone_from_the_new_draft(
    small_week: SmallWeek,
) -> None:
    plan = small_week.plan()
    gone, stays = small_week.jobs
    gone.state = "cancelled"
    gone.save()

    made = move(small_week, plan, stays.reference, 13)

    assert starts(made) == {stays.reference: "Mon 13:00"}
    with pytest.raises(Refused, match="it is cancelled"):
        move(small_week, made, gone.reference, 9)


def test_of_two_supervisors_at_once_the_second_is_told(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    move(small_week, plan, second(plan).job.reference, 13)

    with pytest.raises(Conflict, match="changed by somebody else"):
        take_out(small_week, plan, small_week.jobs[0].reference)
    assert WeekPlan.objects.count() == 2


def test_a_published_plan_stays_as_it_is_when_it_is_changed_by_hand(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    publish_plan(by=small_week.supervisor, plan=plan, expected_version=1, at=NOW)
    plan.refresh_from_db()
    before = list(plan.placed.values())

    made = move(small_week, plan, second(plan).job.reference, 13)

    assert made.state == "draft"
    plan.refresh_from_db()
    assert plan.state == "published"
    assert list(plan.placed.values()) == before


def test_a_superseded_plan_is_not_changed(small_week: SmallWeek) -> None:
    first, later = small_week.plan("first"), small_week.plan("later")
    for plan in (first, later):
        publish_plan(by=small_week.supervisor, plan=plan, expected_version=1, at=NOW)
    first.refresh_from_db()

    with pytest.raises(Conflict, match="took this one's place"):
        take_out(small_week, first, small_week.jobs[0].reference)


@pytest.mark.parametrize("role", ["welder", "engineer", "inspector", "administrator"])
def test_only_a_supervisor_changes_a_plan(small_week: SmallWeek, role: str) -> None:
    plan = small_week.plan()
    with pytest.raises(Forbidden, match="supervisor"):
        take_out_by_hand(
            by=railway.person(role, small_week.territory),
            plan=plan,
            expected_version=1,
            job=small_week.jobs[0].reference,
            at=NOW,
        )


def test_a_locked_job_is_kept_when_the_week_is_planned_again(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    last = second(plan).job
    made = move(small_week, plan, last.reference, 13)

    again = small_week.plan("again", base=made)
    free = small_week.plan("free")

    assert starts(again)[last.reference] == "Mon 13:00"
    assert again.placed.get(job=last).locked
    assert starts(free)[last.reference] != "Mon 13:00"


def test_a_locked_job_is_not_moved_by_hand_until_it_is_freed(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    job = second(plan).job.reference
    held = lock(small_week, plan, job)

    with pytest.raises(Conflict, match="take the lock off first"):
        move(small_week, held, job, 13)
    free = lock(small_week, held, job, locked=False)
    assert starts(move(small_week, free, job, 13))[job] == "Mon 13:00"


def test_locking_a_job_of_a_draft_makes_no_new_plan_and_of_a_published_one_does(
    small_week: SmallWeek,
) -> None:
    plan = small_week.plan()
    job = small_week.jobs[0].reference
    assert lock(small_week, plan, job) == plan
    plan.refresh_from_db()
    publish_plan(by=small_week.supervisor, plan=plan, expected_version=plan.version, at=NOW)
    plan.refresh_from_db()

    free = lock(small_week, plan, job, locked=False)

    assert (free.number, free.state) == (2, "draft")
    assert not free.placed.filter(locked=True).exists()
    assert plan.placed.get(job__reference=job).locked


def test_a_bound_proved_with_a_lock_says_nothing_once_the_lock_is_broken(
    small_week: SmallWeek,
) -> None:
    plan = small_week.plan()
    job = second(plan).job.reference
    planned = small_week.plan("held", base=lock(small_week, plan, job))
    kept = move(small_week, planned, _other(small_week, job), 8)
    assert kept.bound == planned.bound
    free = lock(small_week, kept, job, locked=False)

    broken = take_out(small_week, free, job)

    assert broken.bound is None


def _other(week: SmallWeek, job: str) -> str:
    return next(one.reference for one in week.jobs if one.reference != job)


@pytest.mark.parametrize("state", ["in_work", "done"])
def test_a_job_whose_work_has_begun_never_moves(small_week: SmallWeek, state: str) -> None:
    plan = small_week.plan()
    publish_plan(by=small_week.supervisor, plan=plan, expected_version=1, at=NOW)
    begun = plan.placed.select_related("job").order_by("starts_at").last()
    assert begun is not None
    begun.job.state = state
    begun.job.save()
    plan.refresh_from_db()

    with pytest.raises(Conflict, match="never moves"):
        move(small_week, plan, begun.job.reference, 13)
    small_week.window.starts_at -= timedelta(minutes=30)  # an earlier start would now be better
    small_week.window.save()
    again = small_week.plan("again")
    assert again.placed.get(job=begun.job).starts_at == begun.starts_at
    assert again.placed.get(job=begun.job).estimate_id == begun.estimate_id
    published = publish_plan(by=small_week.supervisor, plan=again, expected_version=1, at=NOW)
    assert published.state == "published"
