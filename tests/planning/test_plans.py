"""Plans: asked for once, kept as drafts, refused when they break a rule, published once."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from planning.models import LeftOut, PlannedJob, WeekPlan
from planning.services.drafts import Origin, keep_plan
from planning.services.plans import request_plan
from planning.services.publish import publish_plan
from planning.services.week import week_problem
from planning.solver.solve import Effort, solve
from repairs.models import JobSheet
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import at
from turnouts.access import Forbidden
from turnouts.models import LongRun
from turnouts.services.errors import Conflict, Refused

NOW = at(-1, 12)


def publish(week: SmallWeek, plan: WeekPlan, version: int | None = None) -> WeekPlan:
    seen = plan.version if version is None else version
    return publish_plan(by=week.supervisor, plan=plan, expected_version=seen, at=NOW)


def test_both_repairs_find_their_place_in_eight_hours(small_week: SmallWeek) -> None:
    plan = small_week.plan()

    placed = list(plan.placed.all())
    assert {one.job for one in placed} == set(small_week.jobs)
    for one in placed:
        assert small_week.window.starts_at <= one.starts_at < one.ends_at
        assert one.ends_at <= small_week.window.ends_at
        assert one.chance >= plan.chance == 0.95
    assert plan.state == "draft"


def test_a_job_too_long_for_its_window_is_left_out_with_the_longer_window_it_needs(
    small_week: SmallWeek,
) -> None:
    long = track_time.job(railway.turnout(small_week.track, mile="5"), minutes=600)

    plan = small_week.plan()

    left = LeftOut.objects.get(plan=plan, job=long)
    assert "the longest window at its turnout has 480 min" in left.reason
    assert left.change


def test_nobody_qualified_means_that_nothing_is_placed_and_the_reason_names_what_is_missing(
    small_week: SmallWeek,
) -> None:
    small_week.crew.members.all().delete()

    plan = small_week.plan()

    assert not plan.placed.exists()
    reasons = {left.reason for left in plan.left_out.all()}
    assert all("No crew holds" in reason and "manganese-wire" in reason for reason in reasons)


def test_asking_twice_with_one_key_starts_one_run(small_week: SmallWeek) -> None:
    asked = {"by": small_week.supervisor, "territory": small_week.territory}
    first = request_plan(**asked, week=small_week.week, request_key="once")
    second = request_plan(**asked, week=small_week.week, request_key="once")

    assert first[1] is True
    assert second == (first[0], False)
    assert LongRun.objects.count() == 1


@pytest.mark.parametrize("role", ["inspector", "welder", "engineer", "administrator"])
def test_only_a_supervisor_plans(small_week: SmallWeek, role: str) -> None:
    person = railway.person(role, small_week.territory)
    with pytest.raises(Forbidden, match="supervisor"):
        request_plan(
            by=person, territory=small_week.territory, week=small_week.week, request_key="x"
        )


def test_a_supervisor_of_another_territory_does_not_plan_this_one(small_week: SmallWeek) -> None:
    stranger = railway.person("supervisor", railway.territory())
    with pytest.raises(Forbidden, match=small_week.territory.name):
        request_plan(
            by=stranger, territory=small_week.territory, week=small_week.week, request_key="x"
        )


def test_a_plan_that_runs_past_its_window_is_refused_whoever_made_it(
    small_week: SmallWeek,
) -> None:
    problem = week_problem(small_week.territory, small_week.week)
    plan = solve(problem, now=lambda: 0.0, effort=Effort(seconds=5))
    moved = replace(
        plan,
        placements=tuple(
            replace(one, start_min=one.start_min + 400, end_min=one.end_min + 400)
            for one in plan.placements
        ),
    )
    run, _ = request_plan(
        by=small_week.supervisor,
        territory=small_week.territory,
        week=small_week.week,
        request_key="broken",
    )
    with pytest.raises(Refused, match="breaks"):
        keep_plan(
            origin=Origin(by=small_week.supervisor, run=run),
            territory=small_week.territory,
            week=small_week.week,
            problem=problem,
            plan=moved,
            proof=None,
            at=NOW,
        )
    assert not WeekPlan.objects.exists()


def test_publishing_issues_a_job_sheet_for_each_job_placed(small_week: SmallWeek) -> None:
    plan = publish(small_week, small_week.plan())

    assert plan.state == "published"
    assert JobSheet.objects.count() == 2
    assert all(one.live and one.sheet for one in plan.placed.select_related("sheet"))


def test_publishing_twice_does_nothing_twice(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    publish(small_week, plan)
    publish(small_week, plan)

    assert JobSheet.objects.count() == 2


def test_a_plan_somebody_else_changed_meanwhile_is_not_published(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    WeekPlan.objects.filter(pk=plan.pk).update(version=2)

    with pytest.raises(Conflict, match="changed by somebody else"):
        publish(small_week, plan)
    assert not JobSheet.objects.exists()


def test_a_later_plan_supersedes_and_keeps_the_sheets_of_jobs_that_did_not_move(
    small_week: SmallWeek,
) -> None:
    first = publish(small_week, small_week.plan("first"))
    sheets = set(JobSheet.objects.values_list("pk", flat=True))

    publish(small_week, small_week.plan("second"))

    first.refresh_from_db()
    assert first.state == "superseded"
    assert set(JobSheet.objects.values_list("pk", flat=True)) == sheets
    assert PlannedJob.objects.filter(live=True).count() == 2


def test_a_superseded_plan_cannot_come_back(small_week: SmallWeek) -> None:
    first = publish(small_week, small_week.plan("first"))
    publish(small_week, small_week.plan("second"))
    first.refresh_from_db()

    with pytest.raises(Conflict, match="later plan"):
        publish(small_week, first)


def test_a_draft_older_than_the_published_plan_does_not_take_its_place(
    small_week: SmallWeek,
) -> None:
    older, newer = small_week.plan("older"), small_week.plan("newer")
    publish(small_week, newer)

    with pytest.raises(Conflict, match="Plan 2 was made later"):
        publish(small_week, older)
    newer.refresh_from_db()
    assert newer.state == "published"


def test_a_job_that_found_no_place_again_loses_its_sheet(small_week: SmallWeek) -> None:
    publish(small_week, small_week.plan("first"))
    small_week.crew.shifts.all().delete()

    publish(small_week, small_week.plan("second"))

    assert not JobSheet.objects.filter(withdrawn_at__isnull=True).exists()
    assert JobSheet.objects.count() == 2


@pytest.mark.parametrize("who", ["crew", "truck", "turnout"])
def test_the_database_itself_refuses_to_have_one_of_them_twice_at_a_time(
    small_week: SmallWeek, who: str
) -> None:
    plan = small_week.plan()
    first, other = plan.placed.order_by("starts_at")
    fresh = {"crew": track_time.crew(small_week.crew.depot)}
    fresh["truck"] = fresh["crew"].truck
    fresh["turnout"] = railway.turnout(small_week.track, mile="7")
    same_hours = {n: getattr(first, n) for n in ("leaves_at", "starts_at", "ends_at")}
    same_hours |= {name: value for name, value in fresh.items() if name != who}
    same_hours[who] = getattr(first, who)

    with pytest.raises(IntegrityError, match=f"{who}_not_twice_in_a_plan"), transaction.atomic():
        PlannedJob.objects.filter(pk=other.pk).update(**same_hours)


def test_two_jobs_back_to_back_are_no_double_booking(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    first, other = plan.placed.order_by("starts_at")
    moved = PlannedJob.objects.filter(pk=other.pk).update(
        leaves_at=first.ends_at,
        starts_at=first.ends_at,
        ends_at=first.ends_at + timedelta(minutes=30),
    )
    assert moved == 1


def test_two_published_plans_cannot_hold_one_crew_at_the_same_time(
    small_week: SmallWeek,
) -> None:
    publish(small_week, small_week.plan("first"))
    neighbour = railway.track()
    supervisor = railway.person("supervisor", neighbour.line.territory)
    track_time.window(neighbour)
    track_time.job(railway.turnout(neighbour))
    borrowed = small_week.crew
    borrowed.depot = track_time.depot(neighbour.line)
    borrowed.save()
    borrowed.truck.depot = borrowed.depot
    borrowed.truck.save()
    other = SmallWeek(
        neighbour.line.territory,
        neighbour,
        borrowed,
        small_week.window,
        [],
        supervisor,
        small_week.week,
    )

    with pytest.raises(Conflict, match="already at work elsewhere"):
        publish(other, other.plan("other"))
    assert WeekPlan.objects.get(territory=other.territory).state == "draft"
