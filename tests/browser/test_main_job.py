"""The main job on real parts: an inspector's file goes in, a week with job sheets comes out."""

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from repairs.models import JobSheet
from tests.browser import files
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import PHONE, SIZES, hand_over, log_in, row, says, sound, through_menu
from turnouts.analysis.terms import Role

pytestmark = [pytest.mark.usefixtures("worker")]

DEEP = "11/16"
"""Past the 5/8 in of 49 CFR 213.137(b), on a spall 6 1/4 in long: past its 6 in as well."""


@pytest.mark.parametrize("size", SIZES)
def test_from_the_inspectors_file_to_the_welders_sheet(enter: Enter, size: str) -> None:
    here = district()
    near, _, far = here.spots
    _inspector_hands_over_the_morning(enter(size=SIZES[size]), here)
    supervisor = enter(size=SIZES[size])
    _supervisor_reads_why_and_confirms(supervisor, here, f"D-{near.code}")
    _supervisor_makes_the_repair_jobs(supervisor, f"D-{near.code}")
    _supervisor_plans_the_week(supervisor, here, placed=2, left_out=far.code)
    _supervisor_publishes(supervisor, here)
    sheet = JobSheet.objects.get(job__turnout=near)
    _welder_works_by_the_sheet(enter(size=PHONE, scheme="dark"), here, sheet)
    engineer = enter(here.people[Role.ENGINEER], "/", SIZES[size])
    _engineer_finds_it_all_on_the_life_line(engineer, here, sheet)


def _inspector_hands_over_the_morning(page: Page, here: District) -> None:
    log_in(page, here.people[Role.INSPECTOR])
    expect(page.get_by_role("heading", name="Defects")).to_be_visible()
    hand_over(page, files.as_workbook(files.spalled_points(here, DEEP)))
    says(page, "No fault. This is what would change; nothing has been kept yet.")
    page.get_by_role("button", name="Accept: keep all of it").click()
    expect(page.get_by_text("Kept.", exact=True)).to_be_visible()
    through_menu(page, "Defects")
    expect(page.get_by_text("Not judged yet")).to_have_count(len(here.spots))
    page.get_by_role("button", name="Judge all open defects").click()
    says(page, "Judged 3 open defects: 3 new answers. Now standing: 3 weld in track.")
    sound(page)


def _supervisor_reads_why_and_confirms(page: Page, here: District, defect: str) -> None:
    log_in(page, here.people[Role.SUPERVISOR])
    page.wait_for_url("**/week/**")
    through_menu(page, "Defects")
    page.get_by_role("link", name=defect, exact=True).click()
    verdict = page.get_by_label("What holds now")
    # 49 CFR 213.137(b): a point down more than 5/8 in and more than 6 in back has 10 mph at most.
    expect(verdict.locator(".now")).to_have_text(re.compile(r"^\s*10 mph\s*$"))
    expect(verdict.get_by_text("Weld in track", exact=True)).to_be_visible()
    expect(verdict.get_by_text(re.compile(r"\d{4}-\d\d-\d\d due in \d+ days"))).to_be_visible()
    down = row(page, "Depth of the chipped, broken or worn point")
    for words in ("49 CFR 213.137(b)", "11/16 in", "5/8 in", "1/16 in past", "Past the limit"):
        expect(down).to_contain_text(words)
    expect(row(page, "Guard check gage")).to_contain_text("Within")
    page.get_by_label("Note, if any").fill("Seen on site")
    page.get_by_role("button", name="Confirm this decision").click()
    says(page, "Confirmed under your name.", "Seen on site")
    expect(page.get_by_role("button", name="Confirm this decision")).to_have_count(0)
    sound(page)


def _supervisor_makes_the_repair_jobs(page: Page, defect: str) -> None:
    through_menu(page, "Defects")
    page.get_by_role("button", name="Make repair jobs").click()
    says(page, "3 jobs made, 0 changed, 0 as they were, 0 cancelled.")
    page.get_by_role("main").get_by_role("link", name="Repair jobs").click()
    page.get_by_role("link", name=f"R-{defect}").click()
    says(page, "enough in 80 of 100 cases", "of filler", "beads in", "of arc", "What to load")
    expect(page.get_by_role("img", name="Each stage where it is expected")).to_be_visible()
    sound(page)


def _supervisor_plans_the_week(page: Page, here: District, placed: int, left_out: str) -> None:
    page.goto(here.week_page)
    says(page, "No plan yet. 2 work windows and 3 repairs are waiting for it.")
    page.get_by_role("button", name="Plan this week").click()
    expect(page.get_by_role("heading", name="Plan 1: draft")).to_be_visible()
    expect(page.locator(".figures li").first).to_have_text(f"{placed} jobs in track time")
    drawn = page.get_by_label(re.compile(r"jobs? in \d work windows? on (Tue|Thu)"))
    expect(drawn.first).to_be_visible()
    # Its turnout stands at mile 15; all track time of the week ends at mile 10.
    reasons = page.get_by_role("region", name="Left out, and what would let it in")
    expect(reasons.get_by_role("row").filter(has_text=left_out)).to_contain_text("window")


def _supervisor_publishes(page: Page, here: District) -> None:
    page.get_by_role("button", name="Publish plan 1").click()
    expect(page.get_by_role("heading", name="Plan 1: published")).to_be_visible()
    near, other, _ = here.spots
    for spot in (near, other):
        expect(page.get_by_role("link", name=f"S-D-{spot.code}-1")).to_be_visible()


def _welder_works_by_the_sheet(page: Page, here: District, sheet: JobSheet) -> None:
    log_in(page, here.people[Role.WELDER])
    expect(page.get_by_role("heading", name="My sheets")).to_be_visible()
    sound(page)
    page.get_by_role("link", name=sheet.number).click()
    says(page, f"Weld in track: {sheet.job.turnout.code}", "Gate at mile 4")
    _clock_is_whole(page, sheet.content)
    page.get_by_role("link", name="Hold points").click()
    says(page, "Before each bead: below", "Before anyone fouls the track")
    says(page, "Next bead only below", "11/16 in deep")
    sound(page)
    _paper_is_whole(page, sheet.number)


def _clock_is_whole(page: Page, content: Any) -> None:
    """Each stage with the time it begins and the last moment it may."""
    stages = page.locator("ol.clock li")
    expect(stages).to_have_count(len(content["stages"]))
    expect(stages.first).to_have_text(
        re.compile(r"\d\d:\d\d\s+Briefing.*not after \d\d:\d\d", re.S)
    )
    expect(stages.last).to_have_text(re.compile(r"\d\d:\d\d\s+Clearing and hand back", re.S))
    starts = stages.locator(".time").all_inner_texts()
    assert starts == sorted(starts)  # the window does not run over midnight


def _paper_is_whole(page: Page, number: str) -> None:
    """Two pages to work by and one of drawings, as `repairs/paper/sheet.py` says."""
    address = page.get_by_role("link", name="Paper").get_attribute("href")
    answer = page.request.get(address or "")
    assert answer.headers["content-type"] == "application/pdf"
    paper = answer.body()
    assert paper.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 3
    assert f"Job sheet {number}".encode() in paper


def _engineer_finds_it_all_on_the_life_line(page: Page, here: District, sheet: JobSheet) -> None:
    expect(page.get_by_role("heading", name="Components")).to_be_visible()
    frog, spot = here.frogs[0], here.spots[0]
    page.get_by_role("link", name=frog.serial, exact=True).click()
    page.get_by_text(re.compile(r"All \d+ events as a table")).click()
    for words in (f"D-{spot.code}", "Weld in track: restricted speed", f"Job sheet {sheet.number}"):
        expect(row(page, words).first).to_be_visible()
    expect(page.get_by_role("img", name=re.compile("Life line of"))).to_be_visible()
    sound(page)
    page.get_by_role("link", name=f"Job sheet {sheet.number}").first.click()
    says(page, f"Sheet {sheet.number}")
