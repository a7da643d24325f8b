"""How to get there: the place on the earth and the access, the same on page, paper and record."""

import re
from decimal import Decimal

import pgtrigger
import pytest
from django.test import Client
from django.urls import reverse

from repairs.models import JobSheet
from repairs.paper.sheet import paper_for, said
from repairs.services.field_export import record_export
from repairs.services.field_records import sign_record, verify_all
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.analysis.showing import US
from turnouts.models import Turnout

pytestmark = pytest.mark.django_db

ADDRESS = "https://frogs.example/sheets/S-1/"
HERE = {"latitude": Decimal("-48.876700"), "longitude": Decimal("-123.393300")}
LINK = "geo:-48.8767,-123.3933"  # RFC 5870 section 3.3: geo:latitude,longitude
GATE = "Lane on the north side, gate at the bridge; key from the depot"
EVERYWHERE = ["job-sheet", "job-sheet-work"]


def located(**values: object) -> JobSheet:
    """A sheet for a turnout of which these facts are on record."""
    spot = railway.turnout()
    Turnout.objects.filter(pk=spot.pk).update(**values)
    spot.refresh_from_db()
    return rows.sheet(rows.job(rows.spalled_point(spot)))


def text(sheet: JobSheet, page: str) -> str:
    client = Client()
    client.force_login(sheet.people.get())
    return client.get(reverse(page, args=[sheet.number])).content.decode()


@pytest.mark.parametrize("page", EVERYWHERE)
def test_the_phone_opens_a_map_and_the_numbers_can_be_copied(page: str) -> None:
    shown = text(located(**HERE, access=GATE), page)
    assert f'href="{LINK}"' in shown
    for words in (GATE, "48.8767° S, 123.3933° W", "-48.8767, -123.3933"):
        assert words in shown


@pytest.mark.parametrize("page", EVERYWHERE)
@pytest.mark.parametrize("access", [GATE, ""])
def test_without_coordinates_the_phone_says_how_the_place_is_found(page: str, access: str) -> None:
    sheet = located(access=access)
    shown = text(sheet, page)
    assert "geo:" not in shown
    assert "Find it by the line, the track, the milepost" in shown
    assert ("and the access above" in shown) is bool(access)
    assert ("not on record; ask the supervisor" in shown) is not access
    where = sheet.content["where"]
    assert f"{where['line']}, {where['track']}," in shown
    assert f">mi {where['milepost']}</span>" in shown


def signed(sheet: JobSheet) -> None:
    """The whole night's work, taken in and signed by the welder."""
    welder, night = sheet.people.get(), Night(sheet)
    night.whole()
    assert night.send(welder).refused == []
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))


def links(pdf: bytes) -> list[str]:
    """The addresses of the link annotations of a PDF (ISO 32000-1, 12.6.4.7, /URI actions)."""
    return [uri.decode() for uri in re.findall(rb"/S\s*/URI\s*/URI\s*\((.*?)\)", pdf)]


def test_the_paper_has_the_place_in_words_and_as_a_link() -> None:
    sheet = located(**HERE, access=GATE)
    assert said(sheet, US)["place"] == {"words": "48.8767° S, 123.3933° W", "uri": LINK}
    assert LINK in links(paper_for(sheet, ADDRESS, US))


def test_paper_without_coordinates_has_no_link_to_a_map() -> None:
    sheet = located(access=GATE)
    assert said(sheet, US)["place"] is None
    assert not [uri for uri in links(paper_for(sheet, ADDRESS, US)) if uri.startswith("geo:")]


def test_the_longest_access_leaves_the_fullest_sheet_on_its_pages() -> None:
    spot = railway.turnout()
    Turnout.objects.filter(pk=spot.pk).update(**HERE, access="walk 300 yards " * 13)
    point = rows.spalled_point(Turnout.objects.get(pk=spot.pk))
    sizes = {"length_mm": 60, "width_mm": 20, "depth_mm": 9, "breaks_surface": True}
    sizes |= {"reaches_edge": False, "reaches_base": False}
    for zone in ("left_wing", "right_wing", "tread"):
        railway.defect(point.component, point.inspection, zone=zone, **sizes)
    pdf = paper_for(rows.sheet(rows.job(point)), ADDRESS, US)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 4  # two to work by, two of drawings


def test_a_sheet_issued_before_places_were_kept_still_shows_and_prints() -> None:
    sheet = located(access=GATE)
    for axis in HERE:
        del sheet.content["where"][axis]
    with pgtrigger.ignore("repairs.JobSheet:sheets_are_written_once"):
        sheet.save(update_fields=["content"])
    assert sheet.place is None
    assert "Find it by the line" in text(sheet, "job-sheet")
    assert paper_for(sheet, ADDRESS, US).startswith(b"%PDF-")
    signed(sheet)
    assert verify_all() == (1, 1, "")
    assert "latitude" not in record_export(sheet)["where"]


def test_a_record_carries_the_place_and_a_later_survey_alters_nothing_signed() -> None:
    sheet = located(**HERE, access=GATE)
    signed(sheet)
    before = record_export(sheet)
    assert before["where"]["latitude"] == "-48.876700"
    assert before["where"]["access"] == GATE
    Turnout.objects.filter(code=sheet.job.turnout.code).update(latitude=1, longitude=2)
    sheet = JobSheet.objects.get(pk=sheet.pk)
    assert record_export(sheet) == before
    assert sheet.place is not None
    assert sheet.place.uri == LINK
    assert verify_all() == (1, 1, "")
