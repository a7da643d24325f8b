"""Certificates that run out soon are named to whoever plans for the crew."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from planning.models import CrewMember
from planning.services.renewals import AHEAD, renewals_due
from repairs.models import Qualification
from tests import railway
from tests.certificates import certificate
from tests.planning.conftest import SmallWeek
from turnouts.models import Person

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 4)


@pytest.fixture
def member(small_week: SmallWeek) -> Person:
    """Somebody new in the crew, with no certificate yet."""
    person = railway.person("welder", small_week.territory)
    CrewMember.objects.create(
        crew=small_week.crew, person=person, since=TODAY - timedelta(days=400)
    )
    return person


def held(person: Person, expires_on: date | None, years: int = 2, **values: str) -> Qualification:
    issued = (expires_on or TODAY) - timedelta(days=365 * years)
    return certificate(person, "manganese-wire", issued, expires_on, **values)


def due_of(small_week: SmallWeek, person: Person) -> list[int]:
    due = renewals_due(small_week.supervisor, TODAY)
    return [one.days for one in due if one.person == str(person)]


@pytest.mark.parametrize(("days", "listed"), [(60, [60]), (61, []), (0, [0]), (-1, [-1])])
def test_it_is_listed_from_sixty_days_before_its_last_day_on(
    small_week: SmallWeek, member: Person, days: int, listed: list[int]
) -> None:
    assert AHEAD.days == 60
    held(member, TODAY + timedelta(days=days))
    assert due_of(small_week, member) == listed


def test_a_renewed_one_and_one_without_a_last_day_are_not_listed(
    small_week: SmallWeek, member: Person
) -> None:
    held(member, TODAY + timedelta(days=5))
    assert due_of(small_week, member) == [5]
    held(member, TODAY + timedelta(days=700))
    assert due_of(small_week, member) == []
    other = railway.person("welder", small_week.territory)
    CrewMember.objects.create(crew=small_week.crew, person=other, since=TODAY)
    held(other, None)
    assert due_of(small_week, other) == []


def test_a_renewal_that_failed_renews_nothing(small_week: SmallWeek, member: Person) -> None:
    held(member, TODAY + timedelta(days=5))
    held(member, TODAY + timedelta(days=700), plate_macro_etch="failed")
    assert due_of(small_week, member) == [5]


def test_who_left_the_crew_or_is_in_another_territory_is_not_listed(
    small_week: SmallWeek, member: Person
) -> None:
    held(member, TODAY + timedelta(days=5))
    stranger = railway.person("supervisor", railway.territory())
    assert renewals_due(stranger, TODAY) == []
    CrewMember.objects.filter(person=member).update(until=TODAY)
    assert due_of(small_week, member) == []


def test_page_and_api_say_the_same_to_those_who_plan(small_week: SmallWeek, member: Person) -> None:
    held(member, timezone.localdate() + timedelta(days=7))
    client = Client()
    client.force_login(small_week.supervisor)
    shown = client.get("/renewals/").content.decode()
    assert str(member) in shown
    assert "in 7 days" in shown
    told = client.get("/api/renewals-due/").json()
    assert [one["days"] for one in told if one["person"] == str(member)] == [7]
    client.force_login(member)
    assert client.get("/renewals/").status_code == 403
    assert client.get("/api/renewals-due/").status_code == 403
