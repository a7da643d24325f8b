"""The review of a territory for a meeting: what it says, who gets it, and that it is a PDF."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client

from repairs.models import RenewalChoice
from repairs.paper.review import review_paper
from repairs.services.review import Asked, review_of
from repairs.services.review_runs import carry_out_review, request_review
from repairs.services.warnings_met import FEWEST, warnings_met
from tests import railway
from tests.turnouts.test_component_file import records_since, repaired
from turnouts.access import Forbidden
from turnouts.analysis.terms import Quantity
from turnouts.models import Component, ComponentRank, EarlyWarning, LongRun, Person, Turnout
from turnouts.services.errors import Refused
from turnouts.services.runs import carry_out

pytestmark = pytest.mark.django_db

TODAY = railway.VISIT.date()
YEAR_AGO = TODAY - timedelta(days=365)


@pytest.fixture
def spot() -> Turnout:
    return railway.turnout()


@pytest.fixture
def engineer(spot: Turnout) -> Person:
    return railway.person("engineer", spot.territory)


def silent(done: int, total: int, words: str) -> None:
    """Progress nobody reads."""


def said(reader: Person, spot: Turnout, since: date = YEAR_AGO) -> dict[str, Any]:
    return review_of(Asked(spot.territory, since, TODAY, TODAY, reader), silent)


def offender(spot: Turnout) -> Component:
    """A frog with three repaired spalls within the year, ranked as a repeat offender."""
    records_since(spot)
    frog = railway.component()
    railway.install(frog, spot)
    for days_ago in (100, 200, 300):
        repaired(frog, spot, days_ago)
    ComponentRank.objects.create(
        component=frog, turnout=spot, family="Frog", events=3, expected=0.5, relative=3, low=1.5,
        high=5, chance_worse=0.99, chance_twice=0.8, repeat_offender=True, made_on=TODAY,
    )  # fmt: skip
    return frog


def warned(spot: Turnout, frog: Component, made_on: date, **values: Any) -> EarlyWarning:
    given = {"behind_point_mm": None, "chance": 0.6, "next_look_on": TODAY} | values
    return EarlyWarning.objects.create(
        component=frog, turnout=spot, quantity="tread_wear", clause="49 CFR 213.137(c)",
        limit_mm="9.525", least=False, chance_now=0.2, level_mm=9.7, readings=8,
        made_on=made_on, stands_on=made_on, **given,
    )  # fmt: skip


def test_it_sums_up_and_counts_by_month(spot: Turnout, engineer: Person) -> None:
    offender(spot)
    read = said(engineer, spot)
    assert read["summary"][0] == "3 defects found and 3 repairs done on 1 turnout in this time."
    assert sum(one["defects"] for one in read["months"]) == 3
    assert len(read["months"]) == 13  # from March to March
    assert read["months"][0]["month"] == "2025-03"


def test_what_lies_before_the_time_or_elsewhere_is_not_counted(
    spot: Turnout, engineer: Person
) -> None:
    offender(spot)
    railway.spalled_frog()  # in another territory
    read = said(engineer, spot, since=TODAY - timedelta(days=150))
    assert sum(one["defects"] for one in read["months"]) == 1


def test_the_worst_come_with_their_figures_and_why(spot: Turnout, engineer: Person) -> None:
    frog = offender(spot)
    (one,) = said(engineer, spot)["worst"]
    assert (one["component"], one["defects"], one["expected"]) == (frog.serial, 3, "0.5")
    assert one["chance"] == "99 %"
    assert one["why"]
    assert all(sentence.endswith(".") for sentence in one["why"])


def test_warnings_are_said_in_the_readers_units(spot: Turnout, engineer: Person) -> None:
    warned(spot, offender(spot), TODAY)
    (row,) = said(engineer, spot)["warnings"]
    assert row[3] == "not more than 3/8 in (49 CFR 213.137(c))"
    assert row[5] == "60 %"


def test_with_few_records_the_forecasts_say_not_enough_data(
    spot: Turnout, engineer: Person
) -> None:
    assert [one.count("not enough data") for one in said(engineer, spot)["forecasts"]] == [1, 1]


@pytest.mark.parametrize(("warnings", "enough"), [(FEWEST - 1, False), (FEWEST, True)])
def test_warnings_are_held_against_the_next_reading(
    spot: Turnout, engineer: Person, warnings: int, enough: bool
) -> None:
    """Warned of with 60 % each; two of them were past 3/8 in, 9.525 mm, when read next."""
    for place in range(warnings):
        frog = railway.component()
        railway.install(frog, railway.turnout(spot.track))
        warned(spot, frog, TODAY - timedelta(days=60))
        for days_ago, value in ((90, "12.0"), (30, "9.6" if place < 2 else "9.525")):
            at = railway.VISIT - timedelta(days=days_ago)
            visit = railway.inspection(spot, inspected_at=at)
            railway.measurement(visit, Quantity.TREAD_WEAR, value, frog)
    told = warnings_met(engineer, spot.territory, YEAR_AGO, TODAY)
    assert ("2 were past their limit (40%); the chances said 60%" in told) is enough
    assert ("not enough data" in told) is not enough


def test_what_was_decided_of_welding_and_replacing_is_listed(
    spot: Turnout, engineer: Person
) -> None:
    frog = offender(spot)
    RenewalChoice.objects.create(
        component=frog, turnout=spot, by=engineer, role="engineer", at=railway.VISIT, way="weld",
        welds=2, reason="Renewal in two years", advised_way="replace_now", advised_welds=0,
        advised_clear=True, detail={},
    )  # fmt: skip
    (row,) = said(engineer, spot)["decisions"]
    assert row[1:] == [
        frog.serial, spot.code, "Weld 2 more times, then replace", "against the advice",
        "Renewal in two years",
    ]  # fmt: skip


def test_nobody_is_ranked(spot: Turnout, engineer: Person) -> None:
    frog = offender(spot)
    names = {"inspector", "welder", "by", "person", "crew"}
    assert not names & {key for one in said(engineer, spot)["worst"] for key in one}
    assert frog.defects.exists()


@pytest.mark.parametrize("empty", [True, False])
def test_it_is_set_as_a_pdf(spot: Turnout, engineer: Person, empty: bool) -> None:
    if not empty:
        warned(spot, offender(spot), TODAY)
    assert review_paper(said(engineer, spot)).startswith(b"%PDF-")


def asked(by: Person, spot: Turnout, **values: Any) -> LongRun:
    given = {"since": YEAR_AGO, "until": TODAY, "request_key": "k"} | values
    return request_review(by=by, territory=spot.territory, **given)


def done(run: LongRun) -> LongRun:
    return carry_out(run_id=run.pk, work=lambda r, tell: carry_out_review(r, tell, review_paper))


def test_it_is_made_once_and_kept_for_who_asked(
    client: Client, spot: Turnout, engineer: Person, settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path
    run = asked(engineer, spot)
    assert asked(engineer, spot) == run
    assert done(run).state == "done"
    client.force_login(engineer)
    page = client.get(f"/reviews/{run.pk}/").content.decode()
    assert "The PDF is ready" in page
    answer = client.get(f"/reviews/{run.pk}/file/")
    assert answer["Content-Type"] == "application/pdf"
    assert b"".join(answer.streaming_content).startswith(b"%PDF-")  # type: ignore[attr-defined]
    client.force_login(railway.person("engineer"))
    assert client.get(f"/reviews/{run.pk}/file/").status_code == 404


def test_a_time_that_makes_no_sense_is_refused(spot: Turnout, engineer: Person) -> None:
    with pytest.raises(Refused, match="ends on"):
        asked(engineer, spot, until=YEAR_AGO - timedelta(days=1))
    with pytest.raises(Refused, match="five years"):
        asked(engineer, spot, since=TODAY - timedelta(days=5 * 366 + 1))
    assert asked(engineer, spot, since=TODAY - timedelta(days=5 * 366)).pk


def test_another_territory_is_refused_and_not_offered(
    client: Client, spot: Turnout, engineer: Person
) -> None:
    other = railway.turnout()
    with pytest.raises(Forbidden):
        asked(engineer, other)
    client.force_login(engineer)
    assert other.territory.name not in client.get("/reviews/").content.decode()
    given = {"territory": other.territory.code, "since": f"{YEAR_AGO}", "until": f"{TODAY}"}
    answer = client.post("/api/reviews/", given | {"request_key": "k"})
    assert answer.status_code == 404


def test_the_page_asks_for_it(client: Client, spot: Turnout, engineer: Person) -> None:
    client.force_login(engineer)
    given = {
        "territory": spot.territory.pk,
        "since": f"{YEAR_AGO}",
        "until": f"{TODAY}",
        "key": "3f0c1f0e-6f5e-4d55-9a0e-3a6b7a3f7a11",
    }
    answer = client.post("/reviews/", given)
    run = LongRun.objects.get(kind="review")
    assert answer["Location"] == f"/reviews/{run.pk}/"
    assert client.post("/reviews/", given | {"until": "2020-01-01"}).status_code == 400
    assert f"/reviews/{run.pk}/" in client.get("/reviews/").content.decode()


def test_a_program_asks_for_it_and_takes_it(
    client: Client, spot: Turnout, engineer: Person, settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path
    client.force_login(engineer)
    given = {"territory": spot.territory.code, "since": f"{YEAR_AGO}", "until": f"{TODAY}"}
    answer = client.post("/api/reviews/", given | {"request_key": "k"})
    assert answer.status_code == 202
    pk = answer.json()["id"]
    assert client.get(f"/api/reviews/{pk}/file/").status_code == 409
    done(LongRun.objects.get(pk=pk))
    assert client.get(f"/api/reviews/{pk}/file/").status_code == 200
    client.force_login(railway.person())
    assert client.get("/api/reviews/").status_code == 403
