"""The calls of the phone at the trackside: what it opens with, sending, repeating, refusals."""

from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.utils import timezone
from PIL import Image
from rest_framework.test import APIClient

from repairs.models import FieldEvent, FieldPhoto, JobSheet
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet(db: None) -> JobSheet:
    return rows.sheet()


@pytest.fixture
def welder(sheet: JobSheet) -> Person:
    return sheet.people.get()


def client(person: Person) -> APIClient:
    made = APIClient()
    made.force_login(person)
    return made


def posted(person: Person, sheet: JobSheet, night: Night, **more: Any) -> Any:
    now = timezone.now().isoformat()
    body = {"device": night.device, "phone_now": now, "events": night.taps} | more
    return client(person).post(f"/api/job-sheets/{sheet.number}/events/", body, format="json")


def test_a_phone_gets_all_it_needs_to_go_on_without_coverage(
    sheet: JobSheet, welder: Person
) -> None:
    body = client(welder).get(f"/api/job-sheets/{sheet.number}/work/").json()
    assert body["sheet"] == {"number": sheet.number, "content": sheet.content}
    assert body["may_start"]["yes"] is True
    assert (body["withdrawn"], body["superseded_by"]) == (False, None)
    assert len(body["probabilities"]) == 41
    assert all(len(stage["remaining"]) == 41 for stage in body["stages"])
    assert body["state"]["phase"] == "waiting"
    assert body["state"]["track"] == "as_found"
    assert body["chance"] == sheet.content["track_time"]["chance"]
    assert len(body["outlook"]["stages"]) == len(body["stages"])
    assert body["clock"]["server_now"]


def test_a_repeat_is_known_and_does_nothing_twice(sheet: JobSheet, welder: Person) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("note", 16, text="Rain")
    first = posted(welder, sheet, night).json()
    second = posted(welder, sheet, night).json()
    ids = [tap["id"] for tap in night.taps]
    assert (first["taken"], first["known"]) == (ids, [])
    assert (second["taken"], second["known"]) == ([], ids)
    assert first["events"] == second["events"]
    assert FieldEvent.objects.count() == 2


def test_a_bad_event_is_refused_alone(sheet: JobSheet, welder: Person) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("stage_started", 16, stage="9-nowhere.gouging")
    night.tap("measurement", 17, quantity="guard_check_gage", value_mm="wide")
    night.tap("note", 18, text="Go")
    night.taps.append({"id": "no uuid", "kind": "note"})
    night.taps.append("not even an object")  # type: ignore[arg-type]
    body = posted(welder, sheet, night).json()
    assert body["taken"] == [night.taps[0]["id"], night.taps[3]["id"]]
    sentences = [one["sentence"] for one in body["refused"]]
    assert len(sentences) == 4
    assert sentences[0].startswith("The sheet has no stage 9-nowhere.gouging")
    assert "value_mm must be a number" in sentences[1]
    assert all(sentence.endswith(".") for sentence in sentences)


def test_times_are_put_right_by_what_the_phones_clock_is_off(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    taken = night.send(welder, clock_off_s=300)
    row = FieldEvent.objects.get()
    assert taken.offset_s == 300
    assert row.at - row.phone_at == timedelta(minutes=5)
    body = client(welder).get(f"/api/job-sheets/{sheet.number}/work/").json()
    said = [one["sentence"] for one in body["state"]["deviations"] if one["about"] == "clock"]
    assert said == ["The clock of device phone-a was 5 min slow; its times are put right by that."]


def test_who_is_not_on_the_sheet_reads_and_may_not_write(sheet: JobSheet) -> None:
    territory = sheet.job.turnout.territory
    other = rows.qualified(railway.person("welder", territory), sheet.job.procedure)
    engineer = railway.person("engineer", territory)
    night = Night(sheet)
    night.tap("note", 15, text="Hello")
    for person in (other, engineer):
        assert client(person).get(f"/api/job-sheets/{sheet.number}/work/").status_code == 200
        answer = posted(person, sheet, night)
        assert answer.status_code == 403
        assert answer.json()["detail"].endswith("may write on it.")
    inspector = railway.person("inspector", territory)
    assert client(inspector).get(f"/api/job-sheets/{sheet.number}/work/").status_code == 403
    stranger = railway.person("welder", railway.territory())
    assert client(stranger).get(f"/api/job-sheets/{sheet.number}/work/").status_code == 404
    assert posted(railway.person("supervisor", territory), sheet, night).status_code == 200


def test_nobody_starts_who_is_not_qualified_that_day(sheet: JobSheet) -> None:
    helper = railway.person("welder", sheet.job.turnout.territory)
    sheet.people.add(helper)
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("note", 16, text="Holding the torch")
    body = posted(helper, sheet, night).json()
    assert body["taken"] == [night.taps[1]["id"]]
    assert "is not qualified for manganese-wire" in body["refused"][0]["sentence"]
    assert body["state"]["started"] is False
    sheet.job.refresh_from_db()
    assert sheet.job.state == "issued"
    work = client(helper).get(f"/api/job-sheets/{sheet.number}/work/").json()
    assert work["may_start"]["yes"] is False


def test_too_many_at_once_and_a_clock_without_offset_are_refused_with_a_sentence(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    for minute in range(201):
        night.tap("note", minute, text="x")
    answer = posted(welder, sheet, night)
    assert answer.status_code == 400
    assert "At most 200" in answer.json()["detail"]
    answer = posted(welder, sheet, Night(sheet), phone_now="2026-03-05T22:00:00")
    assert answer.status_code == 400
    assert "with its offset" in answer.json()["detail"]


def test_an_expired_login_is_said_so(sheet: JobSheet) -> None:
    answer = APIClient().get(f"/api/job-sheets/{sheet.number}/work/")
    assert answer.status_code in (401, 403)
    assert answer.json()["detail"]


def picture(colour: str = "sienna") -> BytesIO:
    held = BytesIO()
    Image.new("RGB", (64, 48), colour).save(held, "JPEG")
    held.seek(0)
    held.name = "picture.jpg"
    return held


def test_the_picture_of_an_event_is_kept_once(sheet: JobSheet, welder: Person) -> None:
    night = Night(sheet)
    shot = night.tap("photo", 20, caption="Cavity")
    note = night.tap("note", 21, text="x")
    posted(welder, sheet, night)
    address = f"/api/job-sheets/{sheet.number}/events/{shot}/photo/"
    for _ in range(2):
        answer = client(welder).post(address, {"photo": picture()}, format="multipart")
        assert answer.status_code == 200, answer.content
    assert FieldPhoto.objects.count() == 1
    other = client(welder).post(address, {"photo": picture("teal")}, format="multipart")
    assert other.status_code == 409
    wrong = f"/api/job-sheets/{sheet.number}/events/{note}/photo/"
    assert client(welder).post(wrong, {"photo": picture()}, format="multipart").status_code == 400
    junk = BytesIO(b"no picture")
    junk.name = "x.jpg"
    assert client(welder).post(address, {"photo": junk}, format="multipart").status_code == 400
    body = client(welder).get(f"/api/job-sheets/{sheet.number}/work/").json()
    assert [one["has_picture"] for one in body["events"]] == [True, False]


def test_a_whole_night_leaves_the_track_restored_and_the_job_in_work(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.whole()
    body = posted(welder, sheet, night).json()
    assert body["refused"] == []
    state = body["state"]
    assert (state["phase"], state["track"], state["proof"]) == ("handed_back", "restored", "clean")
    assert state["deviations"] == []
    assert state["conflicts"] == []
    assert {stage["state"] for stage in state["stages"]} == {"done"}
    sheet.job.refresh_from_db()
    assert sheet.job.state == "in_work"
    assert [row.defect.state for row in sheet.job.treats.all()] == ["in_work"]
