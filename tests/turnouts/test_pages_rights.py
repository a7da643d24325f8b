"""Every page against every role: forbidden ones answer 403, other territories 404."""

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse
from django.urls.resolvers import URLResolver
from PIL import Image

from tests import railway
from turnouts.access import ALLOWED, Action
from turnouts.analysis.terms import Role
from turnouts.models import Defect, LongRun, Photograph, RoleGrant

pytestmark = pytest.mark.django_db

OPEN_TO_ANYBODY_LOGGED_IN = {"home", "own-settings", "own-password"}

EDIT, SEE = Action.EDIT_INVENTORY, Action.SEE
PAGES: dict[str, Action] = {
    "turnouts": SEE,
    "turnout": SEE,
    "turnout-change": EDIT,
    "install": EDIT,
    "report": Action.REPORT,
    "inspection": SEE,
    "components": SEE,
    "component": SEE,
    "component-why": SEE,
    "network": SEE,
    "network-csv": SEE,
    "families": SEE,
    "families-looks-csv": SEE,
    "families-steps-csv": SEE,
    "repeat-offenders": SEE,
    "repeat-offenders-csv": SEE,
    "repeat-pareto-csv": SEE,
    "early-warnings": SEE,
    "look-ahead": Action.ESTIMATE,
    "forecast-record": SEE,
    "forecast-record-csv": SEE,
    "early-warnings-csv": SEE,
    "component-wear-csv": SEE,
    "component-defects-csv": SEE,
    "component-remove": EDIT,
    "component-to-shop": EDIT,
    "component-from-shop": EDIT,
    "defect-record": SEE,
    "photograph-add": Action.REPORT,
    "photograph": SEE,
    "import": Action.IMPORT,
    "import-run": Action.IMPORT,
    "import-accept": Action.IMPORT,
    "export": SEE,
    "export-run": SEE,
    "export-file": SEE,
    "run": SEE,
    "people": Action.GRANT,
    "person": Action.GRANT,
    "person-active": Action.GRANT,
    "revoke": Action.GRANT,
}
POSTED = {"look-ahead", "photograph-add", "import-accept", "person-active", "revoke"}
OF_A_TERRITORY = [
    "turnout",
    "turnout-change",
    "install",
    "report",
    "inspection",
    "component",
    "component-why",
    "component-remove",
    "component-to-shop",
    "component-from-shop",
    "defect-record",
    "photograph",
]


def own_patterns() -> Iterator[URLPattern]:
    for part in get_resolver().url_patterns:
        if isinstance(part, URLResolver) and getattr(part.urlconf_name, "__name__", "") == (
            "turnouts.urls"
        ):
            yield from part.url_patterns


@pytest.fixture
def defect() -> Defect:
    return railway.spalled_frog()


@pytest.fixture
def addresses(defect: Defect, settings: Any, tmp_path: Path) -> dict[str, str]:
    """The address of every page, for rows of one territory."""
    settings.MEDIA_ROOT = tmp_path
    held = BytesIO()
    Image.new("RGB", (4, 4)).save(held, "JPEG")
    asker = railway.person()
    run = LongRun.objects.create(
        kind="import", request_key="k", requested_by=asker, requested_at=railway.VISIT
    )
    picture = Photograph.objects.create(
        defect=defect,
        image=ContentFile(held.getvalue(), "p.jpg"),
        sha256="0" * 64,
        caption="Spall",
        added_at=railway.VISIT,
        added_by=asker,
    )
    grant = railway.grant(asker, Role.WELDER, defect.turnout.territory)
    arguments: dict[str, list[object]] = {
        "turnout": [defect.turnout.code],
        "inspection": [defect.inspection.reference],
        "component": [defect.component.serial],
        "defect-record": [defect.reference],
        "photograph-add": [defect.reference],
        "photograph": [picture.pk],
        "import-run": [run.pk],
        "import-accept": [run.pk],
        "export-run": [run.pk],
        "export-file": [run.pk],
        "run": [run.pk],
        "person": [asker.username],
        "person-active": [asker.username],
        "revoke": [grant.pk],
    }
    for name in ("turnout-change", "install", "report"):
        arguments[name] = arguments["turnout"]
    of_a_component = ("why", "wear-csv", "defects-csv", "remove", "to-shop", "from-shop")
    for name in (f"component-{what}" for what in of_a_component):
        arguments[name] = arguments["component"]
    return {name: reverse(name, args=arguments.get(name)) for name in PAGES}


def test_every_page_is_in_the_table() -> None:
    assert {pattern.name for pattern in own_patterns()} == set(PAGES) | OPEN_TO_ANYBODY_LOGGED_IN


def test_every_page_asks_for_the_right_of_the_table() -> None:
    asked = {
        pattern.name: pattern.callback.action for pattern in own_patterns() if pattern.name in PAGES
    }
    assert asked == PAGES


@pytest.mark.parametrize("name", PAGES)
def test_a_stranger_is_sent_to_the_login(
    client: Client, addresses: dict[str, str], name: str
) -> None:
    answer = client.get(addresses[name])
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/login/")


@pytest.mark.parametrize("role", list(Role))
def test_forbidden_roles_get_403_and_the_others_do_not(
    client: Client, addresses: dict[str, str], role: Role
) -> None:
    client.force_login(railway.person(role))
    refused = {
        name
        for name, address in addresses.items()
        if (client.post(address) if name in POSTED else client.get(address)).status_code == 403
    }
    assert refused == {name for name, action in PAGES.items() if role not in ALLOWED[action]}


@pytest.mark.parametrize("name", OF_A_TERRITORY)
def test_rows_of_another_territory_are_not_there(
    client: Client, addresses: dict[str, str], name: str
) -> None:
    client.force_login(railway.person(Role.ENGINEER, railway.territory()))
    assert client.get(addresses[name]).status_code == 404


def test_somebody_who_sees_a_row_but_may_not_change_it_there_is_told(
    client: Client, defect: Defect, addresses: dict[str, str]
) -> None:
    both = railway.person(Role.ENGINEER, railway.territory())
    railway.grant(both, Role.WELDER, defect.turnout.territory)
    client.force_login(both)
    answer = client.get(addresses["install"])
    assert answer.status_code == 403
    assert "in that territory" in answer.content.decode()


def test_the_run_of_somebody_else_is_not_there(client: Client, addresses: dict[str, str]) -> None:
    client.force_login(railway.person(Role.ENGINEER))
    assert client.get(addresses["run"]).status_code == 404
    assert client.get(addresses["import-run"]).status_code == 404


def test_an_administrator_of_one_territory_gives_no_role_in_another(
    client: Client, defect: Defect
) -> None:
    here = defect.turnout.territory
    client.force_login(railway.person(Role.ADMINISTRATOR, here))
    somebody, there = railway.person(), railway.territory()
    address = reverse("person", args=[somebody.username])
    assert client.post(address, {"role": "welder", "territory": there.pk}).status_code == 200
    assert client.post(address, {"role": "welder", "territory": ""}).status_code == 200
    assert not somebody.grants.exists()
    assert client.post(address, {"role": "welder", "territory": here.pk}).status_code == 302
    assert somebody.grants.get().territory == here


def test_an_administrator_takes_a_role_away_and_never_their_own(client: Client) -> None:
    boss = railway.person(Role.ADMINISTRATOR)
    client.force_login(boss)
    grant = railway.grant(railway.person(), Role.WELDER)
    assert client.post(reverse("revoke", args=[grant.pk])).status_code == 302
    assert not RoleGrant.objects.filter(pk=grant.pk).exists()
    own = boss.grants.get()
    assert client.post(reverse("revoke", args=[own.pk])).status_code == 400
    assert RoleGrant.objects.filter(pk=own.pk).exists()


def test_somebody_locked_out_is_asked_to_log_in_again(client: Client) -> None:
    boss, other = railway.person(Role.ADMINISTRATOR), railway.person(Role.WELDER)
    browser = Client()
    browser.force_login(other)
    assert browser.get("/turnouts/").status_code == 200
    client.force_login(boss)
    client.post(reverse("person-active", args=[other.username]), {"active": "no"})
    assert browser.get("/turnouts/").status_code == 302
