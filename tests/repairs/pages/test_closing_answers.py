"""The answer to what a correction makes of a job: on the record's page, by programs, by role."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from repairs.models import ClosingChange, JobSheet
from repairs.services.field_records import correct_record, sign_record
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night

pytestmark = pytest.mark.django_db

ROLES = ("inspector", "welder", "supervisor", "engineer", "administrator")
MAY = ("supervisor", "engineer")


@pytest.fixture
def change() -> ClosingChange:
    """A proved repair whose guard check gage was read again and is short of 4 ft 6 3/8 in."""
    return failed(rows.sheet())


def failed(sheet: JobSheet) -> ClosingChange:
    welder = sheet.people.get()
    night = Night(sheet)
    night.whole()
    tap = next(t for t in night.taps if t["data"].get("quantity") == "guard_check_gage")
    assert night.send(welder).refused == []
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    data = {"quantity": "guard_check_gage", "value_mm": "1370"}
    night.tap("correction", 700, of=tap["id"], reason="Read again", data=data)
    assert night.send(welder, 701).refused == []
    correct_record(by=welder, sheet=sheet, statement="Read again", at=night.at(702))
    return ClosingChange.objects.get(record__sheet=sheet)


def sender(change: ClosingChange, role: str, made: Any = Client) -> Any:
    client = made()
    client.force_login(railway.person(role, change.record.sheet.job.turnout.territory))
    return client


def page_of(change: ClosingChange) -> str:
    return f"/sheets/{change.record.sheet.number}/record/"


@pytest.mark.parametrize("role", ROLES)
def test_qualified_people_answer_on_the_page_and_nobody_else(
    change: ClosingChange, role: str
) -> None:
    client = sender(change, role)
    shown = client.get(page_of(change))
    if shown.status_code == 200:
        said = shown.content.decode()
        assert "What becomes of the job after record 2" in said
        assert ("Approve as" in said) is (role in MAY)
    answer = client.post(f"{page_of(change)}closing/{change.pk}/answer/", {"answer": "approve"})
    assert answer.status_code == (302 if role in MAY else 403)
    change.refresh_from_db()
    assert change.state == ("approved" if role in MAY else "proposed")


@pytest.mark.parametrize("role", ROLES)
def test_programs_read_and_answer_by_the_same_roles(change: ClosingChange, role: str) -> None:
    where = f"/api/job-sheets/{change.record.sheet.number}/closing-changes/"
    client = sender(change, role, APIClient)
    assert client.get(where).status_code == (200 if role in (*MAY, "welder") else 403)
    answer = f"{where}{change.pk}/answer/"
    if role in MAY:
        assert client.post(answer, {"approve": False}, format="json").status_code == 400
    given = {"approve": False, "note": "The gauge was bent"}
    assert client.post(answer, given, format="json").status_code == (200 if role in MAY else 403)
    if role in MAY:
        (held,) = client.get(where).json()
        assert (held["state"], held["answer_note"]) == ("rejected", "The gauge was bent")
        assert client.post(answer, given, format="json").status_code == 409


def test_a_second_answer_is_409_and_another_territorys_is_404(change: ClosingChange) -> None:
    address = f"{page_of(change)}closing/{change.pk}/answer/"
    stranger = Client()
    stranger.force_login(railway.person("supervisor", railway.territory()))
    assert stranger.post(address, {"answer": "approve"}).status_code == 404
    first, second = (sender(change, role) for role in MAY)
    assert first.post(address, {"answer": "approve"}).status_code == 302
    assert second.post(address, {"answer": "reject", "note": "No"}).status_code == 409


def test_the_running_page_lists_what_waits_and_asks_no_more_for_more(
    change: ClosingChange,
) -> None:
    client = sender(change, "supervisor")

    def queries() -> int:
        client.get("/running/")  # what is kept for the whole process is asked for once
        with CaptureQueriesContext(connection) as asked:
            said = client.get("/running/").content.decode()
        assert "Corrected after signing, waiting for an answer" in said
        return len(asked)

    few = queries()
    track = change.record.sheet.job.turnout.track
    for mile in ("6", "7"):
        point = rows.spalled_point(railway.turnout(track, mile=mile))
        failed(rows.sheet(rows.job(point)))
    assert queries() == few
