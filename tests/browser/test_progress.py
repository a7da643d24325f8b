"""A long piece of work as the page shows it. Here the test itself is the worker."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from config.celery import app
from planning.services.plans import plan_week
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import SIZES, says, sound
from tests.browser.repairs import waiting_jobs
from turnouts.analysis.terms import Role
from turnouts.models import LongRun
from turnouts.services.errors import Refused
from turnouts.services.runs import Progress, carry_out


@pytest.fixture(autouse=True)
def _nobody_else_works() -> Iterator[None]:
    """A worker of earlier tests does not listen meanwhile, and finds nothing left after."""
    queue = app.conf.task_default_queue
    app.control.cancel_consumer(queue, reply=True)
    yield
    app.control.purge()
    app.control.add_consumer(queue, reply=True)


def asked_for(enter: Enter, size: str = "desk") -> tuple[District, Page, LongRun]:
    """A supervisor who has just asked for the plan of a week."""
    here = district(("4", "6"))
    waiting_jobs(here)
    page = enter(here.people[Role.SUPERVISOR], here.week_page, SIZES[size])
    page.get_by_role("button", name="Plan this week").click()
    return here, page, LongRun.objects.get(kind="plan", asked__territory=here.territory.code)


@pytest.mark.parametrize("size", SIZES)
def test_a_plan_in_the_making_shows_how_far_it_is_and_then_itself(enter: Enter, size: str) -> None:
    _, page, run = asked_for(enter, size)
    expect(page.get_by_role("progressbar", name="Waiting")).to_be_visible()
    says(page, "It goes on if you leave this page.")
    expect(page.get_by_role("button", name="Plan this week")).to_be_disabled()
    sound(page)

    def work(run: LongRun, progress: Progress) -> dict[str, Any]:
        progress(40, 100, "Listing routes")
        expect(page.get_by_role("progressbar", name="Listing routes")).to_have_attribute(
            "value", "40"
        )
        says(page, "40 of 100.")
        return plan_week(run=run, progress=progress, at=timezone.now())

    carry_out(run_id=run.pk, work=work)
    expect(page.get_by_role("heading", name="Plan 1: draft")).to_be_visible()
    expect(page.get_by_role("progressbar")).to_have_count(0)


def test_a_plan_that_cannot_be_made_says_why_and_may_be_asked_for_again(enter: Enter) -> None:
    _, page, run = asked_for(enter)

    def work(run: LongRun, progress: Progress) -> dict[str, Any]:
        raise Refused("Two locked jobs are at one turnout at once.")

    carry_out(run_id=run.pk, work=work)
    says(page, "Two locked jobs are at one turnout at once.")
    expect(page.get_by_role("button", name="Plan this week")).to_be_enabled()


def test_whoever_leaves_the_page_and_comes_back_finds_the_work_going_on(enter: Enter) -> None:
    here, page, _ = asked_for(enter)
    page.goto("/defects/")
    page.goto(here.week_page)
    expect(page.get_by_role("progressbar", name="Waiting")).to_be_visible()
    colleague = enter(here.people[Role.ENGINEER], here.week_page)
    expect(colleague.get_by_role("progressbar", name="Waiting")).to_be_visible()
    says(colleague, "Look again")
