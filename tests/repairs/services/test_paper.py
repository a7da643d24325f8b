"""The paper says what the page says, in two pages and the drawings."""

import re

import pytest

from repairs.paper.sheet import paper_for, said
from repairs.services.job_sheets import withdraw_job_sheet
from tests import railway
from tests.repairs import rows
from turnouts.analysis.showing import METRIC, US

pytestmark = pytest.mark.django_db

ADDRESS = "https://frogs.example/sheets/S-1/"


def pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def test_a_sheet_is_two_pages_and_a_drawing() -> None:
    pdf = paper_for(rows.sheet(), ADDRESS, US)
    assert pdf.startswith(b"%PDF-")
    assert pages(pdf) == 3


def test_four_zones_still_fit_on_two_pages_and_their_drawings() -> None:
    point = rows.spalled_point()
    sizes = {"length_mm": 60, "width_mm": 20, "depth_mm": 9, "breaks_surface": True}
    sizes |= {"reaches_edge": False, "reaches_base": False}
    for zone in ("left_wing", "right_wing", "tread"):
        railway.defect(point.component, point.inspection, zone=zone, **sizes)
    sheet = rows.sheet(rows.job(point))
    assert len(sheet.content["zones"]) == 4
    assert pages(paper_for(sheet, ADDRESS, US)) == 4  # two drawings a page


def test_work_in_every_zone_of_a_frog_fits_on_two_pages_and_its_drawings() -> None:
    point = rows.spalled_point()
    sizes = {"length_mm": 60, "width_mm": 20, "depth_mm": 9, "breaks_surface": True}
    sizes |= {"reaches_edge": False, "reaches_base": False}
    for zone in ("left_wing", "right_wing", "tread", "guard_face"):
        railway.defect(point.component, point.inspection, zone=zone, **sizes)
    sheet = rows.sheet(rows.job(point))
    assert len(sheet.content["zones"]) == 5
    assert pages(paper_for(sheet, ADDRESS, US)) == 4  # in smaller letters, three drawings a page


def test_words_of_a_note_are_never_markup() -> None:
    note = '#panic("no") *bold* $x$ ] #image("/etc/passwd") \\'
    sheet = rows.sheet(rows.job(rows.spalled_point(note=note)))
    assert said(sheet, US)["defects"][0]["note"] == note
    assert pages(paper_for(sheet, ADDRESS, US)) == 3


def test_a_sheet_for_grinding_has_no_settings_and_prints() -> None:
    ground = rows.spalled_point(kind="metal_flow", depth_mm=2, zone="tread")
    job = rows.job(ground)
    assert job.procedure == "grinding"
    sheet = rows.sheet(job)
    assert said(sheet, US)["settings"] == []
    assert pages(paper_for(sheet, ADDRESS, US)) >= 2


def test_the_same_sheet_is_set_once_and_a_withdrawn_one_anew() -> None:
    sheet = rows.sheet()
    first = paper_for(sheet, ADDRESS, US)
    assert paper_for(sheet, ADDRESS, US) is first
    sheet = withdraw_job_sheet(by=railway.person("supervisor"), sheet=sheet, at=rows.NOW)
    assert paper_for(sheet, ADDRESS, US) != first


def test_sizes_stand_in_both_units_and_times_on_the_railways_clock() -> None:
    data = said(rows.sheet(), US)
    assert "70 mm (2 3/4 in) long" in data["defects"][0]["extents"]
    assert (data["track_time"]["hand_back"], data["stages"][0]["begins"]) == ("06:00", "22:15")
    assert data["where"]["frog_number"] == "10"


def test_settings_stand_in_the_units_of_whoever_prints_with_how_well_they_stand() -> None:
    sheet = rows.sheet()
    inches = {one["name"]: one for one in said(sheet, US)["settings"]}
    metric = {one["name"]: one for one in said(sheet, METRIC)["settings"]}
    # 1 in is 25.4 mm: 400 mm/min is 15.7 in/min; 52 degC is 125.6 degF.
    assert inches["Travel"]["value"] == "15.7 in/min"
    assert metric["Travel"]["value"] == "400 mm/min"
    assert inches["Penetrant, not on steel hotter than"]["value"].startswith("125.6")
    assert metric["Penetrant, not on steel hotter than"]["value"].startswith("52")
    assert {one["standing"] for one in inches.values()} <= {
        "Published",
        "Common practice",
        "From memory",
        "Assumed",
        "The railway's own",
    }
    assert not [one for one in inches.values() if "_" in one["value"] + one["name"]]


def test_a_sheet_issued_when_settings_were_kept_in_words_still_prints() -> None:
    sheet = rows.sheet()
    sheet.content["procedure"]["settings"] = [
        {"name": "travel", "value": "400 mm/min", "mark": "common-practice", "source": ""}
    ]
    assert said(sheet, US)["settings"] == [
        {"name": "Travel", "value": "400 mm/min", "standing": "Common practice"}
    ]
    assert pages(paper_for(sheet, ADDRESS, US)) >= 2
