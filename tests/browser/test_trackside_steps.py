"""What the card of a step says on the phone, from what was tapped before."""

from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Page

from repairs.models import JobSheet
from repairs.services.field_rows import facts_of
from tests.browser.conftest import Enter
from tests.browser.looking import PHONE
from tests.browser.trackside import TEST, issued
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
