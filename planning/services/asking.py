"""Questions as they come from a form or a program, read into what they ask, or refused in words."""

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils import timezone

from planning.models import Crew, CrewMember, Truck, WorkWindow
from planning.services.calendar import Week
from planning.services.crew_days import together
from planning.services.questions import (
    NEW,
    AddWindow,
    CancelWindow,
    DropCrew,
    FewerWelders,
    LateTruck,
    MoreWelders,
    MoveWindow,
    Question,
)
from planning.services.week import windows_in
from planning.solver.problem import Window
from repairs.models import Qualification
from turnouts.analysis import linear
from turnouts.models import Territory, Track
from turnouts.services.errors import Refused

MOST_LATE_H = 24
MOST_MOVED_MIN = 24 * 60


def read_question(asked: Mapping[str, Any], territory: Territory, week: Week) -> Question:
    """The question in ``asked``, whose ``kind`` names it; Refused with what is wrong with it."""
    reader = _Reader(asked, territory, week)
    kinds = {
        "add_window": reader.add_window,
        "move_window": reader.move_window,
        "cancel_window": reader.cancel_window,
        "drop_crew": reader.drop_crew,
        "late_truck": reader.late_truck,
        "more_welders": reader.more_welders,
        "fewer_welders": reader.fewer_welders,
    }
    kind = str(asked.get("kind", ""))
    if kind not in kinds:
        raise Refused(f"There is no question of the kind {kind!r}. Ask one of: {', '.join(kinds)}.")
    return kinds[kind]()


class _Reader:
    def __init__(self, asked: Mapping[str, Any], territory: Territory, week: Week) -> None:
        self.asked, self.territory, self.week = asked, territory, week

    def add_window(self) -> Question:
        track = self._track()
        low, high = self._milepost("from_milepost"), self._milepost("to_milepost")
        if not low < high:
            raise Refused(
                f"The track time must run on: from milepost {low} to a higher one than {high}."
            )
        begins, ends = self._span()
        window = Window(
            id=NEW,
            line=track.line.code,
            track=track.name,
            from_m=_chainage(track, low),
            to_m=_chainage(track, high),
            start_min=self.week.minute(begins),
            end_min=self.week.minute(ends),
            protection="exclusive_track_occupancy",
            gangs=self._whole("gangs", "how many gangs may work in it", 1, 9),
        )
        return AddWindow(window, f"{track.line.code} {track.name}, milepost {low} to {high},")

    def move_window(self) -> Question:
        row = self._window()
        begin_by = self._whole(
            "begin_by", "the minutes of the begin", -MOST_MOVED_MIN, MOST_MOVED_MIN
        )
        end_by = self._whole("end_by", "the minutes of the end", -MOST_MOVED_MIN, MOST_MOVED_MIN)
        if not begin_by and not end_by:
            raise Refused("Say by how many minutes the window would begin or end otherwise.")
        begins = row.starts_at + timedelta(minutes=begin_by)
        if begins >= row.ends_at + timedelta(minutes=end_by):
            raise Refused(f"Window {row.reference} would end before it begins; ask for less.")
        if not self.week.start <= begins < self.week.end:
            raise Refused(f"Window {row.reference} would begin in another week; ask for less.")
        return MoveWindow(row.reference, begin_by, end_by)

    def cancel_window(self) -> Question:
        return CancelWindow(self._window().reference)

    def drop_crew(self) -> Question:
        crew = self._crew()
        return DropCrew(crew.code, self._days(), crew.name)

    def late_truck(self) -> Question:
        name = self._text("truck", "a truck")
        truck = Truck.objects.filter(code=name, crews__in=self._crews()).first()
        if truck is None:
            raise Refused(f"No crew of this week drives a truck {name}.")
        hours = self._decimal("hours", "how many hours late")
        if not 0 < hours <= MOST_LATE_H:
            raise Refused(f"A truck can be late by more than 0 and up to {MOST_LATE_H} hours.")
        [day] = self._days()[:1]
        return LateTruck(truck.code, day, round(hours * 60), truck.name)

    def more_welders(self) -> Question:
        crew = self._crew()
        name = self._text("procedure", "what the person is qualified for")
        if not Qualification.objects.filter(procedure=name).exists():
            raise Refused(f"Nobody on the railway is qualified for {name}; check the name.")
        return MoreWelders(crew.code, name, self._days(), crew.name)

    def fewer_welders(self) -> Question:
        username = self._text("person", "who does not come")
        days = self._days()
        rows = CrewMember.objects.filter(crew__in=self._crews(), person__username=username)
        members = [m for m in rows.select_related("crew", "person") if self._is_in(m, days)]
        if not members:
            raise Refused(f"{username} is in no crew of this week on those days.")
        crew = members[0].crew
        left = tuple((day, self._held(crew, day, username)) for day in days)
        return FewerWelders(crew.code, str(members[0].person), days, crew.name, left)

    def _is_in(self, member: CrewMember, days: tuple[int, ...]) -> bool:
        return any(_member_on(member, self.week.days()[day]) for day in days)

    def _held(self, crew: Crew, day: int, without: str) -> frozenset[str]:
        """What the others of the crew hold on a day."""
        on = self.week.days()[day]
        others = [
            m.person_id for m in crew.members.exclude(person__username=without) if _member_on(m, on)
        ]
        each: dict[int, frozenset[str]] = {person: frozenset() for person in others}
        for row in Qualification.objects.filter(person__in=others):
            if row.valid_on(on):
                each[row.person_id] |= {row.procedure}
        return together(each)

    def _crews(self) -> Any:
        return Crew.objects.filter(depot__territory=self.territory) | Crew.objects.filter(
            shifts__loan__territory=self.territory,
            shifts__starts_at__gte=self.week.start,
            shifts__starts_at__lt=self.week.end,
        )

    def _crew(self) -> Crew:
        code = self._text("crew", "a crew")
        row = Crew.objects.filter(pk__in=self._crews().values("pk"), code=code).first()
        if row is None:
            raise Refused(f"There is no crew {code} in this territory's week.")
        return row

    def _window(self) -> WorkWindow:
        reference = self._text("window", "a window")
        rows = windows_in(self.territory, self.week)
        row = next((one for one in rows if one.reference == reference), None)
        if row is None:
            raise Refused(f"There is no work window {reference} in this territory's week.")
        return row

    def _track(self) -> Track:
        """By ``LINE, name``, as the list of the page gives it."""
        line, _, name = self._text("track", "a track").partition(", ")
        rows = Track.objects.select_related("line").filter(line__territory=self.territory)
        row = rows.filter(line__code=line, name=name).first()
        if row is None:
            raise Refused(f"There is no track {name or '(no name)'} on line {line} here.")
        return row

    def _span(self) -> tuple[datetime, datetime]:
        """From one time of day to another; an end before the begin is on the next day."""
        [day] = self._days()[:1]
        begin, end = self._time("begins"), self._time("ends")
        on = self.week.days()[day]
        after = on if end > begin else on + timedelta(days=1)
        return _moment(on, begin), _moment(after, end)

    def _days(self) -> tuple[int, ...]:
        given = self.asked.get("days") or []
        listed = [given] if isinstance(given, str | int) else list(given)
        try:
            days = sorted({int(day) for day in listed})
        except (TypeError, ValueError):
            raise Refused("A day is a number from 0 for Monday to 6 for Sunday.") from None
        if not days:
            raise Refused("Choose at least one day.")
        if not 0 <= days[0] <= days[-1] <= 6:
            raise Refused("A day is a number from 0 for Monday to 6 for Sunday.")
        return tuple(days)

    def _text(self, name: str, what: str) -> str:
        given = str(self.asked.get(name) or "").strip()
        if not given:
            raise Refused(f"Choose {what}.")
        return given[:80]

    def _decimal(self, name: str, what: str) -> Decimal:
        given = str(self.asked.get(name, "")).strip().replace(",", ".")
        try:
            number = Decimal(given)
        except InvalidOperation:
            raise Refused(f"Say {what} as a number; {given or 'nothing'} is none.") from None
        if not number.is_finite():
            raise Refused(f"Say {what} as a number; {given} is none.")
        return number

    def _whole(self, name: str, what: str, low: int, high: int) -> int:
        number = self._decimal(name, what) if str(self.asked.get(name, "")).strip() else Decimal(0)
        if number != number.to_integral_value() or not low <= number <= high:
            raise Refused(f"Say {what} as a whole number from {low} to {high}.")
        return int(number)

    def _milepost(self, name: str) -> Decimal:
        return self._decimal(name, "the milepost")

    def _time(self, name: str) -> time:
        given = str(self.asked.get(name, "")).strip()
        try:
            return time.fromisoformat(given if len(given) >= 5 else f"0{given}")
        except ValueError:
            raise Refused(f"{given or 'Nothing'} is no time of day; type it as 23:30.") from None


def _member_on(member: CrewMember, day: date) -> bool:
    return member.since <= day and (member.until is None or day < member.until)


def _moment(day: date, at: time) -> datetime:
    return timezone.make_aware(datetime.combine(day, at))


def _chainage(track: Track, milepost: Decimal) -> float:
    posts = [linear.Post(post.reading, post.chainage_m) for post in track.line.mileposts.all()]
    try:
        posts_of = linear.Mileposts(tuple(posts), track.line.milepost_unit)
        return float(posts_of.chainage_m(milepost))
    except linear.MilepostError as fault:
        raise Refused(str(fault)) from None
