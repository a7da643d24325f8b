"""The record as PDF says what its page says, and shows a photograph that was changed."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pgtrigger
import pytest
from django.db import transaction
from django.test import Client
from PIL import Image

from repairs.models import FieldEvent, FieldPhoto, FieldRecord, JobSheet
from repairs.paper.record import record_paper, said
from repairs.services.field_photos import add_field_photo
from repairs.services.field_reading import read_record
from repairs.services.field_records import correct_record, sign_record
from tests.repairs import rows
from tests.repairs.services.test_paper import pages
from tests.repairs.trackside import Night
from turnouts.analysis.showing import METRIC, US

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet(settings: Any, tmp_path: Path) -> JobSheet:
    settings.MEDIA_ROOT = tmp_path
    return rows.sheet()


def picture() -> BytesIO:
    held = BytesIO()
    Image.new("RGB", (1600, 1200), "sienna").save(held, "JPEG")
    held.seek(0)
    return held


def a_night(sheet: JobSheet) -> tuple[Night, str]:
    """Worked by the sheet, with one photograph and a reading typed wrong."""
    night = Night(sheet)
    end = night.whole()
    shot = night.tap("photo", end - 5, caption="Cavity cut")
    wrong = night.tap("measurement", end - 1, quantity="guard_check_gage", value_mm="1300")
    night.tap("material_used", end - 1, key="manganese-wire", quantity="2.5")
    welder = sheet.people.get()
    assert night.send(welder).refused == []
    add_field_photo(by=welder, sheet=sheet, event_id=shot, upload=picture(), at=night.at(600))
    return night, wrong


def corrected(night: Night, sheet: JobSheet, wrong: str) -> FieldRecord:
    """Signed as it was, then the wrong reading put right and the correction signed."""
    welder = sheet.people.get()
    sign_record(by=welder, sheet=sheet, statement="Dry night", at=night.at(601))
    data = {"quantity": "guard_check_gage", "value_mm": "1388"}
    night.tap("correction", 602, of=wrong, reason="Typed wrong.", data=data)
    assert night.send(welder, 603).refused == []
    return correct_record(by=welder, sheet=sheet, statement="Gage was 1388", at=night.at(604))


def test_it_says_who_signed_as_what_and_the_digests_that_hold_it_together(sheet: JobSheet) -> None:
    night, wrong = a_night(sheet)
    row = corrected(night, sheet, wrong)
    told = said(read_record(sheet), US)
    signed, correction = told["signatures"]
    welder = sheet.people.get()
    assert (signed["name"], signed["statement"]) == (str(welder), "Dry night")
    assert signed["as"].startswith("welder. manganese-wire, issued 2025-03-01, until 2027-03-01")
    assert correction["sha256"] == row.sha256
    assert correction["previous"] == signed["sha256"]
    assert correction["entries"].endswith(f"new: {len(told['entries'])}")
    assert told["warnings"] == []


def test_a_correction_stands_beside_what_it_corrects(sheet: JobSheet) -> None:
    night, wrong = a_night(sheet)
    before = said(read_record(sheet), METRIC)
    assert before["warnings"] == ["NOT SIGNED. Nobody has put their name to this record."]
    assert any("1300" in sentence for sentence in before["deviations"])
    corrected(night, sheet, wrong)
    told = said(read_record(sheet), METRIC)
    (was, now, why), *others = told["corrections"]
    assert others == []
    assert "value mm 1300" in was
    assert "value mm 1388" in now
    assert why.startswith("Typed wrong. ")
    entry = next(one for one in told["entries"] if "1300" in one["says"])
    assert "value mm 1388" in entry["now"]
    assert told["deviations"] == []


def test_readings_are_in_the_readers_units(sheet: JobSheet) -> None:
    a_night(sheet)
    read = read_record(sheet)
    assert said(read, METRIC)["readings"][0][1].endswith(" mm")
    assert said(read, US)["readings"][0][1].endswith(" in")
    assert said(read, US)["passes"][0][2] == "194 °F"  # 90 degC
    used = {name: amount for name, amount, _ in said(read, US)["materials"]}
    assert list(used.values()) == ["2.5 kg"]


def test_the_photograph_stands_small_in_the_pdf_and_one_that_was_changed_is_named(
    sheet: JobSheet,
) -> None:
    a_night(sheet)
    (shown,) = said(read_record(sheet), US)["pictures"]
    assert shown["words"].startswith("Cavity cut, ")
    assert max(Image.open(BytesIO(bytes(shown["bytes"]))).size) == 480
    pdf = record_paper(read_record(sheet), US)
    assert pdf.startswith(b"%PDF-")
    assert b"/Subtype/Image" in pdf.replace(b" ", b"")
    assert pages(pdf) in (2, 3)

    kept = Path(FieldPhoto.objects.get().image.path)
    kept.write_bytes(kept.read_bytes() + b"x")
    (changed,) = said(read_record(sheet), US)["pictures"]
    assert (changed["bytes"], "was changed" in changed["fault"]) == ([], True)
    kept.unlink()
    (lost,) = said(read_record(sheet), US)["pictures"]
    assert "missing" in lost["fault"]
    assert pages(record_paper(read_record(sheet), US)) in (2, 3)


def test_words_of_a_note_are_never_markup(sheet: JobSheet) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("note", 16, text='#panic("no") *bold* $x$ ] #image("/etc/passwd") \\')
    night.send(sheet.people.get())
    assert '#panic("no")' in said(read_record(sheet), US)["notes"][0]
    assert record_paper(read_record(sheet), US).startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("trigger", "tamper", "words"),
    [
        (
            "repairs.FieldRecord:field_records_stay",
            lambda: FieldRecord.objects.update(statement="All was well"),
            "Record 1 is not what was signed",
        ),
        (
            "repairs.FieldEvent:field_events_stay",
            lambda: FieldEvent.objects.filter(kind="started").update(device="other"),
            "its content was changed afterwards",
        ),
        (
            "repairs.FieldEvent:field_events_stay",
            lambda: FieldEvent.objects.latest("number").delete(),
            "are missing",
        ),
    ],
)
def test_tampering_shows_on_the_record_and_its_paper(
    sheet: JobSheet, trigger: str, tamper: Callable[[], object], words: str
) -> None:
    night = Night(sheet)
    night.whole()
    night.send(sheet.people.get())
    sign_record(by=sheet.people.get(), sheet=sheet, statement="", at=night.at(601))
    assert read_record(sheet).broken == ""
    with pgtrigger.ignore(trigger), transaction.atomic():
        tamper()
    (first, *_) = said(read_record(sheet), US)["warnings"]
    assert first.startswith("THE RECORD DOES NOT HOLD TOGETHER. ")
    assert words in first
    client = Client()
    client.force_login(sheet.people.get())
    assert words in client.get(f"/sheets/{sheet.number}/record/").content.decode()
