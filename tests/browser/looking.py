"""How the tests look at a page."""

from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import FilePayload, Locator, Page, expect

from turnouts.models import Person

DESK: Any = {"width": 1280, "height": 900}
PHONE: Any = {"width": 390, "height": 844}
SIZES = {"desk": DESK, "phone": PHONE}

PASSWORD = "a-frog-is-no-toad"

GRAVE = ("serious", "critical")


def log_in(page: Page, person: Person, password: str = PASSWORD) -> None:
    """Through the form, as people do."""
    page.get_by_label("Name").fill(person.username)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Log in").click()


def grave_faults(page: Page, which: dict[str, Any] | None = None) -> list[str]:
    """What keeps people from using the page by ear, by key or with weak eyes.

    ``which`` names the rules to ask, in axe's own words; without it all are asked.
    """
    options = {"resultTypes": ["violations"]} | (which or {})
    found = Axe().run(page, options=options).response["violations"]
    return [
        f"{one['id']}: {node['html'][:200]}"
        for one in found
        if one["impact"] in GRAVE
        for node in one["nodes"]
    ]


def wider_than_its_screen(page: Page) -> bool:
    """Whether the page as a whole has to be pushed sideways to be read."""
    return bool(
        page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
    )


def sound(page: Page) -> None:
    """The page can be read whole, by everybody."""
    assert grave_faults(page) == []
    assert not wider_than_its_screen(page)


def row(page: Page | Locator, words: str) -> Locator:
    """The row of a table, or on a phone the card, that holds these words."""
    return page.get_by_role("row").filter(has_text=words)


def says(page: Page, *words: str) -> None:
    """The content of the page, not its menu, shows each of these."""
    for each in words:
        expect(page.get_by_role("main").get_by_text(each).first).to_be_visible()


def through_menu(page: Page, words: str) -> None:
    """Go to a place of the menu, which stands behind a button on a phone."""
    fold = page.get_by_role("button", name="Menu")
    if fold.is_visible():
        fold.click()
    page.get_by_role("navigation").get_by_role("link", name=words, exact=True).click()


def hand_over(page: Page, *given: FilePayload | Path) -> None:
    """Upload these files on the import page, from wherever the person is."""
    through_menu(page, "Import")
    page.get_by_label("File", exact=True).set_input_files(list(given))  # type: ignore[arg-type]
    page.get_by_role("button", name="Look at it").click()
