"""Places offered for a job: each keeps every rule, each that is not offered says why."""

import pytest

from planning.services.hand_edits import Wanted, place_by_hand, take_out_by_hand
from planning.services.places import places_for
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import at

NOW = at(-1, 12)


def test_each_place_offered_is_taken_with_the_chance_and_the_value_it_was_offered_with(
    small_week: SmallWeek,
) -> None:
    track_time.window(small_week.track, day=2)
    job = small_week.jobs[0].reference
    plan = small_week.plan()

    offers = places_for(plan, job, NOW).offers

    assert len(offers) == 2
    for offer in offers:
        plan.refresh_from_db()
        made = place_by_hand(
            by=small_week.supervisor,
            plan=plan,
            expected_version=plan.version,
            job=job,
            wanted=Wanted(offer.crew, offer.window, offer.starts_at),
            at=NOW,
        )
        placed = made.placed.get(job__reference=job)
        assert (placed.starts_at, placed.ends_at) == (offer.starts_at, offer.ends_at)
        assert placed.chance == pytest.approx(offer.chance, abs=0.006)  # four standard errors
        assert made.value - plan.value == pytest.approx(offer.change)


def test_a_day_later_costs_what_the_repair_saves_in_a_day(small_week: SmallWeek) -> None:
    later = track_time.window(small_week.track, day=1)
    plan = small_week.plan()

    offers = places_for(plan, small_week.jobs[0].reference, NOW).offers

    [tuesday] = [offer for offer in offers if offer.window == later.reference]
    assert tuesday.change == pytest.approx(-100)


def test_where_it_stands_now_is_among_the_offers_and_marked(small_week: SmallWeek) -> None:
    plan = small_week.plan()
    last = plan.placed.select_related("job").order_by("-starts_at").first()
    assert last is not None

    offers = places_for(plan, last.job.reference, NOW).offers

    assert [offer.starts_at for offer in offers if offer.here] == [last.starts_at]


def test_a_job_left_out_is_offered_places_too(small_week: SmallWeek) -> None:
    plan = take_out_by_hand(
        by=small_week.supervisor,
        plan=small_week.plan(),
        expected_version=1,
        job=small_week.jobs[1].reference,
        at=NOW,
    )

    [offer] = places_for(plan, small_week.jobs[1].reference, NOW).offers

    assert offer.change == pytest.approx(offer.value) == 2800  # 100 a day for four weeks
    assert not offer.here


def test_a_crew_that_may_not_do_it_is_named_with_the_reason(small_week: SmallWeek) -> None:
    other = track_time.crew(small_week.crew.depot, holds=("employee_in_charge",))
    plan = small_week.plan()

    closed = places_for(plan, small_week.jobs[0].reference, NOW).closed

    [found] = [one for one in closed if one.crew == other.code]
    assert "qualified for manganese-wire" in found.why


def test_a_window_elsewhere_is_not_spoken_of(small_week: SmallWeek) -> None:
    away = track_time.window(small_week.track, day=1, to_milepost=1, to_m=railway.MILE_M)
    places = places_for(small_week.plan(), small_week.jobs[0].reference, NOW)

    assert away.reference not in {one.window for one in (*places.offers, *places.closed)}


def test_a_job_that_does_not_wait_has_no_places(small_week: SmallWeek) -> None:
    with pytest.raises(KeyError):
        places_for(small_week.plan(), "R-none", NOW)
