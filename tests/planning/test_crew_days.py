"""What a crew may do, and when: lookouts, certificates past midnight, overtime and rest."""

from datetime import timedelta

import pytest

from planning.models import Crew, Shift
from planning.services.calendar import Week
from planning.services.crew_days import LOOKOUT, crews_in
from planning.services.holding import Held
from planning.solver import problem as p
from tests import railway, track_time
from tests.track_time import MONDAY, PROCEDURE
from turnouts.models import Territory, Track

pytestmark = pytest.mark.django_db

WEEK = Week(MONDAY)
CHARGE = "employee_in_charge"


@pytest.fixture
def track() -> Track:
    return railway.track()


@pytest.fixture
def territory(track: Track) -> Territory:
    return track.line.territory


def crew_of(track: Track, *people: tuple[str, ...]) -> Crew:
    crew = track_time.crew(track_time.depot(track.line), holds=())
    for holds in people:
        track_time.member(crew, *holds)
    return crew


def planned(territory: Territory) -> p.Crew:
    [found] = crews_in(territory, WEEK, Held())
    return found


@pytest.mark.parametrize(
    ("people", "counts"),
    [
        ([(PROCEDURE, CHARGE), (LOOKOUT,)], True),
        ([(PROCEDURE, CHARGE, LOOKOUT)], False),
        ([(PROCEDURE,), (CHARGE, LOOKOUT)], False),
        ([(PROCEDURE, CHARGE), (CHARGE, LOOKOUT)], True),
        ([(PROCEDURE, CHARGE)], False),
    ],
)
def test_a_lookout_has_no_other_duty_meanwhile(
    territory: Territory, track: Track, people: list[tuple[str, ...]], counts: bool
) -> None:
    """49 CFR 214.329(b): watchmen and lookouts shall not be assigned any other duties."""
    crew_of(track, *people)

    assert (LOOKOUT in planned(territory).holds[0]) is counts


@pytest.mark.parametrize(("ends_hour", "counts"), [(24, True), (24 + 1 / 60, False), (25, False)])
def test_a_certificate_that_runs_out_at_midnight_does_not_count_for_a_shift_past_it(
    territory: Territory, track: Track, ends_hour: float, counts: bool
) -> None:
    crew = crew_of(track)
    track_time.member(crew, PROCEDURE, expires_on=MONDAY)
    crew.shifts.all().delete()
    Shift.objects.create(
        crew=crew, starts_at=track_time.at(0, 20), ends_at=track_time.at(0, ends_hour)
    )

    assert (PROCEDURE in planned(territory).holds[0]) is counts


def test_somebody_who_leaves_the_crew_at_midnight_does_not_count_for_the_shift_past_it(
    territory: Territory, track: Track
) -> None:
    crew = crew_of(track, (PROCEDURE,))
    crew.shifts.all().delete()
    shift = Shift.objects.create(
        crew=crew, starts_at=track_time.at(0, 20), ends_at=track_time.at(1, 2)
    )
    for until, counts in ((2, True), (1, False)):
        crew.members.update(until=MONDAY + timedelta(days=until))
        assert (PROCEDURE in planned(territory).holds[0]) is counts
    shift.ends_at = track_time.at(1, 0)
    shift.save()
    assert PROCEDURE in planned(territory).holds[0]


def test_overtime_lengthens_the_shift_it_is_allowed_in(territory: Territory, track: Track) -> None:
    crew = crew_of(track, (PROCEDURE,))
    crew.shifts.filter(starts_at=track_time.at(1, 6)).update(overtime_min=90)

    ends = [shift.end_min for shift in planned(territory).shifts]

    assert ends[:3] == [1080, 1440 + 1080 + 90, 2880 + 1080]


@pytest.mark.parametrize(("ends_hour", "starts_min"), [(22, 1440 + 360), (22.5, 1440 + 390)])
def test_a_shift_begins_no_sooner_than_the_rest_after_the_one_before(
    territory: Territory, track: Track, ends_hour: float, starts_min: int
) -> None:
    """Eight hours, the railway's choice ``least_rest``: from 22:00 to 6:00 they are just met."""
    crew = crew_of(track, (PROCEDURE,))
    crew.shifts.filter(starts_at=track_time.at(0, 6)).update(ends_at=track_time.at(0, ends_hour))

    assert planned(territory).shifts[1].start_min == starts_min


def test_the_last_shift_of_the_week_before_counts_for_the_rest(
    territory: Territory, track: Track
) -> None:
    crew = crew_of(track, (PROCEDURE,))
    Shift.objects.create(crew=crew, starts_at=track_time.at(-1, 18), ends_at=track_time.at(0, 1))

    found = planned(territory).shifts

    assert (found[0].start_min, found[1].start_min) == (9 * 60, 1440 + 360)
