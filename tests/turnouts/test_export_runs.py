"""Exports through the queue: written once, for one person, kept for some days."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from config.celery import app
from tests import railway
from tests.turnouts.sheets import importer, rows_in_zip, settled
from turnouts import tasks
from turnouts.access import Forbidden
from turnouts.analysis.showing import US
from turnouts.analysis.terms import Role
from turnouts.models import ExportFile, LongRun, Person, RoleGrant, Territory
from turnouts.services import export_runs, runs
from turnouts.services.errors import Conflict
from turnouts.services.export_runs import (
    KEPT_FOR,
    carry_out_export,
    file_of,
    start_export,
    take_away_old_files,
)
from turnouts.services.exports import export, write_export
from turnouts.services.sheets.faults import Unreadable

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("kept_files", "empty_cache")]


@pytest.fixture
def kept_files(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def by() -> Person:
    person = importer()
    settled(person)
    return person


def written(by: Person, **asked: Any) -> LongRun:
    return carry_out_export(run_id=start_export(by=by, request_key="k", **asked).pk)


def content(kept: ExportFile) -> bytes:
    with kept.content.open("rb") as opened:
        return bytes(opened.read())


def test_the_file_of_a_run_is_the_export_that_was_asked_for(by: Person) -> None:
    run = written(by, names=["turnouts", "defects"], form="zip", units=US)

    kept = file_of(by=by, run=run)
    assert content(kept) == export(by=by, names=["turnouts", "defects"], form="zip", units=US)
    assert kept.name == f"records-{run.started_at:%Y-%m-%d}.zip"
    assert run.result["sheets"] == [
        {"name": "turnouts", "rows": 1},
        {"name": "defects", "rows": 1},
    ]
    assert run.result["bytes"] == len(content(kept))


def test_asking_twice_writes_one_file_and_another_choice_is_another_run(by: Person) -> None:
    first = start_export(by=by, request_key="k", form="zip")

    assert start_export(by=by, request_key="k", form="zip") == first
    assert start_export(by=by, request_key="k", form="xlsx") != first
    assert start_export(by=by, request_key="other", form="zip") != first
    assert start_export(by=importer(), request_key="k", form="zip") != first


def test_what_may_not_be_taken_out_is_refused_before_anything_is_queued(by: Person) -> None:
    reader = railway.person(Role.INSPECTOR)

    with pytest.raises(Forbidden):
        start_export(by=reader, request_key="k", names=["people"])
    with pytest.raises(Unreadable):
        start_export(by=reader, request_key="k", names=["wagons"])
    with pytest.raises(Forbidden):
        start_export(by=railway.person(), request_key="k")
    assert not LongRun.objects.exists()


def test_the_file_holds_the_rows_of_the_askers_territories_only(by: Person) -> None:
    railway.spalled_frog(reference="FAR")
    reader = railway.person(Role.INSPECTOR, Territory.objects.get(code="N"))

    kept = file_of(by=reader, run=written(reader, form="zip"))

    assert [row["reference"] for row in rows_in_zip(content(kept), "defects")] == ["D1"]


def test_a_role_lost_while_it_waited_is_asked_again_when_it_is_written(by: Person) -> None:
    reader = railway.person(Role.INSPECTOR)
    run = start_export(by=reader, request_key="k")
    RoleGrant.objects.filter(person=reader).delete()

    run = carry_out_export(run_id=run.pk)

    assert run.state == "failed"
    with pytest.raises(Conflict, match="You may not see this"):
        file_of(by=reader, run=run)


def test_a_file_is_no_longer_for_somebody_who_lost_a_role_since(by: Person) -> None:
    reader = railway.person(Role.INSPECTOR)
    railway.grant(reader, Role.WELDER, Territory.objects.get(code="N"))
    run = written(reader)
    assert file_of(by=reader, run=run)

    RoleGrant.objects.filter(person=reader, role=Role.INSPECTOR).delete()

    with pytest.raises(Forbidden, match="lost a role"):
        file_of(by=Person.objects.get(pk=reader.pk), run=run)


def test_nobody_else_gets_the_file(by: Person) -> None:
    with pytest.raises(Forbidden, match="Only the person who asked"):
        file_of(by=importer(), run=written(by))


def test_before_it_is_written_there_is_no_file(by: Person) -> None:
    run = start_export(by=by, request_key="k")

    with pytest.raises(Conflict, match="still being written"):
        file_of(by=by, run=run)


def test_a_file_is_kept_for_seven_days_and_not_longer(by: Person) -> None:
    run = written(by)
    kept = file_of(by=by, run=run)
    place = Path(kept.content.path)

    assert take_away_old_files(now=kept.made_at + KEPT_FOR) == 0
    assert place.exists()
    assert take_away_old_files(now=kept.made_at + KEPT_FOR + timedelta(seconds=1)) == 1
    assert not place.exists()
    with pytest.raises(Conflict, match="taken away after 7 days"):
        file_of(by=by, run=run)


def test_a_row_whose_file_is_gone_already_is_taken_away_too(by: Person) -> None:
    kept = file_of(by=by, run=written(by))
    Path(kept.content.path).unlink()

    assert take_away_old_files(now=kept.made_at + 2 * KEPT_FOR) == 1
    assert not ExportFile.objects.exists()


def test_a_run_whose_worker_died_at_the_end_is_written_again(by: Person, tmp_path: Path) -> None:
    run = written(by, form="zip")
    LongRun.objects.filter(pk=run.pk).update(state="running", finished_at=None)

    again = carry_out_export(run_id=run.pk)

    assert content(file_of(by=by, run=again)) == export(
        by=by, form="zip", units=export_runs.OWN_UNITS
    )
    assert len([path for path in tmp_path.rglob("*") if path.is_file()]) == 1


def test_progress_counts_the_rows_of_all_sheets(by: Person, monkeypatch: Any) -> None:
    told: list[tuple[int, int, str]] = []
    monkeypatch.setattr(runs, "_progress", lambda run, *seen: told.append(seen))

    run = written(by)

    rows = sum(sheet["rows"] for sheet in run.result["sheets"])
    assert told[-1][:2] == (rows, rows)
    assert [done for done, _, _ in told] == sorted(done for done, _, _ in told)
    assert any(words == "Writing measurements" for _, _, words in told)


@pytest.mark.parametrize("role", [None, Role.INSPECTOR], ids=["everywhere", "one territory"])
def test_a_sheet_asks_as_often_for_many_rows_as_for_few(by: Person, role: Role | None) -> None:
    north = Territory.objects.get(code="N")
    reader = railway.person(role, north) if role else by

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            export(by=reader, form="zip")
        return len(asked)

    queries()  # the person's grants are read once
    few = queries()
    for _ in range(12):
        railway.spalled_frog(railway.turnout(railway.track(railway.line(north))))
    assert queries() == few


@pytest.mark.django_db(transaction=True)
def test_all_sheets_show_one_moment_whatever_is_changed_meanwhile(
    by: Person, tmp_path: Path
) -> None:
    def somebody_else_reports(done: int, total: int, words: str) -> None:
        if words != "Writing instruments":
            return
        elsewhere = connection.copy()
        try:
            with elsewhere.cursor() as cursor:
                cursor.execute("UPDATE turnouts_inspection SET note = 'meanwhile'")
        finally:
            elsewhere.close()

    with (tmp_path / "x.zip").open("w+b") as held:
        write_export(held, by=by, form="zip", progress=somebody_else_reports)
        held.seek(0)
        notes = {row["note"] for row in rows_in_zip(held.read(), "inspections")}

    assert notes == {"Dry"}
    with (tmp_path / "y.zip").open("w+b") as held:
        write_export(held, by=by, form="zip")
        held.seek(0)
        assert {row["note"] for row in rows_in_zip(held.read(), "inspections")} == {"meanwhile"}


@pytest.mark.parametrize(
    ("task", "name"),
    [
        (tasks.carry_out_export, export_runs.TASK),
        (tasks.take_away_old_exports, "turnouts.take_away_old_exports"),
    ],
)
def test_the_tasks_have_the_names_by_which_they_are_called(task: Any, name: str) -> None:
    assert app.tasks[name].run is task.run


def test_old_files_are_looked_for_every_day() -> None:
    [entry] = [
        one
        for one in app.conf.beat_schedule.values()
        if one["task"] == tasks.take_away_old_exports.name
    ]
    assert len(entry["schedule"].hour) == 1
