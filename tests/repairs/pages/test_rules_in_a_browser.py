"""The pages of rules and overruling can be read whole, at a desk and on a phone."""

from typing import Any

import pytest
from django.utils import timezone

from repairs import tasks
from repairs.services.rule_preview import request_preview
from repairs.services.rule_set_changes import propose_rule_sets
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
    change = propose_rule_sets(
        by=engineer,
        territory=defect.turnout.territory,
        names=["us-49cfr213", "eu-inf-tsi"],
        reason="Trains from across the border",
        at=timezone.now(),
    )
    seen = request_preview(by=engineer, rule=change, on=timezone.localdate(), request_key="sets")
    tasks.rule_preview(seen.pk)
    page = enter(browser, live_server, engineer, size, "/rules/")
    for address in (
        "/rules/",
        "/rules/rows/?words=213.137",
        PROPOSE,
        f"/rules/{rule.pk}/",
        f"/rules/sets/{change.pk}/",
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
