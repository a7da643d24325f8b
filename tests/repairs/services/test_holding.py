"""What holds at a turnout: the strictest of its decisions as they stand, and what is due."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from repairs.models import Decision
from repairs.services.holding import held_at
from repairs.services.inspections import wanted_at, wanted_at_each
from tests import railway
from tests.repairs import rows
from turnouts.models import Defect, Turnout

pytestmark = pytest.mark.django_db


def placed(*turnouts: Turnout) -> list[Turnout]:
    return list(Turnout.objects.with_place().filter(pk__in=[t.pk for t in turnouts]).order_by("pk"))


def judged_point() -> Defect:
    found = rows.spalled_point()
    rows.judged(railway.person("engineer"))
    return found


def test_a_turnout_holds_what_its_decision_says() -> None:
    found = judged_point()
    decision = Decision.objects.current().get(defect=found)
    (row,) = placed(found.turnout)
    held = held_at([row], rows.DAY)[row.pk]
    assert (held.traffic, held.speed_kmh) == (decision.traffic, decision.speed_kmh)
    assert held.repair_due == decision.due_on
    assert held.repair_due is not None


def test_a_defect_that_has_ended_holds_nothing() -> None:
    found = judged_point()
    Defect.objects.filter(pk=found.pk).update(state="replaced")
    (row,) = placed(found.turnout)
    held = held_at([row], rows.DAY)[row.pk]
    assert (held.traffic, held.repair_due) == ("class_speed", None)


def test_an_inspection_of_the_turnout_is_due_and_one_of_the_track_is_not_said() -> None:
    # 49 CFR 213.235(a): monthly, counted to the same day of the next month
    spot = railway.turnout(used_monthly=True, held_by_one_rod=False)
    railway.track_class(spot.track, 3)
    railway.inspection(spot, kind="on_foot")  # 2 March 2026
    (row,) = placed(spot)
    held = held_at([row], date(2026, 3, 20))[row.pk]
    assert held.inspection_due == date(2026, 4, 2)
    assert not held.inspect_now


def test_where_nothing_is_on_record_it_is_to_be_inspected_now() -> None:
    spot = railway.turnout(used_monthly=True, held_by_one_rod=False)
    railway.track_class(spot.track, 3)
    (row,) = placed(spot)
    held = held_at([row], rows.DAY)[row.pk]
    assert held.inspect_now
    assert not held.facts_lacking


def test_an_inspection_asked_for_only_because_a_fact_is_lacking_is_not_due_but_said() -> None:
    # 49 CFR 213.235(b) asks of those held by one rod; of this one nobody has said
    spot = railway.turnout(used_monthly=True)
    railway.track_class(spot.track, 3)
    railway.inspection(spot, kind="on_foot")
    (row,) = placed(spot)
    held = held_at([row], date(2026, 3, 20))[row.pk]
    assert held.facts_lacking
    assert not held.inspect_now


def test_many_are_asked_with_as_many_queries_as_few_and_answered_alike() -> None:
    counts = []
    for more in (2, 10):
        for place in range(more):
            spot = railway.turnout(used_monthly=place % 2 == 0)
            railway.inspection(spot, inspected_at=railway.VISIT - timedelta(days=place))
        every = list(Turnout.objects.with_place())
        with CaptureQueriesContext(connection) as asked:
            held_at(every, rows.DAY)
        counts.append(len(asked))
    assert counts[0] == counts[1]
    together = wanted_at_each(every, rows.DAY)
    assert together == {row.pk: wanted_at(row, rows.DAY) for row in every}
