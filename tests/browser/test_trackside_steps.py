"""What the card of a step says on the phone, from what was tapped before."""

from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from repairs.models import JobSheet
from repairs.services.field_rows import facts_of
from tests.browser.conftest import Enter
from tests.browser.looking import PHONE
from tests.browser.trackside import TEST, at_the_office, begin, done, issued, kinds, opened
from tests.repairs.trackside import GOOD_MM
from turnouts.analysis.terms import Role

pytestmark = pytest.mark.usefixtures("db")

Story = list[tuple[str, dict[str, Any]]]

CARD = """
async ([address, events, units]) => {
  const job = await (await fetch(address)).json();
  const told = events.map((one) => ({...one, at: Date.parse(one.at)}));
  const state = trackside.state.of(job.stages, told);
  const now = told.length ? told[told.length - 1].at : Date.parse(job.starts_at);
  return trackside.steps.stage({job, state, units, now, clock: null}).textContent;
}
"""

INCHES = {"length": "in", "temperature": "degF"}


def up_to(sheet: JobSheet, stage: str) -> Story:
    """Every stage before this one done, this one begun."""
    keys = [one.key for one in facts_of(sheet).stages]
    before = keys[: keys.index(stage)]
    story: Story = [("started", {})]
    for key in before:
        story += [("stage_started", {"stage": key}), ("stage_ended", {"stage": key})]
    return [*story, ("stage_started", {"stage": stage})]


def card(page: Page, sheet: JobSheet, story: Story) -> str:
    """The text of the step's card after a story, one entry a minute."""
    begins = facts_of(sheet).starts_at
    events = [
        {"id": f"e{n:03}", "device": "phone", "seq": n, "kind": kind, "data": data,
         "at": (begins + timedelta(minutes=n)).isoformat()}
        for n, (kind, data) in enumerate(story)
    ]  # fmt: skip
    told = [f"/api/job-sheets/{sheet.number}/work/", events, INCHES]
    return str(page.evaluate(CARD, told))


@pytest.fixture
def phone(enter: Enter) -> tuple[Page, JobSheet]:
    here, sheet = issued()
    return enter(here.people[Role.WELDER], f"/sheets/{sheet.number}/work/", PHONE), sheet


def test_a_clean_penetrant_test_is_said_clean_only_when_it_was_long_enough(
    phone: tuple[Page, JobSheet],
) -> None:
    page, sheet = phone
    before = up_to(sheet, "penetrant")
    clean = ("penetrant_clean", {})
    assert "Nothing showed." in card(page, sheet, [*before, *TEST, clean])
    short = [one for one in TEST if one[0] == "penetrant"]
    said = card(page, sheet, [*before, *short, clean])
    assert "it proves nothing. Test again." in said


def test_a_test_on_steel_too_cold_proves_nothing_and_says_so_before_it_is_read(
    phone: tuple[Page, JobSheet],
) -> None:
    """Below 5 degC, 41 degF, ASME V Table T-672 has no dwell time."""
    page, sheet = phone
    before = up_to(sheet, "penetrant")
    said = [
        card(page, sheet, [*before, ("penetrant", {"step": "applied", "surface_degc": degc})])
        for degc in (4.9, 5)
    ]
    assert "proves nothing: the steel was colder than 41 °F" in said[0]
    assert "proves nothing" not in said[1]


def test_metal_ground_after_a_clean_test_is_tested_again(phone: tuple[Page, JobSheet]) -> None:
    page, sheet = phone
    story = [*up_to(sheet, "penetrant"), *TEST, ("penetrant_clean", {})]
    ground = [
        ("stage_started", {"stage": "1-point.profile_grinding"}),
        ("stage_ended", {"stage": "1-point.profile_grinding"}),
    ]
    said = card(page, sheet, [*story, *ground])
    assert "The metal was worked on after the last test: test again." in said
    assert "Penetrant is on" in said


def test_of_two_readings_the_worse_counts_until_it_is_taken_back(
    phone: tuple[Page, JobSheet],
) -> None:
    """Flangeway depth, 49 CFR 213.137(a): at least 1 1/2 in, 38.1 mm."""
    page, sheet = phone
    story = up_to(sheet, "final_measuring")
    worse = ("measurement", {"quantity": "flangeway_depth", "value_mm": 34.925})
    better = ("measurement", {"quantity": "flangeway_depth", "value_mm": 47.625})
    both = card(page, sheet, [*story, worse, better])
    assert "1 3/8 in (34.925 mm): past the limit." in both
    assert "Back to: Profile grinding" in both
    gone = ("correction", {"of": f"e{len(story):03}", "data": None, "reason": "typed by mistake"})
    put_right = card(page, sheet, [*story, worse, better, gone])
    assert "1 7/8 in (47.625 mm): within." in put_right
    assert "past the limit" not in put_right


def test_a_gage_is_said_in_feet_and_inches(phone: tuple[Page, JobSheet]) -> None:
    page, sheet = phone
    reading = ("measurement", {"quantity": "guard_check_gage", "value_mm": 1388.26875})
    said = card(page, sheet, [*up_to(sheet, "final_measuring"), reading])
    assert "4 ft 6 21/32 in (1388.269 mm): within." in said  # 1388.26875 / 25.4 is 54 21/32


def test_residue_is_ground_off_again_where_a_zone_was_gouged_again(
    phone: tuple[Page, JobSheet],
) -> None:
    page, sheet = phone
    ground_off = ("carbon_removed", {"zone": "1-point"})
    story = [*up_to(sheet, "penetrant"), ground_off]
    again = [(kind, {"stage": "1-point.gouging"}) for kind in ("stage_started", "stage_ended")]
    first = ("stage_started", {"stage": "1-point.layer-01"})
    hold = "Hold point: no bead before every trace of gouging residue is ground off"
    assert hold in card(page, sheet, [*story, *again, first])
    assert hold not in card(page, sheet, [*story, *again, ground_off, first])


def test_every_final_reading_within_leaves_nothing_to_repair(phone: tuple[Page, JobSheet]) -> None:
    page, sheet = phone
    asked = dict.fromkeys(one.quantity.value for one in facts_of(sheet).limits if one.quantity)
    taken = [("measurement", {"quantity": q, "value_mm": GOOD_MM[q]}) for q in asked]
    said = card(page, sheet, [*up_to(sheet, "final_measuring"), *taken])
    assert said.count("within.") == len(asked)
    assert "Repair it again" not in said


def test_a_bead_on_metal_too_hot_is_warned_of_and_done_at_the_second_tap(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    begin(page)
    for _ in range(3):
        done(page)
    page.get_by_role("button", name="Start gouging").click()
    for _ in range(3):
        done(page)
    page.get_by_role("button", name="Ground off, seen by me").click()
    page.get_by_role("button", name="Start: Layer 1").click()
    first = page.get_by_role("heading", name="Layer 1")
    expect(first).to_be_visible()
    done(page)
    expect(page.get_by_role("alert")).to_contain_text("No temperature was written down")
    expect(first).to_be_visible()
    done(page)
    expect(page.get_by_role("heading", name="Layer 2")).to_be_visible()
    at_the_office(page)
    assert kinds(sheet)[-2:] == ["stage_ended", "stage_started"]
