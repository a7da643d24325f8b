"""Other ways to do a job: asked for once, worked out in the queue, kept with the run."""

from typing import Any

import pytest
from django.test import Client

from repairs.services.field_records import sign_record
from repairs.services.other_ways import KIND, carry_out_other_ways, newest_ways, request_other_ways
from repairs.services.try_out import try_out, usual_day
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.access import Forbidden
from turnouts.analysis.terms import Role
from turnouts.models import LongRun
from turnouts.services.runs import carry_out

pytestmark = pytest.mark.django_db


def asked(by: Any, job: Any, key: str = "once") -> LongRun:
    return request_other_ways(by=by, job=job, on=rows.DAY, request_key=key)


def test_one_zone_is_done_in_one_window_and_costs_nothing_extra() -> None:
    engineer = railway.person(Role.ENGINEER)
    job = rows.job(by=engineer)
    done = carry_out(run_id=asked(engineer, job).pk, work=carry_out_other_ways)
    (way,) = done.result["splits"]
    assert way["windows"] == 1
    assert way["extra_set_up_min"] == pytest.approx(0)
    assert way["longest_p95_min"] == pytest.approx(job.estimates.get().p95_min, rel=0.02)
    assert newest_ways(job) == done


def test_records_move_windows_and_other_days_as_they_move_estimates() -> None:
    sheet = rows.sheet()
    welder = sheet.people.get()
    night = Night(sheet)
    night.whole(factor=2.0)
    assert night.send(welder, minute=2000).refused == []
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(2001))
    engineer = railway.person(Role.ENGINEER)
    job = rows.job(by=engineer)
    made = job.estimates.get()
    assert made.detail["learnt"] != []
    same_day = try_out(job, usual_day(job, rows.DAY), rows.DAY).answer
    assert same_day.p50_min == pytest.approx(made.p50_min)
    done = carry_out(run_id=asked(engineer, job).pk, work=carry_out_other_ways)
    assert done.result["splits"][0]["longest_p95_min"] == pytest.approx(made.p95_min)


def test_the_plan_as_it_stands_comes_first_and_more_air_never_waits_longer() -> None:
    engineer = railway.person(Role.ENGINEER)
    done = carry_out(run_id=asked(engineer, rows.job(by=engineer)).pk, work=carry_out_other_ways)
    changes = {one["key"]: one for one in done.result["changes"]}
    assert done.result["changes"][0]["key"] == "as_planned"
    assert all(one["wait_min"] >= 0 for one in changes.values())


def test_asking_twice_with_one_key_is_one_run() -> None:
    engineer = railway.person(Role.ENGINEER)
    job = rows.job(by=engineer)
    assert asked(engineer, job) == asked(engineer, job)
    assert LongRun.objects.filter(kind=KIND).count() == 1


def test_a_welder_may_not_ask() -> None:
    job = rows.job(by=railway.person(Role.ENGINEER))
    with pytest.raises(Forbidden):
        asked(railway.person(Role.WELDER, job.turnout.territory), job)


def test_the_jobs_page_asks_and_shows_the_answer(client: Client) -> None:
    engineer = railway.person(Role.ENGINEER)
    job = rows.job(by=engineer)
    client.force_login(engineer)
    assert client.post(f"/jobs/{job.reference}/ways/", {"key": "a"}).status_code == 302
    run = LongRun.objects.get(kind=KIND)
    carry_out(run_id=run.pk, work=carry_out_other_ways)
    page = client.get(f"/jobs/{job.reference}/").content.decode()
    assert "Zones in windows of their own" in page
    assert "As planned." in page
