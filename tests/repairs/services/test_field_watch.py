"""The supervisor is told once when a job's chance falls under the set level, with or without
signal; the page shows the jobs under way."""

from datetime import datetime
from smtplib import SMTPException
from typing import Any

import pytest
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoCaptureOnCommitCallbacks

from repairs.models import ChanceNotice, FieldWatch, JobSheet
from repairs.services.field_running import running, running_for
from repairs.services.field_watch import TASK, watch_jobs
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.models import Person

pytestmark = pytest.mark.django_db

LATE = 400
"""Minutes into the night after which the whole work cannot be done within its eight hours."""


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


@pytest.fixture
def welder(sheet: JobSheet) -> Person:
    return sheet.people.get()


@pytest.fixture
def supervisor(sheet: JobSheet) -> Person:
    return supervising(sheet, "night.desk@railway.example")


def supervising(sheet: JobSheet, email: str) -> Person:
    person = railway.person("supervisor", sheet.job.turnout.territory)
    person.email = email
    person.save()
    return person


def begun(sheet: JobSheet, welder: Person) -> Night:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("stage_started", 15, stage="briefing")
    night.send(welder, 16)
    return night


def chance_at(sheet: JobSheet, at: datetime) -> float:
    (one,) = running([sheet], at)
    return one.clock.chance


def test_the_supervisor_is_told_once_when_time_runs_out_with_no_signal(
    sheet: JobSheet, welder: Person, supervisor: Person, settings: Any
) -> None:
    settings.SITE_URL = "https://frogs.example"
    night = begun(sheet, welder)
    assert chance_at(sheet, night.at(60)) >= 0.95
    assert watch_jobs(at=night.at(60)) == 0
    assert chance_at(sheet, night.at(LATE)) < 0.95
    assert [watch_jobs(at=night.at(LATE + m)) for m in (0, 2, 4)] == [1, 0, 0]
    (letter,) = mail.outbox
    assert letter.to == [supervisor.email]
    turnout = sheet.job.turnout.code
    assert letter.subject.startswith(f"{turnout}: ")
    assert letter.subject.endswith("% to hand back by 06:00")
    assert "under the 95 % set" in letter.body
    assert "hand the track back as it was found" in letter.body
    assert "Last heard from the phone at 22:16" in letter.body
    assert "https://frogs.example/running/" in letter.body


def test_a_phone_that_reaches_the_office_late_tells_it_at_once(
    sheet: JobSheet,
    welder: Person,
    supervisor: Person,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    night = begun(sheet, welder)
    night.tap("stage_ended", LATE, stage="briefing")
    with django_capture_on_commit_callbacks() as callbacks:
        night.send(welder, LATE + 1)
    notice = ChanceNotice.objects.get()
    assert (notice.person, notice.crossing, notice.sent_at) == (supervisor, 1, None)
    assert len(callbacks) == 1
    assert TASK == "repairs.watch_jobs"
    assert watch_jobs(at=night.at(LATE + 2)) == 1


def test_a_second_fall_is_told_again_and_only_after_it_was_safe_in_between(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = begun(sheet, welder)
    watch_jobs(at=night.at(LATE))
    night.taps.clear()
    night.whole(factor=1.2, last="penetrant")  # nearly everything was done out of coverage
    night.send(welder, LATE + 5)
    watch = FieldWatch.objects.get()
    assert (watch.under, watch.crossings) == (False, 1)
    assert watch_jobs(at=night.at(479)) == 1
    assert list(ChanceNotice.objects.values_list("crossing", flat=True)) == [1, 2]
    assert [watch_jobs(at=night.at(479 + m)) for m in (2, 4)] == [0, 0]


def test_a_chance_that_wavers_about_the_level_falls_once(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = begun(sheet, welder)
    watch_jobs(at=night.at(LATE))
    low, high = 60.0, float(LATE)
    for _ in range(30):  # the minute at which the chance stands a hair above the set level
        middle = (low + high) / 2
        low, high = (middle, high) if chance_at(sheet, night.at(middle)) >= 0.955 else (low, middle)
    assert 0.95 <= chance_at(sheet, night.at(low)) < 0.97
    watch_jobs(at=night.at(low))
    assert FieldWatch.objects.get().under is True
    assert watch_jobs(at=night.at(LATE)) == 0


def test_each_supervisor_with_an_address_is_told_and_nobody_else(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    other = supervising(sheet, "second@railway.example")
    supervising(sheet, "")
    left = supervising(sheet, "left@railway.example")
    left.is_active = False
    left.save()
    stranger = railway.person("supervisor", railway.territory())
    stranger.email = "far@railway.example"
    stranger.save()
    welder.email = "welder@railway.example"
    welder.save()
    night = begun(sheet, welder)
    assert watch_jobs(at=night.at(LATE)) == 2
    assert {letter.to[0] for letter in mail.outbox} == {supervisor.email, other.email}


def test_a_letter_that_could_not_go_is_kept_and_goes_later(
    sheet: JobSheet, welder: Person, supervisor: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    night = begun(sheet, welder)

    def down(*_: Any, **__: Any) -> None:
        raise SMTPException("the server is away")

    with monkeypatch.context() as cut:
        cut.setattr("turnouts.services.letters.send_mail", down)
        assert watch_jobs(at=night.at(LATE)) == 0
    assert "the server is away" in ChanceNotice.objects.get().fault
    assert watch_jobs(at=night.at(LATE + 2)) == 1


def test_an_ended_job_is_watched_no_more(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("handed_back", 20, state="as_found", qualified_person="Ada Lund")
    night.send(welder, 21)
    assert watch_jobs(at=night.at(470)) == 0
    found = running_for(supervisor, night.at(470))
    assert (found.running, [one.sheet for one in found.unsigned]) == ([], [sheet])
    assert not found.unsigned[0].left_open


def test_a_job_broken_off_with_the_track_cut_stands_out_among_those_that_ended(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("stage_started", 16, stage="1-point.gouging")
    night.tap("broken_off", 20, reason="Thunderstorm", state="open")
    night.send(welder, 21)
    [ended] = running_for(supervisor, night.at(470)).unsigned
    assert (ended.sheet, ended.left_open) == (sheet, True)
    client = Client()
    client.force_login(supervisor)
    shown = client.get("/running/").content.decode()
    assert '<strong class="word late">Track open</strong>' in shown


def test_the_page_and_the_api_show_chance_state_and_when_the_phone_was_heard(
    sheet: JobSheet, welder: Person, supervisor: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    night = begun(sheet, welder)
    at = night.at(LATE)
    watch_jobs(at=at)
    monkeypatch.setattr("django.utils.timezone.now", lambda: at)
    client = Client()
    client.force_login(supervisor)
    shown = client.get("/running/").content.decode()
    for words in (
        "under the 95 % set",
        "Briefing and protection, since 22:15",
        "22:16, 6 h 24 min ago",
        "Nothing is cut.",
        f"{supervisor}, 04:40",
    ):
        assert words in shown
    (job,) = client.get("/api/running-jobs/").json()["running"]
    assert (job["sheet"], job["under"], job["doing"]) == (
        sheet.number,
        True,
        "Briefing and protection",
    )
    assert [told["person"] for told in job["told"]] == [supervisor.username]


def test_nobody_with_an_address_is_said_so(
    sheet: JobSheet, welder: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    watcher = supervising(sheet, "")
    Person.objects.exclude(pk=watcher.pk).update(email="")
    night = begun(sheet, welder)
    at = night.at(LATE)
    watch_jobs(at=at)
    monkeypatch.setattr("django.utils.timezone.now", lambda: at)
    client = Client()
    client.force_login(watcher)
    assert (
        "It goes out within minutes to each supervisor" in client.get("/running/").content.decode()
    )


def test_track_time_that_began_with_nothing_heard_is_listed(
    sheet: JobSheet, supervisor: Person
) -> None:
    night = Night(sheet)
    assert running_for(supervisor, night.at(-1)).unheard == []
    assert running_for(supervisor, night.at(0)).unheard == [sheet]
    assert running_for(supervisor, night.at(480)).unheard == []
    stranger = railway.person("supervisor", railway.territory())
    assert running_for(stranger, night.at(1)).unheard == []


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "engineer", "administrator"])
def test_only_supervisors_watch_jobs(sheet: JobSheet, role: str) -> None:
    client = Client()
    client.force_login(railway.person(role, sheet.job.turnout.territory))
    expected = 200 if role == "supervisor" else 403
    for address in ("/running/", "/api/running-jobs/"):
        assert client.get(address).status_code == expected


def test_the_page_asks_no_more_for_more_jobs(
    sheet: JobSheet, welder: Person, supervisor: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun(sheet, welder)
    at = Night(sheet).at(100)
    monkeypatch.setattr("django.utils.timezone.now", lambda: at)
    client = Client()
    client.force_login(supervisor)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert client.get("/running/").status_code == 200
        return len(asked)

    queries()
    few = queries()
    track = sheet.job.turnout.track
    for mile in ("6", "7"):
        point = rows.spalled_point(railway.turnout(track, mile=mile))
        other = rows.sheet(rows.job(point))
        begun(other, other.people.get())
    assert queries() == few
