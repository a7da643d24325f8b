"""Crews are told of what changed for them: once each, after publishing, whatever the mail does."""

import pytest
from django.core import mail
from django.utils import timezone
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from planning.models import CrewNotice, WeekPlan
from planning.services.publish import publish_plan
from planning.services.telling import TASK, crews_without_address, send_notices
from tests import track_time
from tests.planning.conftest import SmallWeek
from tests.planning.test_hand_edits import move, take_out
from tests.track_time import at

NOW = at(-1, 12)


@pytest.fixture
def welder_with_mail(small_week: SmallWeek) -> str:
    welder = small_week.crew.members.get().person
    welder.email = "welder@railway.example"
    welder.save()
    return welder.email


def publish(week: SmallWeek, plan: WeekPlan) -> WeekPlan:
    plan.refresh_from_db()
    return publish_plan(by=week.supervisor, plan=plan, expected_version=plan.version, at=NOW)


def test_the_crew_is_mailed_where_and_when_and_by_when_to_hand_back(
    small_week: SmallWeek, welder_with_mail: str, settings: Settings
) -> None:
    settings.SITE_URL = "https://frogs.example"
    publish(small_week, small_week.plan())

    assert send_notices(at=NOW) == 1

    [letter] = mail.outbox
    assert letter.to == [welder_with_mail]
    assert letter.subject == "Your week of 2 March: plan 1"
    for job in small_week.jobs:
        assert f"{job.reference} at turnout {job.turnout.code}" in letter.body
    assert "hand back by 16:00" in letter.body
    assert f"https://frogs.example/week/{small_week.territory.code}/2026-03-02/" in letter.body


def test_nobody_is_mailed_twice(small_week: SmallWeek, welder_with_mail: str) -> None:
    publish(small_week, small_week.plan())
    assert [send_notices(at=NOW), send_notices(at=NOW)] == [1, 0]
    assert len(mail.outbox) == 1


def test_a_crew_whose_week_stays_the_same_is_left_in_peace(
    small_week: SmallWeek, welder_with_mail: str
) -> None:
    publish(small_week, small_week.plan("first"))
    publish(small_week, small_week.plan("same again"))
    assert CrewNotice.objects.count() == 1


def test_what_moved_and_what_went_is_said(small_week: SmallWeek, welder_with_mail: str) -> None:
    first = publish(small_week, small_week.plan())
    last = first.placed.select_related("job").order_by("starts_at").last()
    early = first.placed.select_related("job").order_by("starts_at").first()
    assert last is not None
    assert early is not None
    moved = move(small_week, first, last.job.reference, 13)
    publish(small_week, take_out(small_week, moved, early.job.reference))

    text = CrewNotice.objects.latest("pk").text
    assert "Mon 2 Mar 13:00" in text
    assert f"It was Mon 2 Mar {last.starts_at:%H:%M}." in text
    assert f"No longer yours: {early.job.reference}" in text


def test_a_crew_that_lost_its_whole_week_is_told_too(
    small_week: SmallWeek, welder_with_mail: str
) -> None:
    publish(small_week, small_week.plan("first"))
    small_week.crew.shifts.all().delete()
    publish(small_week, small_week.plan("second"))

    assert CrewNotice.objects.latest("pk").text.count("No longer yours") == 2


def test_a_mail_server_that_is_down_is_asked_again_later(
    small_week: SmallWeek, welder_with_mail: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    publish(small_week, small_week.plan())

    def down(*_: object) -> None:
        raise ConnectionRefusedError("nobody listens")

    with monkeypatch.context() as broken:
        broken.setattr("turnouts.services.letters.send_mail", down)
        assert send_notices(at=NOW) == 0
    notice = CrewNotice.objects.get()
    assert (notice.sent_at, notice.tries) == (None, 1)
    assert notice.fault == "ConnectionRefusedError: nobody listens"
    assert send_notices(at=NOW) == 1
    notice.refresh_from_db()
    assert (notice.sent_at, notice.fault) == (NOW, "")


def test_the_queue_is_told_only_when_the_plan_is_committed(
    small_week: SmallWeek,
    welder_with_mail: str,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    sent: list[str] = []

    class Signature:
        def __init__(self, task: str) -> None:
            self.task = task

        def apply_async(self) -> None:
            sent.append(self.task)

    class Queue:
        signature = Signature

    monkeypatch.setattr("planning.services.telling.current_app", Queue)
    plan = small_week.plan()
    with django_capture_on_commit_callbacks(execute=True):
        publish(small_week, plan)
        assert sent == []
    assert sent == [TASK]


def test_a_crew_nobody_can_reach_is_named(small_week: SmallWeek) -> None:
    plan = publish(small_week, small_week.plan())
    assert crews_without_address(plan) == [small_week.crew]
    assert not CrewNotice.objects.exists()
    small_week.crew.members.get().person.__class__.objects.update(email="a@railway.example")
    assert crews_without_address(plan) == []


def test_somebody_who_left_the_crew_is_not_written_to(
    small_week: SmallWeek, welder_with_mail: str
) -> None:
    stays = track_time.member(small_week.crew, "manganese-wire", "employee_in_charge")
    stays.email = "stays@railway.example"
    stays.save()
    small_week.crew.members.exclude(person=stays).update(until=timezone.localdate(at(0, 0)))

    publish(small_week, small_week.plan())

    assert [notice.person for notice in CrewNotice.objects.all()] == [stays]
