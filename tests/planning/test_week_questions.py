"""What if: answered by planning with it, beside the plan that stands, and nothing is kept."""

from typing import Any

import pytest
from django.test import Client

from planning.models import PlannedJob, WeekPlan
from planning.services.asking import read_question
from planning.services.publish import publish_plan
from planning.services.week import week_problem
from planning.services.what_if import carry_out_what_if, draft_what_if, request_what_if
from repairs.models import RepairJob
from tests import railway, track_time
from tests.certificates import certificate
from tests.planning.conftest import SmallWeek
from tests.track_time import MONDAY, PROCEDURE, at
from turnouts.access import Forbidden
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import carry_out

NOW = at(-1, 12)


def ask(week: SmallWeek, plan: WeekPlan, by: Person | None = None, **question: Any) -> LongRun:
    """The question, answered as the queue would."""
    run, _ = request_what_if(
        by=by or week.supervisor,
        plan=plan,
        question=question,
        request_key=f"ask {LongRun.objects.count()}",
        at=NOW,
    )
    done = carry_out(
        run_id=run.pk, work=lambda one, tell: carry_out_what_if(run=one, progress=tell, at=NOW)
    )
    assert done.state == "done", done.message
    return done


def jobs(rows: list[dict[str, Any]]) -> set[str]:
    return {row["job"] for row in rows}


def jobs_of(plan: WeekPlan) -> set[str]:
    return {one.job.reference for one in plan.placed.select_related("job")}


@pytest.fixture
def plan(small_week: SmallWeek) -> WeekPlan:
    """Two repairs of 120 min on Monday from 8, and 600 min that no window of 480 holds."""
    track_time.job(railway.turnout(small_week.track, mile="5"), minutes=600)
    return small_week.plan()


def test_a_cancelled_window_puts_its_jobs_out_and_costs_what_they_save(
    small_week: SmallWeek, plan: WeekPlan
) -> None:
    before = WeekPlan.objects.count(), PlannedJob.objects.count()

    result = ask(small_week, plan, kind="cancel_window", window=small_week.window.reference).result

    assert jobs(result["fell_out"]) == jobs_of(plan)
    assert result["then"]["value"] == 0
    assert result["present"]["value"] == result["alone"] == plan.value
    assert all("No work window covers" in row["reason"] for row in result["fell_out"])
    assert (WeekPlan.objects.count(), PlannedJob.objects.count()) == before


def test_a_window_longer_by_enough_lets_a_third_job_in_and_by_less_does_not(
    small_week: SmallWeek, plan: WeekPlan
) -> None:
    # With 120, 120 and 245 min there are 485 of work for 480 of track time.
    third = track_time.job(railway.turnout(small_week.track, mile="7"), minutes=245, per_day="9")
    asked = {"kind": "move_window", "window": small_week.window.reference}

    more = ask(small_week, plan, **asked, end_by="100").result
    less = ask(small_week, plan, **asked, end_by="10").result

    assert jobs(more["came_in"]) == {third.reference}
    assert more["then"]["value"] > more["alone"] == more["present"]["value"]
    assert (less["came_in"], less["then"]["placed"]) == ([], 2)


def test_track_time_that_is_not_there_yet_lets_more_in_and_cannot_be_made_a_draft(
    small_week: SmallWeek, plan: WeekPlan
) -> None:
    extra = track_time.job(railway.turnout(small_week.track, mile="6"), minutes=200, per_day="50")
    track = f"{small_week.track.line.code}, {small_week.track.name}"
    run = ask(
        small_week, plan, kind="add_window", track=track, from_milepost="0", to_milepost="20",
        days=["1"], begins="08:00", ends="14:00", gangs="1",
    )  # fmt: skip

    came = {row["job"]: row["new"] for row in run.result["came_in"]}
    assert came[extra.reference]["window"] in ("NEW", small_week.window.reference)
    assert "NEW" in {spot[2] for spot in run.result["spots"]}
    assert run.result["then"]["value"] > run.result["alone"] >= run.result["present"]["value"]
    with pytest.raises(Refused, match="not in the records"):
        draft_what_if(by=small_week.supervisor, run=run, at=NOW)


def test_a_crew_that_does_not_come_leaves_its_work_and_the_answer_can_be_made_a_draft(
    small_week: SmallWeek, plan: WeekPlan
) -> None:
    track_time.window(small_week.track, day=1)
    run = ask(small_week, plan, kind="drop_crew", crew=small_week.crew.code, days=["0"])

    assert {row["new"]["starts_at"][:10] for row in run.result["moved"]} == {"2026-03-03"}
    assert run.result["then"]["value"] < run.result["present"]["value"]
    made = draft_what_if(by=small_week.supervisor, run=run, at=NOW)
    again = draft_what_if(by=small_week.supervisor, run=run, at=NOW)

    assert made == again
    assert (made.state, made.based_on) == ("draft", plan)
    assert made.change.startswith(f"As asked: if {small_week.crew.name} did not come on Mond")
    assert all(one.starts_at >= at(1, 8) for one in made.placed.all())
    assert made.value == pytest.approx(run.result["then"]["value"])


@pytest.mark.parametrize(("hours", "first"), [("4", 10), ("0.5", 8)])
def test_a_late_truck_keeps_its_crew_at_the_base_until_it_comes(
    small_week: SmallWeek, plan: WeekPlan, hours: str, first: int
) -> None:
    # The shift begins at 6 and the track time at 8; the base is minutes away.
    truck = small_week.crew.truck
    assert truck is not None
    result = ask(small_week, plan, kind="late_truck", truck=truck.code, days=["0"], hours=hours)
    starts = sorted(at(0, spot[3] / 60) for spot in result.result["spots"])
    assert at(0, first) <= starts[0] < at(0, first + 0.5)
    assert jobs(result.result["moved"]) == (set() if first == 8 else jobs_of(plan))
    # Both are still done on that Monday, so it costs nothing.
    assert result.result["then"]["value"] == result.result["alone"] == plan.value


def test_a_truck_so_late_that_the_track_time_is_over_costs_what_its_crew_would_do(
    small_week: SmallWeek, plan: WeekPlan
) -> None:
    # From 17 on the shift would still run an hour; the track time ends at 16.
    truck = small_week.crew.truck
    assert truck is not None
    result = ask(small_week, plan, kind="late_truck", truck=truck.code, days=["0"], hours="11")
    assert jobs(result.result["fell_out"]) == jobs_of(plan)
    assert result.result["then"]["value"] == 0
    assert result.result["alone"] == result.result["present"]["value"] == plan.value


def test_without_the_spare_person_nobody_looks_out(small_week: SmallWeek) -> None:
    # 49 CFR 214.329: a lookout has no other duty, so a crew of one has none to spare.
    both = (PROCEDURE, "employee_in_charge", "lookout")
    certificate(small_week.crew.members.get().person, "lookout", railway.SINCE, None)
    second = track_time.member(small_week.crew, *both)
    asked = {"kind": "fewer_welders", "person": second.username, "days": ["0", "1"]}
    question = read_question(asked, small_week.territory, small_week.week)
    crews = {
        crew.id: crew
        for crew in question.put_to(week_problem(small_week.territory, small_week.week)).crews
    }
    held = crews[small_week.crew.code].holds
    assert ("lookout" in held[0], "lookout" in held[2]) == (False, True)
    assert PROCEDURE in held[0]


def test_without_its_only_welder_a_crew_has_no_work_and_with_one_more_it_still_has(
    small_week: SmallWeek, plan: WeekPlan
) -> None:
    person = small_week.crew.members.get().person.username
    days = [str(day) for day in range(7)]
    fewer = ask(small_week, plan, kind="fewer_welders", person=person, days=days).result
    more = ask(
        small_week, plan, kind="more_welders", crew=small_week.crew.code, procedure=PROCEDURE,
        days=["0", "1"],
    ).result  # fmt: skip

    assert fewer["then"]["placed"] == 0
    assert all("No crew holds" in row["reason"] for row in fewer["fell_out"])
    assert (more["then"]["placed"], more["moved"], more["stayed"]) == (2, [], 2)


def test_one_more_welder_lets_in_what_nobody_was_qualified_for(small_week: SmallWeek) -> None:
    small_week.crew.members.get().person.qualifications.filter(procedure=PROCEDURE).delete()
    plan = small_week.plan()
    elsewhere = track_time.crew(track_time.depot(railway.track().line))
    assert elsewhere.members.exists()
    asked = {"kind": "more_welders", "crew": small_week.crew.code, "procedure": PROCEDURE}

    on_monday = ask(small_week, plan, **asked, days=["0"])
    on_tuesday = ask(small_week, plan, **asked, days=["1"])

    assert jobs(on_monday.result["came_in"]) == {job.reference for job in small_week.jobs}
    assert on_tuesday.result["came_in"] == []
    assert "not in the records" in on_monday.result["why_not"]


def test_work_that_has_begun_cannot_be_asked_away(small_week: SmallWeek, plan: WeekPlan) -> None:
    publish_plan(by=small_week.supervisor, plan=plan, expected_version=1, at=NOW)
    plan.refresh_from_db()
    begun = plan.placed.earliest("starts_at").job
    RepairJob.objects.filter(pk=begun.pk).update(state="in_work")
    reference = small_week.window.reference

    with pytest.raises(Refused, match=f"Work on {begun.reference} has begun there"):
        ask(small_week, plan, kind="cancel_window", window=reference)
    later = ask(small_week, plan, kind="move_window", window=reference, end_by="60")
    assert begun.reference not in jobs(later.result["moved"])


def test_a_job_locked_by_hand_in_a_cancelled_window_is_freed_and_named(
    small_week: SmallWeek, plan: WeekPlan
) -> None:
    one = plan.placed.select_related("job").earliest("starts_at")
    PlannedJob.objects.filter(pk=one.pk).update(locked=True)
    track_time.window(small_week.track, day=2)

    result = ask(small_week, plan, kind="cancel_window", window=small_week.window.reference).result

    assert result["freed"] == [one.job.reference]
    assert one.job.reference in jobs(result["moved"])


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"kind": "rain"}, "There is no question of the kind 'rain'"),
        ({"kind": "cancel_window"}, "Choose a window."),
        ({"kind": "cancel_window", "window": "W-none"}, "There is no work window W-none"),
        ({"kind": "move_window", "window": "?", "end_by": "0"}, "by how many minutes"),
        ({"kind": "move_window", "window": "?", "end_by": "-480"}, "would end before it begins"),
        ({"kind": "move_window", "window": "?", "begin_by": "-1000"}, "begin in another week"),
        ({"kind": "move_window", "window": "?", "end_by": "ten"}, "ten is none"),
        ({"kind": "move_window", "window": "?", "end_by": "2000"}, "from -1440 to 1440"),
        ({"kind": "drop_crew", "crew": "CR-none", "days": ["0"]}, "There is no crew CR-none"),
        ({"kind": "drop_crew", "crew": "!", "days": []}, "Choose at least one day."),
        ({"kind": "drop_crew", "crew": "!", "days": ["7"]}, "from 0 for Monday to 6 for Sunday"),
        ({"kind": "drop_crew", "crew": "!", "days": ["x"]}, "from 0 for Monday to 6 for Sunday"),
        ({"kind": "late_truck", "truck": "TR-none", "days": ["0"]}, "drives a truck TR-none"),
        ({"kind": "more_welders", "crew": "!", "procedure": "magic"}, "Nobody on the railway"),
        ({"kind": "fewer_welders", "person": "nobody", "days": ["0"]}, "is in no crew"),
        ({"kind": "add_window", "track": "X, y"}, "There is no track y on line X"),
    ],
)
def test_a_question_that_cannot_be_asked_is_refused_in_words(
    small_week: SmallWeek, plan: WeekPlan, asked: dict[str, Any], sentence: str
) -> None:
    known = {"?": small_week.window.reference, "!": small_week.crew.code}
    given = {name: known.get(str(value), value) for name, value in asked.items()}
    with pytest.raises(Refused, match=sentence):
        request_what_if(
            by=small_week.supervisor, plan=plan, question=given, request_key="bad", at=NOW
        )
    assert not LongRun.objects.filter(request_key="bad").exists()


@pytest.mark.parametrize(("hours", "taken"), [("0", False), ("24", True), ("24.1", False)])
def test_a_truck_is_late_by_more_than_nothing_and_a_day_at_most(
    small_week: SmallWeek, plan: WeekPlan, hours: str, taken: bool
) -> None:
    truck = small_week.crew.truck
    assert truck is not None
    question = {"kind": "late_truck", "truck": truck.code, "days": ["0"], "hours": hours}
    asked = {"by": small_week.supervisor, "plan": plan, "question": question}
    if taken:
        assert request_what_if(**asked, request_key="h", at=NOW)[1]
    else:
        with pytest.raises(Refused, match="more than 0 and up to 24 hours"):
            request_what_if(**asked, request_key="h", at=NOW)


def test_a_draft_is_refused_once_the_week_has_changed_since_the_question(
    small_week: SmallWeek, plan: WeekPlan
) -> None:
    track_time.window(small_week.track, day=1)
    run = ask(small_week, plan, kind="drop_crew", crew=small_week.crew.code, days=["0"])
    small_week.crew.shifts.all().delete()
    with pytest.raises(Conflict, match="has changed since the question"):
        draft_what_if(by=small_week.supervisor, run=run, at=NOW)


@pytest.mark.parametrize("role", ["inspector", "welder", "engineer", "administrator"])
def test_only_a_supervisor_asks(
    client: Client, small_week: SmallWeek, plan: WeekPlan, role: str
) -> None:
    person = railway.person(role, small_week.territory)
    with pytest.raises(Forbidden, match="supervisor"):
        ask(small_week, plan, person, kind="cancel_window", window=small_week.window.reference)
    client.force_login(person)
    run = ask(small_week, plan, kind="cancel_window", window=small_week.window.reference)
    assert client.get(f"/plans/{plan.pk}/what-if/").status_code == 403
    assert client.get(f"/week/what-if/{run.pk}/").status_code == 403
    assert client.post(f"/week/what-if/{run.pk}/draft/").status_code == 403
    given = {"plan": plan.pk, "request_key": "k", "kind": "cancel_window"}
    assert client.post("/api/week-questions/", given).status_code == 403


def test_a_question_about_another_territory_does_not_exist(
    client: Client, small_week: SmallWeek, plan: WeekPlan
) -> None:
    run = ask(small_week, plan, kind="cancel_window", window=small_week.window.reference)
    client.force_login(railway.person("supervisor", railway.territory()))
    assert client.get(f"/plans/{plan.pk}/what-if/").status_code == 404
    assert client.get(f"/week/what-if/{run.pk}/").status_code == 404
    assert client.get(f"/api/week-questions/{run.pk}/").status_code == 404


def test_the_page_asks_shows_the_answer_and_makes_it_a_draft(
    client: Client, small_week: SmallWeek, plan: WeekPlan
) -> None:
    track_time.window(small_week.track, day=1)
    client.force_login(small_week.supervisor)
    text = client.get(f"/plans/{plan.pk}/what-if/").content.decode()
    assert small_week.window.reference in text
    assert str(small_week.crew.members.get().person) in text

    asked = client.post(
        f"/plans/{plan.pk}/what-if/",
        {"kind": "drop_crew", "crew": small_week.crew.code, "days": ["0"], "request_key": "one"},
    )
    run = LongRun.objects.get(request_key="one")
    assert asked.headers["Location"] == f"/week/what-if/{run.pk}/"
    assert "Waiting" in client.get(f"/week/what-if/{run.pk}/").content.decode()
    carry_out(
        run_id=run.pk, work=lambda one, tell: carry_out_what_if(run=one, progress=tell, at=NOW)
    )
    answer = client.get(f"/week/what-if/{run.pk}/").content.decode()
    assert f"What if {small_week.crew.name} did not come on Monday?" in answer
    assert "It would cost" in answer
    assert "Would move" in answer

    page = client.post(f"/week/what-if/{run.pk}/draft/", follow=True)
    assert page.redirect_chain[0][0] == f"/week/{small_week.territory.code}/{MONDAY}/?plan=2"
    assert "As asked" in page.content.decode()


def test_a_bad_question_comes_back_on_the_page_with_its_reason_and_what_was_typed(
    client: Client, small_week: SmallWeek, plan: WeekPlan
) -> None:
    client.force_login(small_week.supervisor)
    answer = client.post(
        f"/plans/{plan.pk}/what-if/",
        {"kind": "move_window", "window": small_week.window.reference, "end_min": "600",
         "end_way": "earlier", "request_key": "bad"},
    )  # fmt: skip
    assert answer.status_code == 400
    assert "would end before it begins; ask for less" in answer.content.decode()
    assert f'value="{small_week.window.reference}" selected' in answer.content.decode()


def test_the_api_asks_once_and_tells_the_answer(
    client: Client, small_week: SmallWeek, plan: WeekPlan
) -> None:
    track_time.window(small_week.track, day=1)
    client.force_login(small_week.supervisor)
    given = {
        "plan": plan.pk, "request_key": "k", "kind": "drop_crew", "crew": small_week.crew.code,
        "days": [0],
    }  # fmt: skip
    first = client.post("/api/week-questions/", given, content_type="application/json")
    second = client.post("/api/week-questions/", given, content_type="application/json")
    assert (first.status_code, first.json()["id"]) == (202, second.json()["id"])
    run = first.json()["id"]
    carry_out(run_id=run, work=lambda one, tell: carry_out_what_if(run=one, progress=tell, at=NOW))

    told = client.get(f"/api/week-questions/{run}/").json()
    made = client.post(f"/api/week-questions/{run}/draft/")

    assert len(told["result"]["moved"]) == 2
    assert (made.status_code, made.json()["number"]) == (201, 2)
    bad = client.post(
        "/api/week-questions/", given | {"crew": "none", "request_key": "b"},
        content_type="application/json",
    )  # fmt: skip
    assert bad.status_code == 400
    assert "There is no crew none" in bad.content.decode()
