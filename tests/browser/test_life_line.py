"""The life line on a phone: it begins at today, and the names of its lanes stay in sight."""

from typing import Any

from playwright.sync_api import Page

from tests.browser.conftest import Enter
from tests.browser.district import district
from tests.browser.looking import DESK, PHONE
from turnouts.analysis.terms import Role

FRAME = ".scroll.picture"


def _measured(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate(
        """() => {
            const frame = document.querySelector(".scroll.picture");
            const left = (it) => it.getBoundingClientRect().left;
            return {
                pushed: frame.scrollLeft,
                most: frame.scrollWidth - frame.clientWidth,
                name: left(frame.querySelector(".names text")) - left(frame),
            };
        }"""
    )
    return found


def test_on_a_phone_it_begins_at_today_and_the_names_go_along(enter: Enter) -> None:
    here = district(("4",))
    page = enter(here.people[Role.ENGINEER], f"/components/{here.frogs[0].serial}/", PHONE)
    now = _measured(page)
    assert now["most"] > 100
    assert abs(now["pushed"] - now["most"]) <= 1
    assert abs(now["name"]) <= 2
    page.evaluate(f"document.querySelector('{FRAME}').scrollLeft = 40")
    page.wait_for_function(
        "() => document.querySelector('.life .names').getAttribute('transform')"
        ".match(/translate\\(([\\d.]+)/)[1] < 80"
    )
    assert abs(_measured(page)["name"]) <= 2


def test_at_a_desk_all_of_it_is_in_sight(enter: Enter) -> None:
    here = district(("4",))
    page = enter(here.people[Role.ENGINEER], f"/components/{here.frogs[0].serial}/", DESK)
    assert _measured(page)["most"] <= 0
    assert abs(_measured(page)["name"]) <= 2
