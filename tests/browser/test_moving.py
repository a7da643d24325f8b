"""Moving a job on the week page with a mouse, with the keyboard alone and on a phone."""

import re

import pytest
from playwright.sync_api import Page, expect

from planning.models import WeekPlan
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import DESK, PHONE, SIZES, says, sound
from tests.browser.repairs import published_week, waiting_jobs
from turnouts.analysis.terms import Role


@pytest.fixture
def here(db: None) -> District:
    made = district(("4", "6"))
    waiting_jobs(made)
    published_week(made)
    return made


def at_the_week(enter: Enter, here: District, size: str = "desk") -> Page:
    return enter(here.people[Role.SUPERVISOR], here.week_page, SIZES[size])


def new_plan(here: District) -> WeekPlan:
    return WeekPlan.objects.get(territory=here.territory, number=2)


def test_a_job_is_picked_and_placed_in_the_picture_with_a_mouse(
    enter: Enter, here: District
) -> None:
    page = at_the_week(enter, here)
    page.locator("svg.ground a:has(.job)").first.click()
    expect(page.get_by_role("group", name="Where it could go")).to_be_visible()
    sound(page)

    thursday = page.locator(".mover svg.ground").last.locator("a:has(.opening)").first
    thursday.click()
    expect(page.locator(".opening.chosen")).to_have_count(1)
    page.get_by_role("button", name="Move it there").click()

    expect(page.get_by_role("heading", name="Plan 2: draft")).to_be_visible()
    days = {f"{one.starts_at:%a}" for one in new_plan(here).placed.all()}
    assert "Thu" in days


def test_a_job_is_moved_by_key_alone(enter: Enter, here: District) -> None:
    page = at_the_week(enter, here)
    link = page.get_by_role("link", name=re.compile("^Move ")).first
    link.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#mover-head")).to_be_focused()
    radio = page.locator(".mover").get_by_role("radio").last
    radio.focus()
    page.keyboard.press("Space")
    expect(radio).to_be_checked()
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", name="Plan 2: draft")).to_be_visible()


def test_a_job_is_taken_out_and_put_in_on_a_phone(enter: Enter, here: District) -> None:
    page = at_the_week(enter, here, "phone")
    page.get_by_role("link", name=re.compile("^Move ")).first.click()
    page.get_by_role("button", name="Take it out of the plan").click()
    expect(page.get_by_role("heading", name="Plan 2: draft")).to_be_visible()
    says(page, "Taken out by hand")
    page.get_by_role("link", name=re.compile("^Put in ")).click()
    expect(page.locator("#mover-head")).to_be_visible()
    sound(page)
    page.locator(".mover").get_by_role("radio").first.check()
    page.get_by_role("button", name="Put it in there").click()
    expect(page.get_by_role("heading", name="Plan 3: draft")).to_be_visible()


def test_a_start_that_breaks_a_rule_is_refused_on_the_page(enter: Enter, here: District) -> None:
    page = at_the_week(enter, here)
    page.get_by_role("link", name=re.compile("^Move ")).first.click()
    page.locator(".mover").get_by_role("radio").first.check()
    page.get_by_label("Another start").fill("15:59")
    page.get_by_role("button", name="Move it there").click()

    expect(page.get_by_role("alert")).to_contain_text("Not changed.")
    sound(page)
    assert WeekPlan.objects.filter(territory=here.territory).count() == 1


def test_the_week_goes_on_one_sheet_of_paper(enter: Enter, here: District) -> None:
    page = at_the_week(enter, here)
    paper = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page[^s]", paper)) == 1
    assert re.search(rb"/MediaBox\s*\[\s*0 0 84[12][.\d]* 59[45][.\d]*\s*\]", paper)  # A4 across


def test_on_a_phone_a_drawing_begins_at_its_first_job(enter: Enter, here: District) -> None:
    page = enter(here.people[Role.SUPERVISOR], here.week_page, PHONE)
    frame = page.locator(".scroll:has(svg.ground .job)").first
    left = frame.evaluate(
        "it => Math.min(...[...it.querySelectorAll('.job')].map("
        "job => job.getBoundingClientRect().left)) - it.getBoundingClientRect().left"
    )
    assert 0 <= left < PHONE["width"] / 2
    assert DESK["width"] > PHONE["width"]


def test_a_sheets_number_stays_on_one_line_on_a_phone(enter: Enter, here: District) -> None:
    page = enter(here.people[Role.SUPERVISOR], here.week_page, PHONE)
    number = page.locator("[data-name='Job sheet'] a").first
    box = number.bounding_box()
    assert box is not None
    assert box["height"] < 2 * 20
    assert number.evaluate("it => it.getClientRects().length") == 1
