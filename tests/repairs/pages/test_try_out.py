"""The sliders of "another day": what they answer, in whose units, and what they refuse."""

import pytest
from django.test import Client

from repairs.models import Estimate, RepairJob
from tests import railway
from tests.repairs import rows
from turnouts.analysis.terms import Role
from turnouts.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def engineer() -> Person:
    return railway.person(Role.ENGINEER)


@pytest.fixture
def job(engineer: Person) -> RepairJob:
    return rows.job(by=engineer)


@pytest.fixture
def site(client: Client, engineer: Person) -> Client:
    client.force_login(engineer)
    return client


def asked(site: Client, job: RepairJob, **given: object) -> str:
    answer = site.get(f"/jobs/{job.reference}/try/", given)
    assert answer.status_code == 200
    return answer.content.decode()


def in_api(site: Client, job: RepairJob, **given: object) -> dict[str, float]:
    answer = site.get(f"/api/jobs/{job.reference}/try-out/", given)
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_the_page_begins_at_the_ordinary_day_and_keeps_nothing(
    site: Client, job: RepairJob
) -> None:
    page = asked(site, job)
    assert 'name="air" min="-22" max="113" step="1" value="59"' in page  # 15 degC, in degF
    assert "chance to hand back in 6 h 00 min" in page
    assert Estimate.objects.filter(job=job).count() == 1


def test_a_metric_reader_moves_degrees_celsius(
    site: Client, job: RepairJob, engineer: Person
) -> None:
    engineer.temperature_unit = "degC"
    engineer.save()
    page = asked(site, job, air=-5)
    assert 'name="air" min="-30" max="45" step="1" value="-5"' in page


def test_less_track_time_never_gives_a_better_chance(site: Client, job: RepairJob) -> None:
    chances = [in_api(site, job, available_min=m)["chance_in_time"] for m in (120, 180, 240, 480)]
    assert chances == sorted(chances)
    assert chances[0] < chances[-1]


def test_a_cold_morning_takes_longer_for_the_chill_is_taken_off_first(
    site: Client, job: RepairJob
) -> None:
    # Manganese steel gets no preheat beyond taking the chill off (common practice, no source).
    assert in_api(site, job, air_degc=0)["p50_min"] > in_api(site, job, air_degc=15)["p50_min"]


def test_more_air_on_the_casting_never_makes_beads_wait_longer(
    site: Client, job: RepairJob
) -> None:
    waits = [
        in_api(site, job, quench=q, air_degc=40)["wait_min"] for q in ("none", "usual", "triple")
    ]
    assert waits == sorted(waits, reverse=True)


def test_page_and_programs_get_the_same_answer(site: Client, job: RepairJob) -> None:
    told = in_api(site, job, available_min=240)
    page = asked(site, job, hours=4)
    assert f"<b>{min(int(told['chance_in_time'] * 100), 99)} %</b> chance to hand back" in page


@pytest.mark.parametrize(
    ("field", "inside", "outside"),
    [("hours", "1", "0.99"), ("hours", "12", "12.1"), ("air", "113", "114"), ("wind", "37", "38")],
)
def test_the_ends_of_a_slider_are_taken_and_what_lies_beyond_is_said(
    site: Client, job: RepairJob, field: str, inside: str, outside: str
) -> None:
    assert 'class="fault"' not in asked(site, job, **{field: inside})
    assert "asked for from" in asked(site, job, **{field: outside})


@pytest.mark.parametrize("typed", ["warm", "nan", "1e9"])
def test_what_is_no_number_is_said_with_what_was_read(
    site: Client, job: RepairJob, typed: str
) -> None:
    assert "type a number" in asked(site, job, current=typed)


def test_a_current_outside_the_forecast_is_refused_with_its_range(
    site: Client, job: RepairJob
) -> None:
    # 0.8 to 1.2 of the 330 A of the wire procedure.
    assert "264 to 396 A" in asked(site, job, current=397)
    assert 'class="fault"' not in asked(site, job, current=396)
    answer = site.get(f"/api/jobs/{job.reference}/try-out/", {"current_a": 397})
    assert answer.status_code == 400


def test_a_job_elsewhere_is_not_there(client: Client, job: RepairJob) -> None:
    stranger = railway.person(Role.WELDER, railway.territory())
    client.force_login(stranger)
    assert client.get(f"/jobs/{job.reference}/try/").status_code == 404
    assert client.get(f"/api/jobs/{job.reference}/try-out/").status_code == 404
