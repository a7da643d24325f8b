"""An address that asks for what is not there is refused; no other rows are shown in its place."""

import pytest
from django.test import Client

from tests import railway

pytestmark = pytest.mark.django_db


def as_(role: str) -> Client:
    client = Client()
    client.force_login(railway.person(role))
    return client


PLACES = ("/network/", "/network/table.csv", "/turnouts/", "/components/repeat/",
          "/components/warnings/", "/defects/", "/defects.csv")  # fmt: skip
UNKNOWN = [
    *(f"{page}?territory=NOWHERE" for page in PLACES),
    "/network/?show=nothing",
    "/turnouts/?line=NOWHERE",
    "/defects/?line=NOWHERE",
    "/defects/?traffic=flying",
    "/defects/?disposition=hope",
    "/defects/?state=lost",
    "/components/?kind=signal",
    "/components/?design=other",
    "/components/?steel=tin",
    "/components/?order=luck",
    "/components/repeat/?family=Signal",
    "/components/families/?family=signal..&by=batch",
    "/components/families/?family=frog..&by=welder",
    "/components/families/looks.csv?family=frog..&by=welder",
    "/jobs/?state=lost",
    "/sheets/?whose=theirs",
    "/sheets/?when=never",
]


@pytest.mark.parametrize("address", UNKNOWN)
def test_what_is_not_there_is_said_and_nothing_else_is_shown(address: str) -> None:
    railway.turnout()
    answer = as_("engineer").get(address)
    assert answer.status_code == 400, address
    text = answer.content.decode()
    assert address.rpartition("=")[2] in text or "signal.." in text
    assert "Go back and choose one from the list." in text


def test_a_known_choice_and_an_empty_one_are_answered() -> None:
    spot = railway.turnout()
    client: Client = as_("engineer")
    for page in PLACES:
        for asked in ("", spot.territory.code):
            assert client.get(f"{page}?territory={asked}").status_code == 200, page
    for rest in ("defects/?state=all&traffic=stop", "jobs/?state=all", "sheets/?when=&whose=mine"):
        assert client.get(f"/{rest}").status_code == 200, rest


def test_a_line_of_a_territory_that_is_not_the_readers_is_not_there(client: Client) -> None:
    spot, other = railway.turnout(), railway.turnout()
    client.force_login(railway.person("engineer", other.territory))
    assert client.get(f"/turnouts/?line={other.track.line.code}").status_code == 200
    assert client.get(f"/turnouts/?line={spot.track.line.code}").status_code == 400


def test_a_very_long_choice_is_cut_in_the_sentence() -> None:
    text = as_("engineer").get("/network/?show=" + "x" * 500).content.decode()
    assert "x" * 80 in text
    assert "x" * 81 not in text
