"""Tasks go through Redis to a worker of their own, as JSON."""

import subprocess

import pytest
from kombu.exceptions import EncodeError

from config.celery import app


def test_only_json_is_sent_and_taken() -> None:
    assert app.conf.accept_content == ["json"]
    with pytest.raises(EncodeError):
        app.send_task("anything", args=[object()])


def test_tasks_do_not_run_where_they_are_queued() -> None:
    assert not app.conf.task_always_eager


def test_a_task_whose_worker_dies_is_given_to_another_but_never_while_it_runs() -> None:
    assert app.conf.task_acks_late
    assert app.conf.task_reject_on_worker_lost
    patience = app.conf.broker_transport_options["visibility_timeout"]
    assert patience > app.conf.task_time_limit


@pytest.mark.django_db(transaction=True)
def test_a_worker_takes_a_task_and_answers(worker: subprocess.Popen[bytes]) -> None:
    sent = app.tasks["celery.backend_cleanup"].apply_async()
    sent.get(timeout=30)
    assert sent.successful()
    assert worker.poll() is None
