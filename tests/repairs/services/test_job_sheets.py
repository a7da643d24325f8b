"""A job sheet is issued once, says everything, and is never changed."""

from datetime import datetime, timedelta
from itertools import pairwise

import pytest
from django.db import DatabaseError, transaction

from repairs.models import JobSheet, RepairJob
from repairs.services.job_sheets import withdraw_job_sheet
from repairs.services.jobs import reestimate_job
from repairs.welding.procedures import procedure_in_force
from tests import railway
from tests.repairs import rows
from turnouts.access import Forbidden
from turnouts.analysis.terms import Quantity
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(db: None) -> RepairJob:
    return rows.job()


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_issuing_plans_the_job_and_its_defects(job: RepairJob) -> None:
    sheet = rows.sheet(job)
    job.refresh_from_db()
    assert (job.state, sheet.withdrawn_at) == ("issued", None)
    defect = job.treats.get().defect
    assert defect.state == "planned"
    assert defect.steps.last().note == f"Job sheet {sheet.number}"


def test_the_same_issue_again_gives_the_same_sheet(job: RepairJob) -> None:
    gang, supervisor = [rows.welder(job)], railway.person("supervisor")
    first = rows.sheet(job, gang, supervisor)
    assert rows.sheet(job, gang, supervisor) == first
    assert JobSheet.objects.count() == 1


@pytest.mark.parametrize(
    "change",
    [{"crew": "Day crew"}, {"planned_start": rows.NIGHT + timedelta(hours=1)}],
)
def test_another_crew_or_hour_needs_the_standing_sheet_withdrawn(
    job: RepairJob, change: dict[str, object]
) -> None:
    gang = [rows.welder(job)]
    rows.sheet(job, gang)
    with pytest.raises(Conflict, match="withdraw it first"):
        rows.sheet(job, gang, **change)


def test_a_withdrawn_sheet_is_kept_and_its_job_waits_again(job: RepairJob) -> None:
    sheet, supervisor = rows.sheet(job), railway.person("supervisor")
    for _ in range(2):  # again changes nothing
        withdraw_job_sheet(by=supervisor, sheet=sheet, at=rows.NOW)
    job.refresh_from_db()
    sheet.refresh_from_db()
    assert (job.state, sheet.withdrawn_at) == ("estimated", rows.NOW)
    assert job.treats.get().defect.state == "triaged"
    later = rows.sheet(job)
    assert (later.number, later.pk != sheet.pk) == (sheet.number[:-1] + "2", True)


def test_a_sheet_is_not_withdrawn_once_work_has_begun(job: RepairJob) -> None:
    sheet = rows.sheet(job)
    RepairJob.objects.update(state="in_work")
    with pytest.raises(Conflict, match="has begun"):
        withdraw_job_sheet(by=railway.person("supervisor"), sheet=sheet, at=rows.NOW)


def test_nobody_qualified_no_sheet(job: RepairJob) -> None:
    other = rows.qualified(railway.person("welder"), "carbon-stick")
    with pytest.raises(Refused, match="Nobody in Night crew 1 is qualified for manganese-wire"):
        rows.sheet(job, [other])
    job.refresh_from_db()
    assert job.state == "estimated"


def test_a_certificate_that_ends_before_the_day_does_not_count(job: RepairJob) -> None:
    person = rows.welder(job)
    person.qualifications.update(expires_on=rows.NIGHT.date() - timedelta(days=1))
    with pytest.raises(Refused):
        rows.sheet(job, [person])
    person.qualifications.update(expires_on=rows.NIGHT.date())
    assert rows.sheet(job, [person]).people.get() == person


def test_a_replaced_estimate_is_not_issued(job: RepairJob) -> None:
    old = rows.estimate_of(job)
    reestimate_job(by=railway.person("engineer"), job=job, on=rows.DAY, at=rows.NOW)
    old.refresh_from_db()
    with pytest.raises(Conflict, match="made anew"):
        rows.sheet(job, estimate=old)


def test_only_a_supervisor_of_the_territory_issues(job: RepairJob) -> None:
    for person in (railway.person("engineer"), railway.person("supervisor", railway.territory())):
        with pytest.raises(Forbidden):
            rows.sheet(job, by=person)


def test_the_database_refuses_to_change_or_delete_a_sheet(job: RepairJob) -> None:
    rows.sheet(job)
    with pytest.raises(DatabaseError), transaction.atomic():
        JobSheet.objects.update(content={})
    with pytest.raises(DatabaseError), transaction.atomic():
        JobSheet.objects.all()._raw_delete(using="default")


def test_a_stage_begins_where_the_one_before_it_is_expected_to_end(job: RepairJob) -> None:
    stages = rows.sheet(job).content["stages"]
    assert moment(stages[0]["begins_at"]) == rows.NIGHT + timedelta(minutes=15)
    for before, after in pairwise(stages):
        took = moment(after["begins_at"]) - moment(before["begins_at"])
        assert abs(took.total_seconds() / 60 - before["median_min"]) < 0.05


def test_the_last_moment_leaves_the_95_percent_time_before_hand_back(job: RepairJob) -> None:
    content = rows.sheet(job).content
    first = content["stages"][0]
    left = rows.NIGHT + timedelta(hours=8) - moment(first["last_start_at"])
    assert abs(left.total_seconds() / 60 - rows.estimate_of(job).p95_min) < 0.05
    assert first["late"] is False


def test_a_start_later_than_the_last_moment_is_marked_late(job: RepairJob) -> None:
    content = rows.sheet(job, track_time=rows.track_time(job, hours=2)).content
    assert content["stages"][0]["late"] is True


def test_nothing_is_handed_back_while_the_cavity_is_open(job: RepairJob) -> None:
    content = rows.sheet(job).content
    states = {one["state"]: one for one in content["states"]}
    assert any("Gouging" in name for name in states["never"]["after"])
    assert any("Clearing" in name for name in states["restored"]["after"])
    assert "cannot be handed back" in states["never"]["says"]


def test_the_sheet_gives_the_limits_of_its_class_with_their_clause(job: RepairJob) -> None:
    limits = {one["clause"] + one["title"]: one for one in rows.sheet(job).content["acceptance"]}
    check = limits["49 CFR 213.143(a)Guard check gage"]
    # 49 CFR 213.143(a), class 3: guard check gage not less than 4 ft 6 3/8 in (1381.125 mm).
    assert (check["limit_mm"], check["class"]) == ("1381.125", 3)
    assert check["limit"].startswith("at least 4 ft 6 3/8 in")


def test_penetrant_times_are_those_of_the_procedure_and_its_limit_is_said(job: RepairJob) -> None:
    sheet = rows.sheet(job)
    said = sheet.content["penetrant"]
    settings = procedure_in_force("manganese-wire", rows.DAY).settings
    # ASME V Table T-672: dwell at least 5 min and developing at least 10 min for castings.
    assert said["penetrant_dwell_min"] == settings.penetrant_dwell_min >= 5
    assert said["developing_min"] == settings.developing_min >= 10
    assert "only what is open to the surface" in said["only_open"]


def test_the_carbon_is_ground_off_before_the_first_bead(job: RepairJob) -> None:
    content = rows.sheet(job).content
    assert any("first bead" in point for point in content["hold_points"])
    names = [stage["name"] for stage in content["stages"]]
    ground = next(n for n, name in enumerate(names) if name.startswith("Carbon grinding"))
    bead = next(n for n, name in enumerate(names) if name.startswith("Layer 1"))
    assert ground < bead


def test_the_sheet_says_who_holds_what_and_whom_to_call(job: RepairJob) -> None:
    territory = job.turnout.territory
    supervisor = railway.person("supervisor", territory, first_name="Eve", password="secret")
    railway.person("supervisor", territory, first_name="Timetable")  # nobody can log in as it
    content = rows.sheet(job, [rows.welder(job, first_name="Bo")]).content
    assert content["crew"]["people"] == [
        {"name": "Bo", "holds": ["employee_in_charge", "manganese-wire"]}
    ]
    assert content["call"][0]["who"] == "Ada Lund"
    assert [one["who"] for one in content["call"]] == ["Ada Lund", str(supervisor)]


def test_a_self_guarded_frog_has_its_guarding_face_done_first() -> None:
    # 49 CFR 213.141(b): restore the guarding face before the point is built up.
    spot = railway.turnout()
    railway.track_class(spot.track, 3)
    frog = railway.component(design="self_guarded_manganese")
    railway.install(frog, spot)
    visit = railway.inspection(spot)
    sizes = {"length_mm": 60, "width_mm": 20, "depth_mm": 9, "breaks_surface": True}
    sizes |= {"reaches_edge": False, "reaches_base": False}
    point = railway.defect(frog, visit, zone="point", **sizes)
    railway.defect(frog, visit, zone="guard_face", **sizes)
    for quantity, mm in rows.GOOD.items():
        railway.measurement(visit, quantity, mm, frog)
    railway.measurement(visit, Quantity.RAISED_GUARD_WEAR, "4", frog)
    content = rows.sheet(rows.job(point)).content
    assert [one["zone"] for one in content["defects"]] == ["guard_face", "point"]
    assert [one["zone"] for one in content["zones"]] == ["guard_face", "point"]
