"""Who gets in where: the login, the pages of each role, the territories, the lock."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests import railway
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import DESK, PASSWORD, PHONE, log_in, says, sound
from turnouts.analysis.terms import Role
from turnouts.models import Person

FIRST_PAGE: dict[Role, str | re.Pattern[str]] = {
    Role.INSPECTOR: "Defects",
    Role.WELDER: "My sheets",
    Role.SUPERVISOR: re.compile("^Week of"),
    Role.ENGINEER: "Components",
    Role.ADMINISTRATOR: "People",
}

# A page that is not for the role, and who the sentence says may open it.
NOT_THEIRS = {
    Role.INSPECTOR: ("/sheets/", "engineer, supervisor, welder"),
    Role.WELDER: ("/import/", "administrator, engineer, inspector, supervisor"),
    Role.SUPERVISOR: ("/people/", "administrator"),
    Role.ENGINEER: ("/people/", "administrator"),
    Role.ADMINISTRATOR: ("/week/", "engineer, supervisor, welder"),
}

WRONG = "a-toad-is-no-frog"


@pytest.fixture(scope="module")
def here(db: None) -> District:
    return district(("4",))


def newcomer() -> Person:
    """Somebody with a password and a role everywhere, for a lock of their own."""
    person = railway.person(Role.WELDER)
    person.set_password(PASSWORD)
    person.save()
    return person


@pytest.mark.parametrize("role", list(Role))
def test_each_role_is_led_to_its_own_page(enter: Enter, here: District, role: Role) -> None:
    page = enter()
    log_in(page, here.people[role])
    expect(page.get_by_role("heading", level=1, name=FIRST_PAGE[role])).to_be_visible()


@pytest.mark.parametrize("role", list(Role))
def test_each_role_is_refused_in_a_sentence_on_a_page_not_theirs(
    enter: Enter, here: District, role: Role
) -> None:
    path, who = NOT_THEIRS[role]
    page = enter(here.people[role], "/own-settings/")
    answer = page.goto(path)
    assert answer is not None
    assert answer.status == 403
    says(page, "Not for your role", f"It takes one of these roles: {who}.")
    offered = page.get_by_role("navigation", name="Main").get_by_role("link").all()
    assert path not in {link.get_attribute("href") for link in offered}
    sound(page)


@pytest.mark.parametrize("role", [Role.WELDER, Role.ENGINEER, Role.SUPERVISOR])
def test_what_lies_in_another_territory_is_not_there(
    enter: Enter, here: District, role: Role
) -> None:
    stranger = railway.person(role, railway.territory())
    page = enter(stranger, "/own-settings/")
    spot, frog = here.spots[0], here.frogs[0]
    for path in (f"/turnouts/{spot.code}/", f"/components/{frog.serial}/", here.week_page):
        answer = page.goto(path)
        assert answer is not None
        assert answer.status == 404
        says(page, "Nothing here", "it lies in a territory that is not yours")


def test_somebody_not_logged_in_is_asked_to_and_then_goes_where_they_wanted(
    enter: Enter, here: District
) -> None:
    page = enter(None, f"/turnouts/{here.spots[0].code}/", PHONE)
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()
    sound(page)
    log_in(page, here.people[Role.ENGINEER])
    expect(page.get_by_role("heading", name=here.spots[0].code)).to_be_visible()


def test_a_wrong_password_is_said_and_no_more_than_that(enter: Enter, here: District) -> None:
    page = enter()
    log_in(page, here.people[Role.INSPECTOR], WRONG)
    says(page, "That name and password do not go together.")
    sound(page)
    log_in(page, Person(username="nobody-at-all"), WRONG)
    says(page, "That name and password do not go together.")


def test_five_wrong_passwords_lock_the_name_even_for_the_right_one(enter: Enter) -> None:
    person = newcomer()
    page = enter()
    for _ in range(4):
        log_in(page, person, WRONG)
        says(page, "That name and password do not go together.")
    log_in(page, person, WRONG)
    _locked(page)
    page.goto("/login/")
    log_in(page, person)
    _locked(page)
    page.goto("/turnouts/")
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()


def _locked(page: Page) -> None:
    expect(page.get_by_role("alert")).to_contain_text("locked")
    sound(page)


def test_four_wrong_passwords_lock_nobody_out(enter: Enter) -> None:
    person = newcomer()
    page = enter()
    for _ in range(4):
        log_in(page, person, WRONG)
        says(page, "That name and password do not go together.")
    log_in(page, person)
    expect(page.get_by_role("heading", name="My sheets")).to_be_visible()


def test_after_logging_out_the_way_back_is_closed(enter: Enter, here: District) -> None:
    page = enter()
    log_in(page, here.people[Role.ENGINEER])
    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()
    page.goto("/components/")
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()


@pytest.mark.parametrize("role", list(Role))
def test_at_a_desk_the_menu_and_the_name_stand_on_one_line(enter: Enter, role: Role) -> None:
    here = district(("4",))
    page = enter(here.people[role], "/own-settings/", DESK)
    tops = page.evaluate(
        "[...document.querySelectorAll('.top nav li, .who')]"
        ".map(it => Math.round(it.getBoundingClientRect().top + it.offsetHeight / 2))"
    )
    assert len(tops) > 1
    assert max(tops) - min(tops) <= 2
