"""The pages of rules and overruling can be read whole, at a desk and on a phone."""

from typing import Any

import pytest
from django.utils import timezone

from repairs import tasks
from repairs.services.rule_preview import request_preview
from tests import railway
from tests.repairs import rows
from tests.repairs.pages.looking import DESK, PHONE, enter, sound
from tests.repairs.pages.test_rule_pages import PROPOSE, judged, proposed


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_each_page_of_rules_is_sound(
    size: dict[str, int], transactional_db: None, live_server: Any, browser: Any
) -> None:
    defect = rows.spalled_point(zone="tread")
    judged(defect)
    rule, engineer = proposed(), railway.person("engineer")
    run = request_preview(by=engineer, rule=rule, on=timezone.localdate(), request_key="look")
    tasks.rule_preview(run.pk)
    page = enter(browser, live_server, engineer, size, "/rules/")
    for address in (
        "/rules/",
        "/rules/rows/?words=213.137",
        PROPOSE,
        f"/rules/{rule.pk}/",
        "/rules/overruling/",
        f"/defects/{defect}/overrule/",
    ):
        page.goto(live_server.url + address)
        sound(page)
    page.get_by_label("Traffic").select_option("stop")
    page.get_by_label("Why").fill("Broken through at the throat")
    page.get_by_role("button", name="Overrule under my name").click()
    page.get_by_text("What the rules say").first.wait_for()
    sound(page)
