"""A plan's week in minutes: the solver counts from Monday 00:00 in the railway's time zone."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.utils import timezone

from turnouts.services.errors import Refused

DAYS = 7


@dataclass(frozen=True)
class Week:
    """A week from its Monday. Minutes are elapsed time, so a clock change shifts no window."""

    monday: date

    def __post_init__(self) -> None:
        if self.monday.weekday() != 0:
            raise Refused(f"{self.monday:%Y-%m-%d} is not a Monday; a week's plan begins on one.")

    @property
    def start(self) -> datetime:
        """Monday 00:00 on the railway's clock, in UTC: Python counts wall-clock hours between two
        times of one zone, which a clock change would make wrong by one."""
        return _midnight(self.monday)

    @property
    def end(self) -> datetime:
        return _midnight(self.monday + timedelta(days=DAYS))

    def minute(self, at: datetime) -> int:
        """Whole minutes from the start of the week, rounded down."""
        return int((at - self.start).total_seconds() // 60)

    def moment(self, minute: int) -> datetime:
        return self.start + timedelta(minutes=minute)

    def day_of(self, at: datetime) -> int:
        """The day of the week in the railway's time zone, 0 for Monday."""
        return (timezone.localtime(at).date() - self.monday).days

    def local_day(self, minute: int) -> date:
        """The date on the railway's clock at a minute of the week."""
        return timezone.localtime(self.moment(minute)).date()

    def days(self) -> list[date]:
        return [self.monday + timedelta(days=n) for n in range(DAYS)]


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time())).astimezone(UTC)


def week_of(day: date) -> Week:
    """The week a day lies in."""
    return Week(day - timedelta(days=day.weekday()))
