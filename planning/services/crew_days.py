"""Crews as the solver sees them: who is in them, what they hold each day, when they may work."""

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta

from django.db.models import Q, QuerySet

from planning.models import Crew, CrewMember, Shift
from planning.services.calendar import Week
from planning.services.holding import Held
from planning.solver import problem as p
from planning.solver.choices import choice
from planning.solver.rest import rested
from planning.solver.travel import Place
from repairs.models import Qualification
from turnouts.models import Territory

LOOKOUT = "lookout"


def least_rest_min(on: date) -> int:
    """Minutes a crew rests between two shifts, by the railway's choice."""
    return round(60 * choice("least_rest", on))


def crews_in(territory: Territory, week: Week, stays: Held) -> tuple[p.Crew, ...]:
    """The crews that have anybody in them this week: the own ones, and those lent from elsewhere.

    A shift lent to another territory is worked there and nowhere else.
    """
    in_week = Shift.objects.filter(starts_at__gte=week.start, starts_at__lt=week.end)
    own = Q(crew__depot__territory=territory, loan__isnull=True)
    here = set(in_week.filter(own | Q(loan__territory=territory)).values_list("pk", flat=True))
    lent = Shift.objects.filter(pk__in=here).values("crew")
    rows = Crew.objects.filter(Q(depot__territory=territory) | Q(pk__in=lent))
    shifts = _rostered(rows, week)
    people = _people(rows, week)
    held = _held({m.person_id for members in people.values() for m in members})
    found = []
    for crew in rows.select_related("depot__line", "truck"):
        if people[crew.pk]:
            whole = [shift for pk, shift in shifts[crew.pk] if pk in here]
            holds = _holds(whole, people[crew.pk], held, week)
            found.append(_crew(crew, _ahead(crew, whole, stays), holds, len(people[crew.pk])))
    return tuple(found)


def _rostered(crews: QuerySet[Crew], week: Week) -> dict[int, list[tuple[int, p.Shift]]]:
    """Every crew's shifts as they may be worked, by row: what is worked in another territory, or
    in the weeks before and after, counts for the rest as well."""
    roster = defaultdict(list)
    around = {
        "ends_at__gt": week.start - timedelta(days=1),
        "starts_at__lt": week.end + timedelta(days=1),
    }
    for row in Shift.objects.filter(crew__in=crews, **around).order_by("starts_at"):
        roster[row.crew_id].append(row)
    found: dict[int, list[tuple[int, p.Shift]]] = defaultdict(list)
    rest_min = least_rest_min(week.monday)
    for crew, rows in roster.items():
        given = [(_shift(row, week), row.overtime_min) for row in rows]
        for row, shift in zip(rows, rested(given, rest_min), strict=True):
            if shift is not None:
                found[crew].append((row.pk, shift))
    return found


def _people(crews: QuerySet[Crew], week: Week) -> dict[int, list[CrewMember]]:
    """Who is in each crew for at least a part of the week."""
    found = defaultdict(list)
    last = week.days()[-1]
    rows = CrewMember.objects.filter(
        Q(until__isnull=True) | Q(until__gt=week.monday), crew__in=crews, since__lte=last
    )
    for row in rows:
        found[row.crew_id].append(row)
    return found


def _held(people: set[int]) -> dict[int, list[Qualification]]:
    found: dict[int, list[Qualification]] = defaultdict(list)
    for row in Qualification.objects.filter(person__in=people):
        found[row.person_id].append(row)
    return found


def _ahead(crew: Crew, shifts: list[p.Shift], held: Held) -> tuple[p.Shift, ...]:
    """The shifts from now on. Of a shift that has begun only the rest can be used, unless the crew
    is out already: it then goes on from where it is, not from its base."""
    left = [at for code, at in held.out if code == crew.code]
    return tuple(
        s if any(s.start_min <= at < s.end_min for at in left) else _from(s, held.since)
        for s in shifts
        if s.end_min > held.since or any(s.start_min <= at < s.end_min for at in left)
    )


def _from(shift: p.Shift, since: int) -> p.Shift:
    return replace(shift, start_min=max(shift.start_min, since))


def _shift(row: Shift, week: Week) -> p.Shift:
    return p.Shift(week.minute(row.starts_at), week.minute(row.ends_at), week.day_of(row.starts_at))


def _holds(
    shifts: list[p.Shift],
    members: list[CrewMember],
    held: dict[int, list[Qualification]],
    week: Week,
) -> dict[int, frozenset[str]]:
    """What the crew holds in the shift of each day. A shift past midnight is of two dates: who is
    in the crew, or may do it, on the first of them only counts for neither."""
    last = {number: day for number, day in enumerate(week.days())}
    for shift in shifts:
        until = week.local_day(shift.end_min - 1)
        last[shift.day] = max(last[shift.day], until)
    return {
        number: together(
            {
                member.person_id: frozenset(
                    row.procedure
                    for row in held[member.person_id]
                    if row.valid_on(day) and row.valid_on(last[number])
                )
                for member in members
                if member.since <= day and (member.until is None or last[number] < member.until)
            }
        )
        for number, day in enumerate(week.days())
    }


def together(each: dict[int, frozenset[str]]) -> frozenset[str]:
    """What a crew of these people holds. A lookout has no other duty while looking out (49 CFR
    214.329), so one counts only where the others hold all the rest without that person."""
    rest = frozenset[str]().union(*each.values()) - {LOOKOUT}
    spare = any(
        LOOKOUT in own
        and rest <= frozenset[str]().union(*(has for other, has in each.items() if other != person))
        for person, own in each.items()
    )
    return rest | {LOOKOUT} if spare else rest


def _crew(
    crew: Crew, shifts: tuple[p.Shift, ...], holds: dict[int, frozenset[str]], size: int
) -> p.Crew:
    return p.Crew(
        id=crew.code,
        base=Place(crew.depot.line.code, float(crew.depot.chainage_m)),
        shifts=shifts,
        holds=holds,
        truck=crew.truck.code if crew.truck else None,
        size=size,
    )
