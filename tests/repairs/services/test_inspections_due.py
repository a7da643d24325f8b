"""Which inspections a turnout is due for, from the records of its visits and its track."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client

from repairs.services.inspections import inspection_facts, wanted_at
from tests import railway
from turnouts.models import Turnout

pytestmark = pytest.mark.django_db

WALKED = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


def turnout(**values: object) -> Turnout:
    row = railway.turnout(**values)  # type: ignore[arg-type]
    railway.track_class(row.track, 3)
    return Turnout.objects.with_place().get(pk=row.pk)


def due(row: Turnout, kind: str, on: date) -> tuple[date | None, bool]:
    (one,) = (one for one in wanted_at(row, on) if one.kind == kind)
    return one.due_on, one.overdue


def test_a_turnout_is_wanted_on_foot_within_a_month_of_the_last_visit_on_foot() -> None:
    # 49 CFR 213.235(a): at least monthly; counted to the same day of the next month
    row = turnout(used_monthly=True)
    railway.inspection(row, kind="on_foot", inspected_at=WALKED)
    railway.inspection(row, kind="vehicle", inspected_at=WALKED + timedelta(days=9))
    assert due(row, "on_foot", date(2026, 4, 2)) == (date(2026, 4, 2), False)
    assert due(row, "on_foot", date(2026, 4, 3)) == (date(2026, 4, 2), True)


def test_a_throw_counts_only_where_the_switch_was_operated() -> None:
    # 49 CFR 213.235(b): class 3 to 5, held by one rod, every three months
    row = turnout(held_by_one_rod=True)
    railway.inspection(row, inspected_at=WALKED, thrown=True)
    railway.inspection(row, inspected_at=WALKED + timedelta(days=30), thrown=False)
    railway.inspection(row, inspected_at=WALKED + timedelta(days=31))
    assert due(row, "throw", date(2026, 6, 2)) == (date(2026, 6, 2), False)
    assert due(row, "throw", date(2026, 6, 3)) == (date(2026, 6, 2), True)


def test_a_switch_not_held_by_one_rod_is_not_thrown_for_that_clause() -> None:
    kinds = {one.kind for one in wanted_at(turnout(held_by_one_rod=False), date(2026, 4, 2))}
    assert "throw" not in kinds


def test_facts_nobody_recorded_excuse_from_nothing_and_are_named() -> None:
    throw = next(one for one in wanted_at(turnout(), date(2026, 4, 2)) if one.kind == "throw")
    assert (throw.overdue, throw.last) == (True, None)
    assert throw.unrecorded == ("held by one rod",)


@pytest.mark.parametrize(
    ("passengers", "mgt", "busy"),
    # the builder's turnout carries 2 MGT on the other route; over 10 MGT by 213.233(c)
    [(None, "8", None), (None, "8.0001", True), (False, "8", False), (True, "1", True)],
)
def test_busy_track_is_told_by_passengers_or_tonnage(
    passengers: bool | None, mgt: str, busy: bool | None
) -> None:
    row = turnout(carries_passengers=passengers)
    row.traffic.filter(route="through").update(annual_mgt=mgt)
    assert inspection_facts(row, date(2026, 4, 2)).passengers_or_over_10_mgt is busy


def test_page_and_api_say_what_is_due_with_its_clause() -> None:
    row = turnout(used_monthly=True)
    client = Client()
    client.force_login(railway.person("inspector", row.territory))
    page = client.get(f"/turnouts/{row.code}/").content.decode()
    assert "Inspections due" in page
    assert "49 CFR 213.235(a)" in page
    found = client.get(f"/api/inspections-due/{row.code}/").json()["due"]
    assert "49 CFR 213.235(a)" in {one["clause"] for one in found}
    assert all(one["overdue"] for one in found)
    client.force_login(railway.person("inspector", railway.territory()))
    assert client.get(f"/api/inspections-due/{row.code}/").status_code == 404
