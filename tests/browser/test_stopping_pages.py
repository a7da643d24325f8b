"""Work that goes on too long is ended from its page. Here the test itself is the worker."""

from collections.abc import Iterator

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from config.celery import app
from planning.models import WeekPlan
from planning.services.what_if import carry_out_what_if
from tests.browser.conftest import Enter
from tests.browser.district import district
from tests.browser.looking import SIZES, says, sound
from tests.browser.repairs import published_week, waiting_jobs
from turnouts.analysis.terms import Role
from turnouts.models import LongRun
from turnouts.services.runs import carry_out


@pytest.fixture(autouse=True)
def _nobody_else_works() -> Iterator[None]:
    """A worker of earlier tests does not listen meanwhile, and finds nothing left after."""
    queue = app.conf.task_default_queue
    app.control.cancel_consumer(queue, reply=True)
    yield
    app.control.purge()
    app.control.add_consumer(queue, reply=True)


@pytest.mark.parametrize("size", SIZES)
def test_a_question_is_stopped_and_says_so(enter: Enter, size: str) -> None:
    here = district(("4", "6"))
    waiting_jobs(here)
    plan = published_week(here)
    page = enter(here.people[Role.SUPERVISOR], f"/plans/{plan.pk}/what-if/", SIZES[size])
    page.locator("form", has_text="were cancelled?").get_by_role("button", name="Ask").click()
    stop = page.get_by_role("button", name="Stop and compare the best so far")
    expect(stop).to_be_visible()
    expect(page.get_by_role("progressbar", name="Waiting")).to_be_visible()
    sound(page)

    stop.click()
    says(page, "the best so far is being compared.")
    expect(stop).to_have_count(0)
    run = LongRun.objects.get(kind="week what-if", asked__plan=plan.pk)
    carry_out(
        run_id=run.pk,
        work=lambda one, tell: carry_out_what_if(run=one, progress=tell, at=timezone.now()),
    )

    says(page, "before anything was worked out; ask once more.")
    sound(page)


@pytest.mark.parametrize("size", SIZES)
def test_the_network_may_keep_to_its_plans_and_be_stopped(enter: Enter, size: str) -> None:
    here = district(("4", "6"))
    waiting_jobs(here)
    plan = published_week(here)
    assert WeekPlan.objects.filter(pk=plan.pk, state="published").exists()
    page = enter(here.people[Role.SUPERVISOR], f"/weeks/{here.monday}/", SIZES[size])
    expect(page.get_by_label("Keep the 1 published plan as far as it goes")).to_be_checked()
    sound(page)

    page.get_by_role("button", name="Plan every territory you plan for").click()
    stop = page.get_by_role("button", name="Stop and keep the best so far")
    expect(stop).to_be_visible()
    sound(page)
    stop.click()
    says(page, "each territory keeps the best it has.")
    run = LongRun.objects.get(kind="network", asked__territories=[here.territory.code])
    assert run.asked["keep"] is True
    assert run.stop.by == here.people[Role.SUPERVISOR]
