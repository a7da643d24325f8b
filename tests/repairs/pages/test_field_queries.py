"""Pages and calls of the trackside ask as often for a long night as for a short one."""

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from PIL import Image

from repairs.models import FieldEvent, FieldPhoto, JobSheet
from repairs.services.field_photos import add_field_photo
from repairs.services.field_records import correct_record, sign_record
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet(settings: Any, tmp_path: Path) -> JobSheet:
    settings.MEDIA_ROOT = tmp_path
    return rows.sheet()


def queries(client: Client, address: str) -> int:
    client.get(address)  # what is kept for the whole process is asked for once
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


def photographed(night: Night, minute: float) -> None:
    shot = night.tap("photo", minute, caption=f"After {minute:g} min")
    night.send(night.sheet.people.get())
    held = BytesIO()
    Image.new("RGB", (64, 48), "sienna").save(held, "JPEG")
    add_field_photo(
        by=night.sheet.people.get(),
        sheet=night.sheet,
        event_id=shot,
        upload=held,
        at=night.at(600),
    )


@pytest.mark.parametrize(
    "address",
    [
        "/sheets/{}/record/",
        "/sheets/{}/record.json",
        "/sheets/{}/record.pdf",
        "/sheets/{}/work/",
        "/sheets/{}/",
        "/api/job-sheets/{}/work/",
        "/api/job-sheets/{}/record/",
        "/api/job-sheets/{}/record/paper/",
    ],
)
def test_a_long_night_asks_no_more_than_a_short_one(sheet: JobSheet, address: str) -> None:
    welder = sheet.people.get()
    client = Client()
    client.force_login(welder)
    night = Night(sheet)
    night.tap("started", 15)
    photographed(night, 16)
    night.tap("handed_back", 17, state="as_found", qualified_person="Ada Lund")
    night.send(welder)
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    few = queries(client, address.format(sheet.number))
    night.whole()
    for minute in (30, 31, 32):
        photographed(night, minute)
    for number in (1, 2):
        correct_record(by=welder, sheet=sheet, statement=f"{number}", at=night.at(601 + number))
    assert (FieldEvent.objects.count() > 60, FieldPhoto.objects.count()) == (True, 4)
    assert queries(client, address.format(sheet.number)) <= few


def test_the_list_of_sheets_asks_no_more_for_more_sheets(sheet: JobSheet) -> None:
    supervisor = railway.person("supervisor", sheet.job.turnout.territory)
    client = Client()
    client.force_login(supervisor)
    address = "/sheets/?when=earlier&whose=all"
    few = queries(client, address)
    for mile in ("6", "7", "8"):
        point = rows.spalled_point(railway.turnout(sheet.job.turnout.track, mile=mile))
        rows.sheet(rows.job(point))
    assert queries(client, address) == few
