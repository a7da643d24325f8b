"""What signed records teach the next estimate, and how the forecasts did."""

from html import unescape

import pytest
from django.test import Client

from repairs.models import JobSheet
from repairs.services.estimates import estimate_row, worked_out
from repairs.services.field_records import sign_record
from repairs.services.jobs import work_of
from repairs.services.learning import learnt, outcomes, stage_records, taught
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night

pytestmark = pytest.mark.django_db


def worked(factor: float, sign: bool = True) -> JobSheet:
    sheet = rows.sheet()
    night, welder = Night(sheet), sheet.people.get()
    end = night.whole(factor=factor)
    carbons = next(m for m in sheet.content["materials"] if m["key"] == "carbons")
    night.tap("material_used", end, key="carbons", quantity=2 * carbons["quantity"])
    assert night.send(welder).refused == []
    if sign:
        sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    return sheet


def test_only_signed_work_teaches_and_each_stage_is_held_against_the_rows_alone() -> None:
    worked(2.0, sign=False)
    assert stage_records("manganese-wire") == []
    sheet = worked(2.0)
    found = stage_records("manganese-wire")
    assert {record.crew for record in found} == {"Night crew 1"}
    rows_min = {s["key"]: s["rows_work_min"] for s in sheet.content["stages"]}
    gouging = next(record for record in found if record.kind == "gouging")
    median = next(s["median_min"] for s in sheet.content["stages"] if s["key"].endswith("gouging"))
    assert gouging.forecast == pytest.approx(
        next(v for k, v in rows_min.items() if k.endswith("gouging"))
    )
    assert gouging.actual == pytest.approx(2 * median, rel=1e-6)
    used = taught()["manganese-wire"].materials[0]
    assert used.kind == "carbons"
    assert used.actual / used.forecast == pytest.approx(2, rel=1e-4)


def test_slow_work_lengthens_the_next_estimate_and_says_what_it_rests_on() -> None:
    sheet = worked(0.9, sign=False)
    work = work_of(sheet.job)
    before = worked_out(work, sheet.job.procedure, rows.DAY)
    for _ in range(2):
        worked(2.0)
    after = worked_out(work, sheet.job.procedure, rows.DAY)
    assert after.p50_min > 1.1 * before.p50_min
    moved = learnt()["manganese-wire"].stages["gouging"]
    assert moved.records == 2
    assert 1 < moved.factor < 2
    kept = estimate_row(job=sheet.job, answer=after, at=rows.NOW)
    assert moved.sentence in kept.detail["learnt"]
    for new, old in zip(after.stages, before.stages, strict=True):
        assert new.rows_work_min == pytest.approx(old.rows_work_min)


def test_outcomes_are_those_of_finished_jobs_the_reader_may_see() -> None:
    sheet = worked(0.8)
    engineer = railway.person("engineer", sheet.job.turnout.territory)
    found = outcomes(engineer)
    assert [one.reference for one in found] == [sheet.number]
    assert found[0].p50_min == sheet.content["times"]["p50_min"]
    assert 0 < found[0].actual_min < found[0].p95_min
    assert outcomes(railway.person("engineer", railway.territory())) == []


def test_the_job_page_says_what_records_moved_beside_what_is_assumed(client: Client) -> None:
    worked(2.0)
    job = rows.job()
    client.force_login(railway.person("engineer", job.turnout.territory))
    moved = learnt()["manganese-wire"].stages["gouging"].sentence
    assert moved.startswith("Gouging: 1 record put it at ")
    shown = client.get(f"/jobs/{job.reference}/").content.decode()
    assert "What records say" in shown
    assert moved in unescape(shown)


def test_a_job_estimated_before_any_record_says_nothing_of_records(client: Client) -> None:
    job = rows.job()
    client.force_login(railway.person("engineer", job.turnout.territory))
    assert "What records say" not in client.get(f"/jobs/{job.reference}/").content.decode()
