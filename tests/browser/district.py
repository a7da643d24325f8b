"""One territory with its people, turnouts, crew and the track time of the week to come."""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from planning.models import Crew, CrewMember, Shift, Stock, Truck, WorkWindow
from planning.services.calendar import week_of
from tests import railway, track_time
from tests.browser.looking import PASSWORD
from tests.certificates import certificate
from turnouts.analysis.terms import Role
from turnouts.models import Component, Person, Territory, Track, Turnout

WELDS = ("manganese-wire", "manganese-stick", "employee_in_charge")
MATERIAL = ("manganese-wire", "carbons", "cavity_wheels", "profile_stones", "penetrant_set")


@dataclass(frozen=True)
class District:
    """What a test needs to know of the territory it made."""

    territory: Territory
    track: Track
    monday: date
    people: dict[Role, Person]
    spots: list[Turnout] = field(default_factory=list)
    frogs: list[Component] = field(default_factory=list)

    def at(self, day: int, hour: float) -> datetime:
        """An hour of a day of the week to come, Monday being 0."""
        midnight = timezone.make_aware(datetime.combine(self.monday, time()))
        return midnight + timedelta(days=day, hours=hour)

    @property
    def week_page(self) -> str:
        return f"/week/{self.territory.code}/{self.monday}/"


def district(miles: tuple[str, ...] = ("4", "6", "15")) -> District:
    """Class 3 track with a manganese frog at each of the mileposts, and somebody of each role.

    There is track time on Tuesday and Thursday, from mile 0 to mile 10 only.
    """
    track = railway.track()
    railway.track_class(track, 3)
    territory = track.line.territory
    people = {role: railway.person(role, territory) for role in Role}
    for person in people.values():
        person.set_password(PASSWORD)
        person.save()
    made = District(territory, track, week_of(_next_week()).monday, people)
    for mile in miles:
        spot = railway.turnout(track, mile=mile, access=f"Gate at mile {mile}")
        frog = railway.component()
        railway.install(frog, spot)
        made.spots.append(spot)
        made.frogs.append(frog)
    _crew(made)
    for day in (1, 3):
        _window(made, day)
    return made


def _next_week() -> date:
    return timezone.localdate() + timedelta(days=7)


def _crew(of: District) -> Crew:
    """The welder alone, with a full truck, from 6 to 18 each working day."""
    base = track_time.depot(of.track.line)
    code = of.territory.code
    truck = Truck.objects.create(depot=base, code=f"TR-{code}", name="Truck", capacity_kg=5000)
    for material in MATERIAL:
        Stock.objects.create(truck=truck, material=material, quantity=300, unit="kg")
    crew = Crew.objects.create(depot=base, truck=truck, code=f"CR-{code}", name=f"Crew {code}")
    welder = of.people[Role.WELDER]
    CrewMember.objects.create(crew=crew, person=welder, since=railway.SINCE)
    for paper in WELDS:
        certificate(welder, paper, railway.SINCE, None)
    for day in range(5):
        Shift.objects.create(crew=crew, starts_at=of.at(day, 6), ends_at=of.at(day, 18))
    return crew


def _window(of: District, day: int) -> WorkWindow:
    return WorkWindow.objects.create(
        reference=f"W-{of.territory.code}-{day}",
        track=of.track,
        starts_at=of.at(day, 8),
        ends_at=of.at(day, 16),
        from_milepost=0,
        to_milepost=10,
        from_m=0,
        to_m=10 * railway.MILE_M,
        protection="exclusive_track_occupancy",
        gangs=1,
    )
