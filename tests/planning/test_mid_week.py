"""Planning again while the week goes on: what is past is past, and what has begun never moves."""

from datetime import datetime, timedelta

import pytest

from planning.models import PlannedJob, WeekPlan
from planning.services.hand_edits import Wanted, place_by_hand, take_out_by_hand
from planning.services.places import places_for
from planning.services.plans import plan_week, request_plan
from planning.services.publish import publish_plan
from repairs.models import JobSheet, RepairJob
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.repairs.trackside import Night
from tests.track_time import at
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import carry_out

SUNDAY = at(-1, 12)


@pytest.fixture
def published(small_week: SmallWeek) -> WeekPlan:
    """Both repairs on Monday from 8, published; track time on Wednesday is free."""
    track_time.window(small_week.track, day=2)
    return publish(small_week, small_week.plan())


def publish(week: SmallWeek, plan: WeekPlan, when: datetime = SUNDAY) -> WeekPlan:
    return publish_plan(by=week.supervisor, plan=plan, expected_version=plan.version, at=when)


def places(plan: WeekPlan) -> dict[str, tuple[str, datetime]]:
    rows = plan.placed.select_related("job", "window")
    return {one.job.reference: (one.window.reference, one.starts_at) for one in rows}


def in_order(plan: WeekPlan) -> list[PlannedJob]:
    return list(plan.placed.select_related("job", "sheet", "window").order_by("starts_at"))


def begin(week: SmallWeek, one: PlannedJob) -> None:
    """The welder's phone says that the work has started, and nothing more."""
    sheet = JobSheet.objects.get(pk=one.sheet_id)
    night = Night(sheet)
    night.tap("started", 15)
    night.send(by=week.crew.members.get().person)


def test_a_job_whose_sheet_has_its_start_stays_and_one_without_goes_to_time_to_come(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    first, second = in_order(published)
    begin(small_week, first)
    # Monday's track time is over: whatever had not begun by then must find other track time.
    again = small_week.plan("again", base=published, at=at(0, 16))

    now = places(again)
    assert now[first.job.reference] == (first.window.reference, first.starts_at)
    assert now[second.job.reference][1] >= at(2, 8)
    assert again.placed.get(job=first.job).locked
    assert not again.placed.get(job=second.job).locked


def test_without_the_start_on_its_sheet_the_first_job_is_moved_as_well(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    again = small_week.plan("again", base=published, at=at(0, 16))
    assert all(start >= at(2, 8) for _, start in places(again).values())


@pytest.mark.parametrize("state", ["in_work", "done"])
def test_what_is_in_work_or_done_stays_also_when_nothing_of_the_plan_is_kept(
    small_week: SmallWeek, published: WeekPlan, state: str
) -> None:
    first, _ = in_order(published)
    RepairJob.objects.filter(pk=first.job_id).update(state=state)

    again = small_week.plan("free", at=at(1, 9))

    assert places(again)[first.job.reference] == (first.window.reference, first.starts_at)


def test_nothing_new_begins_and_no_crew_leaves_before_the_minute_of_planning(
    small_week: SmallWeek,
) -> None:
    now = at(0, 10.5)
    plan = small_week.plan(at=now)

    assert plan.placed.exists()
    assert all(one.leaves_at >= now for one in plan.placed.all())
    before = small_week.plan("before", at=at(0, 5))
    assert min(one.starts_at for one in before.placed.all()) < now


def test_a_job_its_crew_has_left_for_stays_and_one_minute_earlier_it_may_go(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    first, _ = in_order(published)
    left = small_week.plan("left", base=published, at=first.leaves_at)
    not_yet = small_week.plan("not yet", base=published, at=first.leaves_at - timedelta(minutes=1))

    assert left.placed.get(job=first.job).locked
    assert places(left)[first.job.reference] == (first.window.reference, first.starts_at)
    assert not not_yet.placed.get(job=first.job).locked


def test_a_job_taken_out_by_hand_is_not_held_because_its_crew_has_left(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    first, _ = in_order(published)
    edited = take_out_by_hand(
        by=small_week.supervisor,
        plan=published,
        expected_version=published.version,
        job=first.job.reference,
        at=first.leaves_at,
    )
    again = small_week.plan("again", base=edited, at=first.leaves_at + timedelta(minutes=5))
    assert not again.placed.get(job=first.job).locked


def test_a_crew_that_is_out_goes_on_from_where_it_is(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    first, second = in_order(published)
    begin(small_week, first)
    again = small_week.plan("again", base=published, at=first.starts_at + timedelta(minutes=30))

    moved = again.placed.get(job=second.job)
    # From the first turnout, mile 4, to the second at mile 6: not again from the base at mile 1.
    assert moved.starts_at - moved.leaves_at == second.starts_at - second.leaves_at
    assert moved.leaves_at >= first.starts_at + timedelta(minutes=30)


def test_a_week_that_is_over_is_not_planned_and_its_last_minute_still_is(
    small_week: SmallWeek,
) -> None:
    assert small_week.plan(at=small_week.week.end - timedelta(minutes=1)).left_out.count() == 2
    with pytest.raises(Refused, match="is over; nothing can be planned in it"):
        small_week.plan("late", at=small_week.week.end)


def test_a_job_left_out_because_its_track_time_is_past_says_so(small_week: SmallWeek) -> None:
    plan = small_week.plan(at=at(1, 9))
    reasons = {left.reason for left in plan.left_out.all()}
    assert all("in what is left of this week" in reason for reason in reasons)


def test_a_time_that_is_past_is_neither_offered_nor_taken_by_hand(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    job, window = in_order(published)[1].job, small_week.window
    offers = places_for(published, job.reference, at(0, 13)).offers
    assert offers
    assert all(offer.starts_at > at(0, 13) for offer in offers)

    with pytest.raises(Refused, match="Mon 12:30 is past, it is Mon 13:00 now"):
        place_by_hand(
            by=small_week.supervisor,
            plan=published,
            expected_version=published.version,
            job=job.reference,
            wanted=Wanted(small_week.crew.code, window.reference, at(0, 12.5)),
            at=at(0, 13),
        )


def test_a_plan_made_in_the_week_can_be_changed_by_hand_and_keeps_its_proof(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    track_time.job(railway.turnout(small_week.track, mile="9"))
    again = small_week.plan("again", base=published, at=at(0, 12))
    last = in_order(again)[-1]
    assert again.bound is not None

    edited = place_by_hand(
        by=small_week.supervisor,
        plan=again,
        expected_version=again.version,
        job=last.job.reference,
        wanted=Wanted(
            small_week.crew.code, last.window.reference, last.starts_at + timedelta(minutes=10)
        ),
        at=at(0, 12),
    )

    assert edited.bound == again.bound
    assert edited.detail["as_of"] == again.detail["as_of"]


def test_a_draft_whose_crew_should_have_left_already_is_not_published(
    small_week: SmallWeek,
) -> None:
    plan = small_week.plan()
    first = in_order(plan)[0]
    with pytest.raises(Conflict, match=r"would have had to leave on Mon .* which is past"):
        publish(small_week, plan, first.leaves_at + timedelta(minutes=1))
    assert publish(small_week, plan, first.leaves_at).state == "published"


def test_a_draft_that_moves_a_job_begun_since_is_not_published(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    first, _ = in_order(published)
    draft = place_by_hand(
        by=small_week.supervisor,
        plan=published,
        expected_version=published.version,
        job=first.job.reference,
        wanted=Wanted(
            small_week.crew.code,
            track_time.window(small_week.track, day=3).reference,
            at(3, 9),
        ),
        at=SUNDAY,
    )
    begin(small_week, first)
    with pytest.raises(Conflict, match="has begun; its sheet stands"):
        publish(small_week, draft)
    published.refresh_from_db()
    assert published.state == "published"


def test_the_sheet_of_a_job_broken_off_is_its_record_and_is_not_withdrawn(
    small_week: SmallWeek, published: WeekPlan
) -> None:
    first, _ = in_order(published)
    RepairJob.objects.filter(pk=first.job_id).update(state="broken_off")

    publish(small_week, small_week.plan("again", base=published, at=at(0, 17)), at(0, 17))

    assert JobSheet.objects.get(pk=first.sheet_id).withdrawn_at is None
    assert RepairJob.objects.get(pk=first.job_id).state == "broken_off"


def test_a_run_of_a_week_that_is_over_ends_with_the_sentence(small_week: SmallWeek) -> None:
    run, _ = request_plan(
        by=small_week.supervisor,
        territory=small_week.territory,
        week=small_week.week,
        request_key="late",
    )
    done = carry_out(
        run_id=run.pk,
        work=lambda one, tell: plan_week(run=one, progress=tell, at=small_week.week.end),
    )
    assert done.state == "failed"
    assert "Choose this week or a later one." in done.message
