"""The same request twice at the same moment is done once."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Lock

import pytest
from django.db import connection

from tests import railway
from turnouts.models import KeptAnswer, Territory
from turnouts.services.answers import Answer, answer_once


@pytest.mark.django_db(transaction=True)
def test_two_at_once_are_done_once_and_answered_the_same() -> None:
    sender = railway.person()
    start, lock, done = Barrier(2), Lock(), []

    def work() -> Answer:
        with lock:
            done.append(1)
        return 201, {"reference": "API-1"}

    def send(_: int) -> Answer:
        try:
            start.wait(timeout=10)
            return answer_once(by=sender, key="phone-1", asked="a" * 64, answer=work)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(send, range(2)))
    assert answers == [(201, {"reference": "API-1"})] * 2
    assert len(done) == 1


@pytest.mark.django_db
def test_work_that_fails_keeps_neither_answer_nor_what_it_did() -> None:
    sender = railway.person()

    def work() -> Answer:
        railway.territory("HALF")
        raise RuntimeError("the power went")

    with pytest.raises(RuntimeError):
        answer_once(by=sender, key="phone-1", asked="a" * 64, answer=work)
    assert not KeptAnswer.objects.exists()
    assert not Territory.objects.filter(code="HALF").exists()
