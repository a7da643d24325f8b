"""One entry of a record put right at the office: both stand, once, by those who may."""

from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from repairs.field.events import Kind
from repairs.models import FieldEvent, FieldRecord, JobSheet
from repairs.services.field_records import sign_record
from repairs.services.field_rows import field_state
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


def of(sheet: JobSheet, role: str, **values: Any) -> Client:
    return client(railway.person(role, sheet.job.turnout.territory, **values))


def entered(sheet: JobSheet, kind: str) -> FieldEvent:
    """The first entry of a kind."""
    return sheet.field_events.filter(kind=kind).earliest("number")


def night_of(sheet: JobSheet) -> Night:
    night = Night(sheet)
    night.whole()
    night.tap("note", 500, text="Rain from three")
    night.tap("material_used", 501, key=sheet.content["materials"][0]["key"], quantity=3)
    night.tap("photo", 502, caption="Before")
    zone = night.facts.zones[0].key
    night.tap("indication", 100, zone=zone, shape="rounded", length_mm="1", width_mm="1")
    night.tap("broken_off", 599, reason="Thunder", state="closed")
    assert night.send(sheet.people.get()).refused == []
    return night


def address(sheet: JobSheet, entry: FieldEvent) -> str:
    return f"/sheets/{sheet.number}/record/entries/{entry.event_id}/"


def form_of(asked: Client, where: str) -> dict[str, Any]:
    """What a browser would send back when nothing is typed."""
    form = asked.get(where).context["form"]
    given = {name: form[name].value() for name in form.fields}
    given["at"] = form["at"].value().strftime("%Y-%m-%dT%H:%M:%S")
    return {
        name: value for name, value in given.items() if value is not None and value is not False
    }


def test_a_mistyped_temperature_is_put_right_in_the_readers_units_and_both_are_shown(
    sheet: JobSheet,
) -> None:
    night_of(sheet)
    asked = client(sheet.people.get())
    entry = entered(sheet, "pass_temperature")
    given = form_of(asked, address(sheet, entry))
    assert given["entry degc"] == "194 °F"  # 90 degC
    answer = asked.post(
        address(sheet, entry), given | {"entry degc": "480", "why": "Read the wrong line"}
    )
    assert answer.status_code == 302
    made = sheet.field_events.get(kind=Kind.CORRECTION.value)
    assert made.data["of"] == str(entry.event_id)
    # 480 degF is 248.8888889 degC: (480 - 32) * 5 / 9.
    assert Decimal(made.data["data"]["degc"]) == Decimal("248.8888889")
    assert (made.data["data"]["place_mm"], made.entered_from) == ("25", "office")
    assert "at" not in made.data
    said = asked.get(f"/sheets/{sheet.number}/record/").content.decode()
    assert "194 °F" in said
    assert "480 °F" in said
    assert "Read the wrong line" in said
    assert field_state(sheet).pass_temperatures[0].degc == Decimal("248.8888889")


def test_an_entry_is_struck_out_and_can_be_taken_in_again(sheet: JobSheet) -> None:
    night_of(sheet)
    asked = client(sheet.people.get())
    where = address(sheet, entered(sheet, "broken_off"))
    given = form_of(asked, where)
    assert asked.post(where, given | {"struck": "on", "why": "Went on"}).status_code == 302
    assert field_state(sheet).broken_off is None
    assert "struck out" in asked.get(f"/sheets/{sheet.number}/record/").content.decode()
    again = form_of(asked, where)
    assert again.pop("struck") is True
    assert asked.post(where, again | {"why": "It stopped after all"}).status_code == 302
    broken = field_state(sheet).broken_off
    assert broken is not None
    assert broken.reason == "Thunder"


def test_the_moment_of_a_stage_is_put_right(sheet: JobSheet) -> None:
    night_of(sheet)
    asked = of(sheet, "supervisor")
    entry = entered(sheet, "stage_started")
    where = address(sheet, entry)
    given = form_of(asked, where)
    assert (
        asked.post(where, given | {"at": "2026-03-05T22:30:00", "why": "Late"}).status_code == 302
    )
    state = field_state(sheet).stage(entry.data["stage"])
    assert f"{state.started_at:%H:%M:%S}" == "22:30:00"
    late = form_of(asked, where) | {"at": "2096-03-05T22:30:00", "why": "Later"}
    answer = asked.post(where, late)
    assert answer.status_code == 400
    assert "has not come yet" in answer.content.decode()


@pytest.mark.parametrize(
    ("change", "box", "sentence"),
    [
        ({"why": "Because"}, "struck", "Nothing is changed"),
        ({"entry degc": "480"}, "why", "Say why it is put right"),
        ({"entry degc": "480", "why": "  "}, "why", "Say why it is put right"),
        ({"entry degc": "hot", "why": "Typed"}, "entry degc", "cannot be read"),
        ({"entry degc": "", "why": "Typed"}, "entry degc", "Fill this in"),
    ],
)
def test_what_changes_nothing_or_says_no_reason_is_said_at_its_box_and_kept_nowhere(
    sheet: JobSheet, change: dict[str, str], box: str, sentence: str
) -> None:
    night_of(sheet)
    asked = client(sheet.people.get())
    where = address(sheet, entered(sheet, "pass_temperature"))
    before = sheet.field_events.count()
    answer = asked.post(where, form_of(asked, where) | change)
    assert answer.status_code == 400
    assert sentence in str(answer.context["form"].errors[box])
    assert sheet.field_events.count() == before


def test_the_same_form_sent_twice_is_kept_once(sheet: JobSheet) -> None:
    night_of(sheet)
    asked = client(sheet.people.get())
    where = address(sheet, entered(sheet, "note"))
    given = form_of(asked, where) | {"entry text": "Rain from four", "why": "Clock"}
    assert [asked.post(where, given).status_code for _ in range(2)] == [302, 302]
    assert sheet.field_events.filter(kind=Kind.CORRECTION.value).count() == 1


def test_the_second_of_two_people_is_told_and_changes_nothing(sheet: JobSheet) -> None:
    night_of(sheet)
    first, second = client(sheet.people.get()), of(sheet, "supervisor")
    where = address(sheet, entered(sheet, "note"))
    one, two = form_of(first, where), form_of(second, where)
    assert first.post(where, one | {"entry text": "A", "why": "Mine"}).status_code == 302
    answer = second.post(where, two | {"entry text": "B", "why": "Mine too"})
    assert answer.status_code == 409
    assert "was put right meanwhile" in answer.content.decode()
    assert field_state(sheet).notes[-1].endswith(": A")


def test_a_form_opened_before_the_signature_is_refused_after_it(sheet: JobSheet) -> None:
    night = night_of(sheet)
    asked = client(sheet.people.get())
    where = address(sheet, entered(sheet, "note"))
    given = form_of(asked, where) | {"entry text": "Rain from four", "why": "Clock"}
    sign_record(by=sheet.people.get(), sheet=sheet, statement="", at=night.at(601))
    answer = asked.post(where, given)
    assert answer.status_code == 409
    assert "a correction of the signed record" in answer.content.decode()
    assert not sheet.field_events.filter(kind=Kind.CORRECTION.value).exists()


def test_after_the_signature_it_is_a_correction_of_the_signed_record_once(
    sheet: JobSheet,
) -> None:
    night = night_of(sheet)
    asked = client(sheet.people.get())
    sign_record(by=sheet.people.get(), sheet=sheet, statement="", at=night.at(601))
    entry = entered(sheet, "note")
    where = address(sheet, entry)
    assert "Sign the correction as" in asked.get(where).content.decode()
    given = form_of(asked, where) | {"entry text": "Rain from four", "why": "Clock"}
    assert [asked.post(where, given).status_code for _ in range(2)] == [302, 302]
    kinds = [row.kind for row in FieldRecord.objects.order_by("number")]
    assert kinds == ["signed", "correction"]
    last = FieldRecord.objects.latest("number")
    assert last.statement == f"Entry {entry.number}, note: Clock"
    assert len(last.content["events"]) == sheet.field_events.count()


def test_of_two_corrections_of_the_signed_record_the_second_is_told(sheet: JobSheet) -> None:
    night = night_of(sheet)
    first, second = client(sheet.people.get()), of(sheet, "supervisor")
    sign_record(by=sheet.people.get(), sheet=sheet, statement="", at=night.at(601))
    note, photo = (address(sheet, entered(sheet, kind)) for kind in ("note", "photo"))
    one, two = form_of(first, note), form_of(second, photo)
    assert first.post(note, one | {"entry text": "A", "why": "Mine"}).status_code == 302
    answer = second.post(photo, two | {"entry caption": "B", "why": "Mine too"})
    assert answer.status_code == 409
    assert "was corrected while you had this entry open" in answer.content.decode()
    assert FieldRecord.objects.count() == 2


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind is not Kind.CORRECTION])
def test_every_kind_of_entry_opens_in_its_own_boxes_and_left_alone_changes_nothing(
    sheet: JobSheet, kind: Kind
) -> None:
    night_of(sheet)
    if kind is Kind.GUARD_FACE_RESTORED:
        zone = sheet.content["zones"][0]["key"]
        tap = Night(sheet, "phone-b")
        tap.tap(kind.value, 90, zone=zone)
        assert tap.send(sheet.people.get()).refused == []
    asked = client(sheet.people.get())
    where = address(sheet, entered(sheet, kind.value))
    answer = asked.post(where, form_of(asked, where) | {"why": "Looked"})
    assert answer.status_code == 400
    assert set(answer.context["form"].errors) == {"struck"}


def test_every_kind_of_entry_can_be_struck_out(sheet: JobSheet) -> None:
    night_of(sheet)
    asked = client(sheet.people.get())
    for entry in sheet.field_events.exclude(kind=Kind.CORRECTION.value).order_by("number")[:70]:
        where = address(sheet, entry)
        given = {"name": uuid4(), "records": 0, "struck": "on", "why": "Another job's"}
        assert asked.post(where, given).status_code == 302, entry
    assert field_state(sheet).phase.value == "waiting"


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "engineer", "administrator"])
def test_only_those_on_the_sheet_and_supervisors_put_right(sheet: JobSheet, role: str) -> None:
    night_of(sheet)
    where = address(sheet, entered(sheet, "note"))
    allowed = role == "supervisor"  # another welder of the territory is not on the sheet
    asked = of(sheet, role)
    assert asked.get(where).status_code == (200 if allowed else 403)
    given = {"name": uuid4(), "records": 0, "struck": "on", "why": "Not mine"}
    assert asked.post(where, given).status_code == (302 if allowed else 403)
    assert sheet.field_events.filter(kind=Kind.CORRECTION.value).exists() is allowed
    record = asked.get(f"/sheets/{sheet.number}/record/")
    if record.status_code == 200:
        assert ("Put right</a>" in record.content.decode()) is allowed


def test_the_page_asks_no_more_for_a_long_night_than_for_a_short_one(sheet: JobSheet) -> None:
    short = Night(sheet)
    short.tap("note", 5, text="Fog")
    assert short.send(sheet.people.get()).refused == []
    asked = client(sheet.people.get())
    where = address(sheet, entered(sheet, "note"))

    def queries() -> int:
        asked.get(where)  # what is kept for the whole process is asked for once
        with CaptureQueriesContext(connection) as done:
            assert asked.get(where).status_code == 200
        return len(done)

    few = queries()
    night = Night(sheet, "phone-b")
    night.whole()
    assert night.send(sheet.people.get()).refused == []
    for text in ("A", "B", "C"):
        given = form_of(asked, where) | {"entry text": text, "why": "Clock"}
        assert asked.post(where, given).status_code == 302
    assert queries() == few


def test_another_territorys_entry_and_another_sheets_entry_are_404(sheet: JobSheet) -> None:
    night_of(sheet)
    where = address(sheet, entered(sheet, "note"))
    stranger = client(railway.person("supervisor", railway.territory()))
    assert stranger.get(where).status_code == 404
    asked = of(sheet, "supervisor")
    assert asked.get(f"/sheets/{sheet.number}/record/entries/{uuid4()}/").status_code == 404
