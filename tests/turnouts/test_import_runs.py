"""An import through the queue: kept once, looked at, accepted, and never done twice."""

from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.management import CommandError, call_command

from tests.turnouts.sheets import RAILWAY, bring_in, everything, importer, only
from turnouts import tasks
from turnouts.access import Forbidden
from turnouts.models import Defect, ImportFile, Line, LongRun, Person
from turnouts.services.errors import Conflict
from turnouts.services.imports import (
    accept_import,
    carry_out_import,
    import_now,
    report_of,
    start_import,
)
from turnouts.services.sheets.report import ImportReport

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("kept_files", "empty_cache", "railway_is_in"),
]

A_DEFECT = only(defects="reference,inspection,position,kind,zone\nD2,I1,frog,spall,point\n")


def started(by: Person, files: list[tuple[str, bytes]], *, dry_run: bool = True) -> LongRun:
    return start_import(by=by, files=files, dry_run=dry_run, request_key="k")


def looked_at(by: Person, files: list[tuple[str, bytes]]) -> LongRun:
    return carry_out_import(run_id=started(by, files).pk)


def report(run: LongRun) -> ImportReport:
    found = report_of(LongRun.objects.get(pk=run.pk))
    assert found is not None
    return found


def test_the_dry_run_is_kept_as_the_runs_result(by: Person) -> None:
    run = looked_at(by, A_DEFECT)

    assert run.state == "done"
    assert report(run).sheets[0].create == 1
    assert report(run) == bring_in(by, A_DEFECT, dry_run=True)


def test_an_accepted_dry_run_is_done_with_the_same_file(by: Person) -> None:
    dry = looked_at(by, A_DEFECT)

    real = carry_out_import(run_id=accept_import(by=by, dry_run=dry).pk)

    assert report(real).applied
    assert real.import_file.content.name == dry.import_file.content.name
    assert Defect.objects.filter(reference="D2").count() == 1


def test_asking_twice_keeps_one_file_and_starts_one_run(by: Person) -> None:
    assert started(by, A_DEFECT) == started(by, A_DEFECT)
    assert ImportFile.objects.count() == 1


def test_another_file_or_another_key_is_another_run(by: Person) -> None:
    first = started(by, A_DEFECT)

    assert started(by, only(defects=RAILWAY["defects"])) != first
    assert start_import(by=by, files=A_DEFECT, dry_run=True, request_key="other") != first


def test_accepting_twice_starts_one_run_and_a_done_run_is_not_done_again(by: Person) -> None:
    dry = looked_at(by, A_DEFECT)
    once, twice = (accept_import(by=by, dry_run=dry) for _ in range(2))
    assert once == twice

    finished = carry_out_import(run_id=once.pk).finished_at

    assert carry_out_import(run_id=once.pk).finished_at == finished


def test_nothing_is_written_when_the_records_changed_since_the_dry_run(by: Person) -> None:
    dry = looked_at(by, A_DEFECT)
    bring_in(by, A_DEFECT)

    real = report(carry_out_import(run_id=accept_import(by=by, dry_run=dry).pk))

    assert not real.applied
    assert real.changed_since == (
        "Sheet defects: the dry run said 1 new and 0 changed; now it is 0 and 0.",
    )


def test_another_present_value_counts_as_a_change_since_the_dry_run(by: Person) -> None:
    dry = looked_at(by, only(defects=RAILWAY["defects"].replace("3/16", "1/4")))
    Defect.objects.update(depth_mm=9)

    real = report(carry_out_import(run_id=accept_import(by=by, dry_run=dry).pk))

    assert not real.applied
    assert "their present values are others" in real.changed_since[0]
    assert Defect.objects.get().depth_mm == 9


def test_a_dry_run_with_faults_cannot_be_accepted(by: Person) -> None:
    dry = looked_at(by, only(lines="code\nL1\n"))

    with pytest.raises(Conflict, match="has no fault"):
        accept_import(by=by, dry_run=dry)


def test_a_dry_run_that_still_waits_cannot_be_accepted(by: Person) -> None:
    with pytest.raises(Conflict, match="that is done"):
        accept_import(by=by, dry_run=started(by, A_DEFECT))


def test_nobody_accepts_what_another_asked_for(by: Person) -> None:
    dry = looked_at(by, A_DEFECT)

    with pytest.raises(Forbidden, match="Only the person who asked"):
        accept_import(by=importer(), dry_run=dry)


def test_a_run_is_refused_when_the_right_was_taken_away_meanwhile(by: Person) -> None:
    run = started(by, A_DEFECT, dry_run=False)
    by.grants.all().delete()

    done = carry_out_import(run_id=run.pk)

    assert done.state == "failed"
    assert done.message.startswith("You may not import files.")
    assert not Defect.objects.filter(reference="D2").exists()


def test_a_stored_copy_that_was_altered_is_not_imported(by: Person) -> None:
    run = started(by, A_DEFECT, dry_run=False)
    kept = run.import_file
    kept.content.storage.delete(kept.content.name)
    kept.content.storage.save(kept.content.name, ContentFile(A_DEFECT[0][1] + b"\n"))

    done = carry_out_import(run_id=run.pk)

    assert (done.state, "is damaged" in done.message) == ("failed", True)


def test_the_import_is_queued_when_the_request_is_kept_and_not_before(
    by: Person, django_capture_on_commit_callbacks: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent: list[tuple[int]] = []
    monkeypatch.setattr(
        tasks.carry_out_import, "apply_async", lambda args, kwargs, **_: sent.append(tuple(args))
    )
    with django_capture_on_commit_callbacks(execute=True):
        run = started(by, A_DEFECT, dry_run=False)
        assert sent == []

    assert sent == [(run.pk,)]
    tasks.carry_out_import(run.pk)
    assert Defect.objects.filter(reference="D2").exists()


def test_progress_counts_up_to_the_rows_of_the_file(by: Person) -> None:
    told: list[tuple[int, int, str]] = []
    import_now(by=by, files=A_DEFECT, dry_run=True, progress=lambda *step: told.append(step))

    assert told[0] == (0, 1, "Reading the file")
    assert told[-1] == (2, 2, "Writing defects")


def test_the_commands_bring_files_in_and_take_them_out(
    by: Person, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "all.zip"
    call_command("export_files", out, by=by.username)
    call_command("import_files", out, by=by.username, dry_run=True)

    said = capsys.readouterr().out
    assert "defects: 0 new, 0 changed, 1 unchanged, 0 not taken" in said
    assert "Nothing was written." in said


def test_the_command_fails_with_the_faults_of_the_file(
    by: Person, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "week"
    folder.mkdir()
    for name, content in only(lines="code,name,territory,milepost_unit\nL5,Five,X,mi\n"):
        (folder / name).write_bytes(content)

    with pytest.raises(CommandError, match="1 faults; nothing was written"):
        call_command("import_files", folder, by=by.username)

    assert 'There is no territory "X"' in capsys.readouterr().err
    assert not Line.objects.filter(code="L5").exists()


def test_several_files_are_kept_as_one(by: Person) -> None:
    run = started(by, everything())

    assert run.import_file.name == f"{len(RAILWAY)} files.zip"
    assert report(carry_out_import(run_id=run.pk)).changes_nothing
