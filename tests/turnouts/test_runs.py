"""Long runs: started once, carried out once, never lost with the queue."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from tests import railway
from turnouts.access import Forbidden
from turnouts.models import LongRun, Person
from turnouts.services import runs
from turnouts.services.errors import Refused


@pytest.fixture
def person(db: None) -> Person:
    return railway.person("engineer")


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Ids of the runs that were put into the queue."""
    found: list[int] = []
    monkeypatch.setattr(runs, "_send", lambda run: found.append(run.pk))
    return found


def start(person: Person, key: str = "k", **more: Any) -> LongRun:
    run, _ = runs.start_run(kind="triage", request_key=key, by=person, task="some.task", **more)
    return run


def test_one_key_is_one_run_and_one_message(
    person: Person, sent: list[int], django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        first, again = start(person), start(person)

    assert first == again
    assert sent == [first.pk]


def test_the_result_is_kept_and_a_second_delivery_does_nothing(person: Person) -> None:
    run, done = start(person), []

    def work(run: LongRun, progress: runs.Progress) -> dict[str, Any]:
        progress(3, 3, "all")
        done.append(run.pk)
        return {"changed": 3}

    runs.carry_out(run_id=run.pk, work=work)
    kept = runs.carry_out(run_id=run.pk, work=work)

    assert (kept.state, kept.result, done) == ("done", {"changed": 3}, [run.pk])


@pytest.mark.parametrize("refusal", [Refused("Too deep to weld."), Forbidden("Not yours.")])
def test_a_refusal_ends_the_run_with_its_sentence(person: Person, refusal: Exception) -> None:
    run = start(person)

    def work(*_: Any) -> dict[str, Any]:
        raise refusal

    kept = runs.carry_out(run_id=run.pk, work=work)

    assert (kept.state, kept.message) == ("failed", str(refusal))


def test_an_unexpected_fault_is_raised_for_the_log_and_hides_its_text_from_people(
    person: Person,
) -> None:
    run = start(person)

    def work(*_: Any) -> dict[str, Any]:
        raise RuntimeError("secret/path")

    with pytest.raises(RuntimeError):
        runs.carry_out(run_id=run.pk, work=work)
    run.refresh_from_db()
    assert run.state == "failed"
    assert "secret" not in run.message


def test_progress_is_seen_by_others_while_the_work_goes_on(person: Person) -> None:
    run, seen = start(person), []

    def work(run: LongRun, progress: runs.Progress) -> dict[str, Any]:
        progress(1, 4, "Judging defects")
        other = runs.with_progress(LongRun.objects.get(pk=run.pk))
        seen.append((other.done, other.total, other.message))
        return {}

    runs.carry_out(run_id=run.pk, work=work)

    assert seen == [(1, 4, "Judging defects")]


def test_a_run_that_another_worker_has_in_hand_is_left_alone(person: Person) -> None:
    run = start(person)
    elsewhere = connection.copy()
    try:
        with elsewhere.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_lock(%s, %s)", [runs.CLAIM, run.pk])
            left = runs.carry_out(run_id=run.pk, work=lambda *_: {"mine": True})
            cursor.execute("SELECT pg_advisory_unlock(%s, %s)", [runs.CLAIM, run.pk])
    finally:
        elsewhere.close()

    assert left.state == "queued"
    assert runs.carry_out(run_id=run.pk, work=lambda *_: {"mine": True}).state == "done"


@pytest.mark.parametrize("state", ["queued", "running"])
def test_a_run_lost_with_the_queue_is_sent_again_after_ten_minutes(
    person: Person, sent: list[int], state: str
) -> None:
    run = start(person)
    LongRun.objects.filter(pk=run.pk).update(state=state)

    runs.send_again(now=run.requested_at + runs.LOST_AFTER)
    assert sent == []
    runs.send_again(now=run.requested_at + runs.LOST_AFTER + timedelta(seconds=1))
    assert sent == [run.pk]


def test_a_finished_run_is_not_sent_again(person: Person, sent: list[int]) -> None:
    run = start(person)
    runs.carry_out(run_id=run.pk, work=lambda *_: {})

    assert runs.send_again(now=timezone.now() + timedelta(days=1)) == 0
    assert sent == []
