"""The record's page: reading, signing, correcting, a restriction confirmed, an emergency."""

import json
from decimal import Decimal

import pytest
from django.test import Client

from repairs.models import FieldRecord, JobSheet, StartOverride, TrackRestriction
from repairs.services.field_records import sign_record
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def of(sheet: JobSheet, role: str) -> Client:
    return client(railway.person(role, sheet.job.turnout.territory))


def worked(sheet: JobSheet, **back: str) -> Night:
    night = Night(sheet)
    end = night.whole()
    if back:
        night.taps = [tap for tap in night.taps if tap["kind"] != "handed_back"]
        night.tap("handed_back", end, qualified_person="Ada Lund", **back)
    assert night.send(sheet.people.get()).refused == []
    return night


def test_the_record_is_read_signed_and_then_only_corrected(sheet: JobSheet) -> None:
    worked(sheet)
    welder = client(sheet.people.get())
    address = f"/sheets/{sheet.number}/record/"
    before = welder.get(address).content.decode()
    assert "Nothing that was entered departs from the sheet." in before
    assert "open to the surface" in before
    assert "Sign as" in before
    assert welder.post(f"{address}sign/", {"statement": "Dry night"}).status_code == 302
    after = welder.get(address).content.decode()
    assert "Dry night" in after
    assert "Sign as" not in after
    assert welder.post(f"{address}sign/").status_code == 409
    assert welder.post(f"{address}correct/", {"statement": "Gauge 2"}).status_code == 302
    assert [row.kind for row in FieldRecord.objects.all()] == ["signed", "correction"]
    held = json.loads(welder.get(f"/sheets/{sheet.number}/record.json").content)
    assert [one["sha256"] for one in held["records"]] == [
        row.sha256 for row in FieldRecord.objects.all()
    ]
    assert len(held["entries"]) == sheet.field_events.count()


@pytest.mark.parametrize(
    ("statement", "sentence"),
    [
        ("", "Say what is corrected and why"),
        ("  ", "Say what is corrected and why"),
        ("Gauge 2", "these words were signed already, and no entry came or was put right since"),
    ],
)
def test_an_empty_correction_is_said_at_its_box_and_nothing_is_kept(
    sheet: JobSheet, statement: str, sentence: str
) -> None:
    worked(sheet)
    welder = client(sheet.people.get())
    address = f"/sheets/{sheet.number}/record/"
    welder.post(f"{address}sign/", {"statement": ""})
    welder.post(f"{address}correct/", {"statement": "Gauge 2"})
    answer = welder.post(f"{address}correct/", {"statement": statement})
    assert answer.status_code == 400
    assert sentence in str(answer.context["correction"].errors["statement"])
    assert sentence in answer.content.decode()
    assert FieldRecord.objects.count() == 2


def test_who_may_not_see_sheets_reads_no_record(sheet: JobSheet) -> None:
    for role in ("inspector", "administrator"):
        assert of(sheet, role).get(f"/sheets/{sheet.number}/record/").status_code == 403
    stranger = client(railway.person("welder", railway.territory()))
    assert stranger.get(f"/sheets/{sheet.number}/record/").status_code == 404


def test_a_restriction_waits_for_a_qualified_persons_word(sheet: JobSheet) -> None:
    worked(sheet, state="closed", speed_kmh="16.09344")
    address = f"/sheets/{sheet.number}/record/"
    supervisor = of(sheet, "supervisor")
    assert "Proposed: 10 mph" in supervisor.get(address).content.decode()
    welder = client(sheet.people.get())
    assert welder.post(f"{address}confirm/", {"speed": "25 mph"}).status_code == 403
    assert supervisor.post(f"{address}confirm/", {"speed": ""}).status_code == 400
    assert supervisor.post(f"{address}confirm/", {"speed": "25 mph"}).status_code == 302
    row = TrackRestriction.objects.get()
    assert row.confirmed_kmh == Decimal("40.2336")
    assert row.confirmed_role == "supervisor"
    assert supervisor.post(f"{address}confirm/", {"closed": "yes"}).status_code == 409


def test_a_supervisor_lets_somebody_start_with_a_reason(sheet: JobSheet) -> None:
    helper = railway.person("welder", sheet.job.turnout.territory)
    sheet.people.add(helper)
    address = f"/sheets/{sheet.number}/record/let-start/"
    given = {"person": helper.username, "reason": "Nobody else within two hours"}
    assert client(helper).post(address, given).status_code == 403
    assert of(sheet, "supervisor").post(address, given).status_code == 302
    assert StartOverride.objects.get().person == helper


def test_the_forecasts_own_record_is_for_those_who_estimate(sheet: JobSheet) -> None:
    night = worked(sheet)
    sign_record(by=sheet.people.get(), sheet=sheet, statement="", at=night.at(601))
    supervisor = of(sheet, "supervisor")
    said = supervisor.get("/forecasts/").content.decode()
    assert sheet.number in said
    assert "with fewer than 5 any share would be chance" in said
    lines = supervisor.get("/forecasts.csv").content.decode().splitlines()
    assert lines[0] == "sheet,p50_min,p80_min,p95_min,actual_min"
    assert lines[1].startswith(sheet.number)
    api = supervisor.get("/api/forecasts/").json()
    assert (api["jobs"], api["held"], api["outcomes"][0]["sheet"]) == (1, [], sheet.number)
    for role in ("welder", "inspector"):
        assert of(sheet, role).get("/forecasts/").status_code == 403
        assert of(sheet, role).get("/api/forecasts/").status_code == 403
