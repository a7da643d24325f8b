"""Decisions that call for work in track become jobs with an estimate, once."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from repairs.models import Estimate, JobDefect, RepairJob
from repairs.services.estimates import GRINDING, material_use
from repairs.services.jobs import reestimate_job
from tests import railway
from tests.repairs import rows
from turnouts.access import Forbidden
from turnouts.analysis.terms import ComponentKind, DefectKind, Position
from turnouts.models import Defect, Person
from turnouts.services.errors import Conflict

pytestmark = pytest.mark.django_db


@pytest.fixture
def engineer() -> Person:
    return railway.person("engineer")


def test_a_spalled_manganese_point_becomes_a_welding_job(engineer: Person) -> None:
    defect = rows.spalled_point()
    rows.judged(engineer)
    assert rows.made(engineer).made == 1
    job = RepairJob.objects.get()
    assert (job.component, job.disposition, job.procedure, job.state) == (
        defect.component,
        "weld_in_track",
        "manganese-wire",
        "estimated",
    )
    assert [row.defect for row in job.treats.all()] == [defect]
    estimate = job.estimates.get()
    assert 0 < estimate.p50_min < estimate.p80_min < estimate.p95_min
    assert estimate.filler_kg > 0


def test_two_defects_of_one_frog_make_one_job_with_a_zone_each(engineer: Person) -> None:
    first = rows.spalled_point()
    railway.defect(
        first.component,
        first.inspection,
        zone="left_wing",
        length_mm=90,
        width_mm=30,
        depth_mm=8,
        breaks_surface=True,
        reaches_edge=False,
        reaches_base=False,
    )
    rows.judged(engineer)
    assert rows.made(engineer).made == 1
    assert JobDefect.objects.count() == 2
    assert len(Estimate.objects.get().detail["zones"]) == 2


def test_metal_flow_makes_a_grinding_job_without_filler(engineer: Person) -> None:
    # A shallow flow on the tread is ground off: the railway's own choice rows say so.
    rows.spalled_point(kind=DefectKind.METAL_FLOW.value, depth_mm=Decimal(2), zone="tread")
    rows.judged(engineer)
    rows.made(engineer)
    job = RepairJob.objects.get()
    assert (job.disposition, job.procedure) == ("grind", GRINDING)
    assert rows.estimate_of(job).filler_kg == 0


def test_making_jobs_twice_changes_nothing(engineer: Person) -> None:
    rows.spalled_point()
    rows.judged(engineer)
    rows.made(engineer)
    kept = (RepairJob.objects.get().version, Estimate.objects.get().pk)
    again = rows.made(engineer)
    assert (again.made, again.changed, again.unchanged) == (0, 0, 1)
    assert (RepairJob.objects.get().version, Estimate.objects.get().pk) == kept


def test_a_deeper_measurement_changes_the_job_and_keeps_the_earlier_estimate(
    engineer: Person,
) -> None:
    defect = rows.spalled_point()
    rows.judged(engineer)
    rows.made(engineer)
    Defect.objects.filter(pk=defect.pk).update(depth_mm=Decimal(14))
    rows.judged(engineer)
    assert rows.made(engineer).changed == 1
    old, new = RepairJob.objects.get().estimates.order_by("id")
    assert (old.current, new.current) == (False, True)
    assert new.filler_kg > old.filler_kg


def test_a_defect_without_its_width_makes_no_job_and_says_which(engineer: Person) -> None:
    defect = rows.spalled_point(width_mm=None)
    rows.judged(engineer)
    result = rows.made(engineer)
    assert result.made == 0
    assert f"Defect {defect.reference} has no length, width or depth" in result.refused[0]


def test_one_refusal_stops_no_other_job(engineer: Person) -> None:
    rows.spalled_point(width_mm=None)
    rows.spalled_point()
    rows.judged(engineer)
    result = rows.made(engineer)
    assert (result.made, len(result.refused)) == (1, 1)


def test_a_job_no_decision_calls_for_any_more_is_cancelled_and_kept(engineer: Person) -> None:
    rows.job(by=engineer)
    Defect.objects.update(state="closed")
    assert rows.made(engineer).cancelled == 1
    assert RepairJob.objects.get().state == "cancelled"


def test_a_later_job_on_the_same_defect_is_numbered_on(engineer: Person) -> None:
    job = rows.job(by=engineer)
    RepairJob.objects.update(state="cancelled")
    rows.made(engineer)
    later = RepairJob.objects.get(state="estimated")
    assert later.reference == f"{job.reference}-2"


def test_a_repaired_defect_gets_no_second_job(engineer: Person) -> None:
    job = rows.job(by=engineer)
    RepairJob.objects.update(state="done")
    Defect.objects.update(state="repaired")
    assert rows.made(engineer).made == 0
    assert RepairJob.objects.get() == job


def test_an_issued_job_stays_as_it_is(engineer: Person) -> None:
    sheet = rows.sheet(rows.job(by=engineer))
    Defect.objects.update(depth_mm=Decimal(12))
    assert rows.made(engineer).unchanged == 1
    sheet.job.refresh_from_db()
    assert (sheet.job.state, sheet.job.estimates.count()) == ("issued", 1)


def test_the_worth_of_a_job_is_what_its_trains_lose(engineer: Person) -> None:
    # A 10 mph restriction costs more a day than a defect that only may come to one.
    free = rows.job(rows.spalled_point(), engineer)
    slow = rows.job(rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160)), engineer)
    assert slow.value_per_day > free.value_per_day > 0
    assert "16 trains a day lose" in slow.value_reason  # 8 on each route


def test_queries_do_not_grow_with_the_jobs(engineer: Person) -> None:
    rows.spalled_point()
    rows.judged(engineer)
    with CaptureQueriesContext(connection) as few:
        rows.made(engineer)
    track = railway.turnout().track
    for _ in range(10):
        rows.spalled_point(railway.turnout(track))
    rows.judged(engineer)
    with CaptureQueriesContext(connection) as many:
        assert rows.made(engineer).made == 10
    assert len(many) <= len(few) + 2


def test_jobs_are_made_in_the_persons_territories_only() -> None:
    mine, other = rows.spalled_point(), rows.spalled_point()
    rows.judged(railway.person("engineer"))
    supervisor = railway.person("supervisor", mine.turnout.territory)
    assert rows.made(supervisor).made == 1
    assert not RepairJob.objects.filter(turnout=other.turnout).exists()


def test_an_inspector_may_not_make_jobs() -> None:
    with pytest.raises(Forbidden):
        rows.made(railway.person("inspector"))


def test_filler_metal_is_counted_by_procedure_in_whole_packs(engineer: Person) -> None:
    estimate = rows.estimate_of(rows.job(by=engineer))
    use = material_use(estimate)
    assert use["manganese-wire"] >= estimate.filler_kg
    assert "fuel" not in use  # the tank is filled anyway; it is not drawn from stock


def test_a_switch_point_burns_carbon_wire(engineer: Person) -> None:
    point = railway.component(ComponentKind.SWITCH_POINT, steel="carbon")
    spot = railway.turnout()
    railway.track_class(spot.track, 3)
    railway.install(point, spot, Position.LEFT_SWITCH_POINT)
    railway.defect(
        point,
        railway.inspection(spot),
        zone="head",
        length_mm=60,
        width_mm=15,
        depth_mm=5,
        reaches_base=False,
        reaches_edge=False,
        breaks_surface=True,
    )
    rows.judged(engineer)
    result = rows.made(engineer)
    assert result.made == 1, result
    assert "carbon-wire" in material_use(Estimate.objects.get())


def test_estimating_again_keeps_the_earlier_estimate(engineer: Person) -> None:
    job = rows.job(by=engineer)
    Defect.objects.update(length_mm=Decimal(110))
    new = reestimate_job(by=engineer, job=job, on=rows.DAY, at=rows.NOW)
    assert job.estimates.count() == 2
    assert rows.estimate_of(job) == new
    assert new.p50_min > job.estimates.get(current=False).p50_min


def test_an_issued_job_is_not_estimated_again(engineer: Person) -> None:
    job = rows.job(by=engineer)
    rows.sheet(job)
    with pytest.raises(Conflict, match="Withdraw the job sheet first"):
        reestimate_job(by=engineer, job=job, on=rows.DAY, at=rows.NOW)
