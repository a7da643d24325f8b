"""Signing, correcting, an emergency and a restriction, by programs: roles, repeats, answers."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from repairs.models import FieldRecord, JobSheet, StartOverride, TrackRestriction
from repairs.services.field_records import sign_record
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.models import Person

pytestmark = pytest.mark.django_db

ROLES = ("inspector", "welder", "supervisor", "engineer", "administrator")


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


def client(person: Person) -> APIClient:
    made = APIClient()
    made.force_login(person)
    return made


def in_role(sheet: JobSheet, role: str) -> APIClient:
    """Somebody of the territory in a role; the welder is the one on the sheet."""
    if role == "welder":
        return client(sheet.people.get())
    return client(railway.person(role, sheet.job.turnout.territory))


def worked(sheet: JobSheet, **back: str) -> Night:
    """A whole night; ``back`` is how the track was handed back, when not at class speed."""
    night = Night(sheet)
    end = night.whole()
    if back:
        night.taps = [tap for tap in night.taps if tap["kind"] != "handed_back"]
        night.tap("handed_back", end, qualified_person="Ada Lund", **back)
    assert night.send(sheet.people.get()).refused == []
    return night


def at(sheet: JobSheet, rest: str) -> str:
    return f"/api/job-sheets/{sheet.number}/{rest}"


@pytest.mark.parametrize("role", ROLES)
def test_a_record_is_signed_by_those_who_may_and_by_nobody_else(sheet: JobSheet, role: str) -> None:
    worked(sheet)
    answer = in_role(sheet, role).post(at(sheet, "record/sign/"), {"statement": "Dry night"})
    may = role in ("welder", "supervisor", "engineer")
    assert answer.status_code == (201 if may else 403)
    assert FieldRecord.objects.exists() is may
    if may:
        body = answer.json()
        row = FieldRecord.objects.get()
        assert (body["role"], body["sha256"], body["kind"]) == (role, row.sha256, "signed")
        assert body["closed"]["job_state"] == "done"


def test_the_same_request_signs_once_and_another_is_told_it_is_signed(sheet: JobSheet) -> None:
    worked(sheet)
    welder = in_role(sheet, "welder")
    key: Any = {"headers": {"Idempotency-Key": "sign-1"}}
    first = welder.post(at(sheet, "record/sign/"), {"statement": ""}, **key)
    again = welder.post(at(sheet, "record/sign/"), {"statement": ""}, **key)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    other = welder.post(at(sheet, "record/sign/"), {"statement": ""})
    assert other.status_code == 409
    assert "correct it instead" in other.json()["detail"]
    assert FieldRecord.objects.count() == 1


def test_nothing_is_signed_or_corrected_before_its_time(sheet: JobSheet) -> None:
    welder = in_role(sheet, "welder")
    unended = welder.post(at(sheet, "record/sign/"), {"statement": ""})
    assert (unended.status_code, "not ended" in unended.json()["detail"]) == (400, True)
    worked(sheet)
    unsigned = welder.post(at(sheet, "record/correct/"), {"statement": "Gage"})
    assert (unsigned.status_code, "not signed yet" in unsigned.json()["detail"]) == (400, True)


def test_a_correction_follows_what_was_signed_and_says_why(sheet: JobSheet) -> None:
    night = worked(sheet)
    sign_record(by=sheet.people.get(), sheet=sheet, statement="", at=night.at(601))
    welder = in_role(sheet, "welder")
    assert welder.post(at(sheet, "record/correct/"), {"statement": ""}).status_code == 400
    answer = welder.post(at(sheet, "record/correct/"), {"statement": "Gauge 2 was read"})
    assert (answer.status_code, answer.json()["number"], answer.json()["closed"]) == (201, 2, None)
    for role in ("inspector", "administrator"):
        refused = in_role(sheet, role).post(at(sheet, "record/correct/"), {"statement": "No"})
        assert refused.status_code == 403
    whole = welder.get(at(sheet, "record/")).json()
    assert [one["kind"] for one in whole["records"]] == ["signed", "correction"]
    assert whole["records"][1]["previous"] == whole["records"][0]["sha256"]
    assert len(whole["entries"]) == len(night.taps)


def test_an_entry_is_put_right_once_and_after_the_signature_only_by_a_correction(
    sheet: JobSheet,
) -> None:
    night = worked(sheet)
    welder = in_role(sheet, "welder")
    entry = sheet.field_events.filter(kind="pass_temperature").earliest("number")
    where = at(sheet, f"events/{entry.event_id}/put-right/")
    asked: dict[str, Any] = {"instead": dict(entry.data) | {"degc": "95"}, "reason": "Misread"}
    key: Any = {"headers": {"Idempotency-Key": "right-1"}, "format": "json"}
    first, again = welder.post(where, asked, **key), welder.post(where, asked, **key)
    assert (first.status_code, first.json()) == (again.status_code, again.json())
    assert (first.status_code, first.json()["entered_from"]) == (201, "office")
    stale = welder.post(where, asked | {"reason": "Again"}, format="json")
    assert (stale.status_code, "meanwhile" in stale.json()["detail"]) == (409, True)
    held = {"held": first.json()["event_id"]}
    same = welder.post(where, asked | held, format="json")
    assert (same.status_code, "Nothing is changed" in same.json()["detail"]) == (400, True)
    for role in ("inspector", "engineer", "administrator"):
        assert in_role(sheet, role).post(where, asked | held, format="json").status_code == 403
    sign_record(by=sheet.people.get(), sheet=sheet, statement="", at=night.at(601))
    struck = {"instead": None, "reason": "Another job's"} | held
    late = welder.post(where, struck, format="json")
    assert (late.status_code, "is signed" in late.json()["detail"]) == (409, True)
    change = {"entry": str(entry.event_id), "instead": None} | held
    given = {"statement": "Another job's", "change": change}
    answer = welder.post(at(sheet, "record/correct/"), given, format="json")
    assert (answer.status_code, answer.json()["kind"]) == (201, "correction")
    assert FieldRecord.objects.latest("number").content["state"]["corrections"][-1]["now"] == (
        "struck out"
    )


@pytest.mark.parametrize("rest", ["record/", "record/paper/"])
def test_the_record_is_read_by_those_who_see_sheets(sheet: JobSheet, rest: str) -> None:
    worked(sheet)
    for role in ROLES:
        may = role in ("welder", "supervisor", "engineer")
        answer = in_role(sheet, role).get(at(sheet, rest))
        assert answer.status_code == (200 if may else 403)
        if may and rest == "record/paper/":
            assert answer.content.startswith(b"%PDF-")
    stranger = client(railway.person("engineer", railway.territory()))
    assert stranger.get(at(sheet, rest)).status_code == 404


@pytest.mark.parametrize("role", ROLES)
def test_only_a_supervisor_lets_somebody_start_and_the_reason_is_kept(
    sheet: JobSheet, role: str
) -> None:
    helper = railway.person("welder", sheet.job.turnout.territory)
    given = {"person": helper.username, "reason": "Nobody else within two hours"}
    sender = in_role(sheet, role)
    sheet.people.add(helper)
    answer = sender.post(at(sheet, "let-start/"), given)
    assert answer.status_code == (201 if role == "supervisor" else 403)
    assert StartOverride.objects.exists() is (role == "supervisor")
    if role == "supervisor":
        assert answer.json()["reason"] == given["reason"]
        assert sender.post(at(sheet, "let-start/"), given).status_code == 409
        nobody = sender.post(at(sheet, "let-start/"), given | {"person": "nobody"})
        assert (nobody.status_code, nobody.json()["detail"]) == (400, "Nobody logs in as nobody.")


@pytest.mark.parametrize("role", ROLES)
def test_a_restriction_is_confirmed_once_by_a_qualified_person(sheet: JobSheet, role: str) -> None:
    worked(sheet, state="closed", speed_kmh="16.09344")
    sender = in_role(sheet, role)
    given = {"speed_kmh": "40.2336", "note": "Looked at by day"}
    answer = sender.post(at(sheet, "restriction/"), given)
    assert answer.status_code == (200 if role in ("supervisor", "engineer") else 403)
    row = TrackRestriction.objects.get()
    assert (row.confirmed_at is not None) is (role in ("supervisor", "engineer"))
    if row.confirmed_at:
        assert (answer.json()["confirmed_role"], answer.json()["confirmed_note"]) == (
            role,
            "Looked at by day",
        )
        assert float(answer.json()["confirmed_kmh"]) == 40.2336
        assert sender.post(at(sheet, "restriction/"), given).status_code == 409


def test_a_restriction_is_a_speed_or_closed_and_never_both(sheet: JobSheet) -> None:
    worked(sheet, state="closed", speed_kmh="16.09344")
    supervisor = in_role(sheet, "supervisor")
    wrong: list[dict[str, Any]] = [
        {},
        {"closed": True, "speed_kmh": "16"},
        {"speed_kmh": "-1"},
        {"speed_kmh": "fast"},
    ]
    for given in wrong:
        answer = supervisor.post(at(sheet, "restriction/"), given, format="json")
        assert answer.status_code == 400
    closed = supervisor.post(at(sheet, "restriction/"), {"closed": True}, format="json")
    assert (closed.status_code, closed.json()["confirmed_kmh"]) == (200, None)


def test_a_sheet_handed_back_at_class_speed_has_no_restriction(sheet: JobSheet) -> None:
    worked(sheet)
    supervisor = in_role(sheet, "supervisor")
    assert supervisor.get(at(sheet, "restriction/")).status_code == 404


def test_the_track_is_handed_back_by_an_event_and_only_by_those_on_the_sheet(
    sheet: JobSheet,
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("handed_back", 16, state="as_found", qualified_person="Ada Lund")
    body = {"device": "office", "phone_now": night.at(20).isoformat(), "events": night.taps}
    refused = in_role(sheet, "engineer").post(at(sheet, "events/"), body, format="json")
    assert refused.status_code == 403
    taken = in_role(sheet, "welder").post(at(sheet, "events/"), body, format="json")
    assert taken.json()["state"]["phase"] == "handed_back"
