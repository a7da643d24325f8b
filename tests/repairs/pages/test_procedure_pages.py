"""The pages of welding procedures and of the railway's own editions, for each role."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from repairs import tasks
from repairs.models import OwnerProcedure
from repairs.services.own_procedures import OwnInterpass
from repairs.services.procedure_preview import PREVIEW_TASK
from tests import railway
from tests.repairs import own_editions, rows
from turnouts.models import LongRun, Person, Territory

pytestmark = pytest.mark.django_db

ROLES = ["inspector", "welder", "supervisor", "engineer", "administrator"]
KEY = "1c9d2b3e6a654f1c8a5d7f1e2b3c4d5e"
PROPOSE = "/procedures/manganese-wire/propose/"


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def as_(role: str, at: Territory | None = None, **values: Any) -> Client:
    return client_of(railway.person(role, at, **values))


def proposed(by: Person | None = None, **values: Any) -> OwnerProcedure:
    today = timezone.localdate()
    given = {"on": today, "at": timezone.now(), "starts_on": today} | values
    return own_editions.proposed(by or railway.person("engineer"), **given)


def approved(**values: Any) -> OwnerProcedure:
    today = timezone.localdate()
    return own_editions.approved(proposed(**values), railway.person("engineer"), today)


def form(**values: Any) -> dict[str, Any]:
    return {
        "starts_on": timezone.localdate().isoformat(),
        "reason": "Our wire lays more",
        "interpass": "us-practice",
        "seen": 0,
        "value_deposit_rate_kg_per_h": "11",
        "why_deposit_rate_kg_per_h": "Weighed on four frogs",
        "value_wire_feed_m_per_min": "100",
        "why_wire_feed_m_per_min": "Read from the feeder",
    } | values


@pytest.mark.parametrize("role", ROLES)
def test_everybody_reads_and_engineers_propose(role: str) -> None:
    edition = proposed()
    client = as_(role)
    for address in (
        reverse("procedures"),
        reverse("procedure", args=["manganese-wire"]),
        reverse("procedure", args=["carbon-stick"]),
        reverse("own-edition", args=[edition.pk]),
    ):
        assert client.get(address).status_code == 200, address
    assert client.get(PROPOSE).status_code == (200 if role == "engineer" else 403)


@pytest.mark.parametrize("role", ROLES)
def test_buttons_do_nothing_for_roles_that_may_not(role: str) -> None:
    edition = proposed()
    client = as_(role)
    answers = [
        client.post(PROPOSE, form()),
        client.post(reverse("own-edition-preview", args=[edition.pk]), {"key": KEY}),
        client.post(
            reverse("own-edition-answer", args=[edition.pk]),
            {"answer": "reject", "note": "No", "version": 1},
        ),
    ]
    expected = 302 if role == "engineer" else 403
    assert [answer.status_code for answer in answers] == [expected] * 3
    edition.refresh_from_db()
    assert edition.state == ("rejected" if role == "engineer" else "proposed")


def test_an_engineer_of_one_territory_reads_and_does_not_propose() -> None:
    client = as_("engineer", railway.territory())
    page = client.get(reverse("procedure", args=["manganese-wire"])).content.decode()
    assert "Propose an edition" not in page
    assert client.get(PROPOSE).status_code == 403


def test_nobody_sees_procedures_without_logging_in() -> None:
    assert Client().get(reverse("procedures")).status_code == 302


def test_an_unknown_procedure_is_404() -> None:
    client = as_("engineer")
    assert client.get("/procedures/thermite/").status_code == 404
    assert client.get("/procedures/thermite/propose/").status_code == 404
    assert client.get("/procedures/editions/999999/").status_code == 404


def test_engineers_find_procedures_behind_the_rules_of_the_menu() -> None:
    client = as_("engineer")
    assert 'href="/procedures/"' in client.get("/rules/").content.decode()
    page = client.get("/procedures/").content.decode()
    assert '<a href="/rules/" aria-current="page">Rules</a>' in page
    assert '<a href="/procedures/" aria-current="page">Welding procedures</a>' in page


def test_the_list_says_who_approved_and_that_the_program_does_not() -> None:
    page = as_("welder").get(reverse("procedures")).content.decode()
    assert "nobody at this railway has approved it here" in page
    assert "This program does not approve welding procedures" in page
    by = railway.person("engineer", first_name="Ada", last_name="Lund")
    own_editions.approved(proposed(), by, timezone.localdate())
    assert "by Ada Lund" in as_("welder").get(reverse("procedures")).content.decode()


def test_a_procedure_shows_each_setting_in_the_readers_units() -> None:
    address = reverse("procedure", args=["manganese-wire"])
    inches = as_("welder").get(address).content.decode()
    for words in ("500 °F", "90.6 in/min", "9.92 lb/h", "AWS A5.21 ERCFeMn-C"):
        assert words in inches
    metric = as_("welder", length_unit="mm", temperature_unit="degC", mass_unit="kg")
    page = metric.get(address).content.decode()
    for words in ("260 °C", "2.3 m/min", "4.5 kg/h", "2.8 mm"):
        assert words in page


def test_a_procedure_says_that_the_interpass_sources_disagree() -> None:
    page = as_("welder").get(reverse("procedure", args=["manganese-wire"])).content.decode()
    assert "The sources disagree: 212 °F to 500 °F" in page
    assert "Published: Note on welding and surfacing austenitic manganese steel" in page
    assert "on the weld itself" in page


def test_typed_in_inches_and_pounds_it_is_kept_in_rows() -> None:
    client = as_("engineer")
    answer = client.post(PROPOSE, form())
    row = OwnerProcedure.objects.get()
    assert answer["Location"] == reverse("own-edition", args=[row.pk])
    kept = {one.key: (one.value, one.unit) for one in row.changes.all()}
    # 11 lb/h and 100 in/min by the exact pound and inch.
    assert kept["deposit_rate_kg_per_h"] == (pytest.approx(11 * 0.45359237), "kg/h")
    assert kept["wire_feed_m_per_min"] == (pytest.approx(2.54), "m/min")


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"value_current_a": "3300", "why_current_a": "x"}, "3300 A is outside 30 to 600"),
        ({"value_current_a": "much", "why_current_a": "x"}, "is not a number"),
        ({"value_current_a": "310"}, "Say why the railway sets it otherwise"),
        ({"why_current_a": "Hotter"}, "A reason is given and no new value"),
        ({"value_wire_feed_m_per_min": "200"}, "far from the deposit rate"),
        ({"interpass": "railway"}, "Say why the railway sets its own"),
        ({"interpass": "railway", "own_limit": "hot"}, "cannot be read as a temperature"),
        ({"reason": ""}, "Fill this in."),
        ({"value_preheat_max_degc": "300", "why_preheat_max_degc": "x"}, "is not preheated"),
    ],
)
def test_a_form_that_cannot_stand_says_why_and_keeps_nothing(
    values: dict[str, Any], words: str
) -> None:
    answer = as_("engineer").post(PROPOSE, form(**values))
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert not OwnerProcedure.objects.exists()


def test_who_had_the_form_open_while_another_was_approved_gets_409() -> None:
    approved()
    answer = as_("engineer").post(PROPOSE, form(begin_from="present"))
    assert answer.status_code == 409
    assert "approved while you had it open" in answer.content.decode()


def test_what_is_left_empty_stays_as_in_the_edition_in_force_or_goes_back() -> None:
    standing = approved(interpass=OwnInterpass(150, 25.4, "Cracks after hot passes"))
    tomorrow = (timezone.localdate() + timedelta(days=1)).isoformat()
    given = {
        "starts_on": tomorrow,
        "reason": "More over-fill",
        "interpass": "railway",
        "own_limit": "302 degF",
        "own_place": "1",
        "own_reason": "Cracks after hot passes",
        "seen": standing.pk,
        "value_over_fill_mm": "3/16",
        "why_over_fill_mm": "Ground too low twice",
    }
    client = as_("engineer")
    for begin, expected in (("present", 3), ("shipped", 1)):
        answer = client.post(PROPOSE, given | {"begin_from": begin})
        assert answer.status_code == 302, answer.content.decode()
        row = OwnerProcedure.objects.first()
        assert row is not None
        assert row.changes.count() == expected
        assert row.interpass_limit_degc == 150
        assert row.interpass_place_mm == 25.4


def test_from_the_look_to_the_approval() -> None:
    job = rows.job()
    edition = proposed()
    second = as_("engineer")
    address = reverse("own-edition", args=[edition.pk])
    assert "Look first at what the edition would change" in second.get(address).content.decode()
    second.post(reverse("own-edition-preview", args=[edition.pk]), {"key": KEY})
    run = LongRun.objects.get(task=PREVIEW_TASK)
    tasks.procedure_preview(run.pk)
    page = second.get(address).content.decode()
    assert job.reference in page
    assert "1</b> of 1 waiting job" in page
    given = {"answer": "approve", "preview": run.pk, "version": 1}
    answer = second.post(reverse("own-edition-answer", args=[edition.pk]), given, follow=True)
    assert "Approved. Jobs not yet issued" in answer.content.decode()
    tasks.renew_estimates(LongRun.objects.get(kind="renewal").pk)
    assert rows.estimate_of(job).own_edition == edition
    page = second.get(reverse("job", args=[job.reference])).content.decode()
    assert reverse("own-edition", args=[edition.pk]) in page


def test_a_preview_names_no_job_of_another_territory() -> None:
    job = rows.job()
    edition = proposed()
    own_editions.looked_at(edition, railway.person("engineer"), timezone.localdate())
    address = reverse("own-edition", args=[edition.pk])
    elsewhere = as_("supervisor", railway.territory())
    assert job.reference not in elsewhere.get(address).content.decode()
    here = as_("supervisor", job.turnout.territory)
    assert job.reference in here.get(address).content.decode()


def test_the_proposer_withdraws_and_is_shown_no_buttons_to_answer() -> None:
    edition = proposed()
    client = client_of(edition.proposed_by)
    address = reverse("own-edition", args=[edition.pk])
    page = client.get(address).content.decode()
    assert "Approve, and estimate" not in page
    posted = reverse("own-edition-answer", args=[edition.pk])
    given = {"answer": "reject", "note": "No", "version": 1}
    assert client.post(posted, given).status_code == 403
    client.post(posted, {"answer": "withdraw", "version": 1})
    assert "Withdrawn" in client.get(address).content.decode()


def test_an_answer_on_an_older_version_is_409() -> None:
    edition = proposed()
    posted = reverse("own-edition-answer", args=[edition.pk])
    answer = as_("engineer").post(posted, {"answer": "reject", "note": "No", "version": 7})
    assert answer.status_code == 409


def test_a_ceiling_above_every_source_is_pointed_at() -> None:
    hotter = proposed(changes=(), interpass=OwnInterpass(300, 25, "Habit"))
    colder = proposed(changes=(), interpass=OwnInterpass(240, 25, "Habit"))
    client = as_("engineer")
    words = "lies above every source"
    assert words in client.get(reverse("own-edition", args=[hotter.pk])).content.decode()
    assert words not in client.get(reverse("own-edition", args=[colder.pk])).content.decode()


@pytest.mark.parametrize("name", ["procedures", "procedure"])
def test_pages_take_the_same_queries_however_many_editions(name: str) -> None:
    client = as_("engineer")
    address = reverse(name, args=["manganese-wire"] if name == "procedure" else [])
    counts = []
    for many in (1, 4):
        for _ in range(many):
            proposed()
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
