from datetime import date

from django.urls import path, register_converter

from planning.pages import calendars, week


class DayConverter:
    """A day as ``2026-11-30``."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)

    def to_url(self, value: date | str) -> str:
        return value if isinstance(value, str) else value.isoformat()


register_converter(DayConverter, "day")

urlpatterns = [
    path("week/", week.this_week, name="this-week"),
    path("week/<str:territory>/<day:monday>/", week.week, name="week"),
    path("week/<str:territory>/<day:monday>/plan/", week.ask_for_plan, name="ask-for-plan"),
    path("plans/<int:pk>/publish/", week.publish, name="publish-plan"),
    path("calendars/", calendars.crew_calendars, name="crew-calendars"),
    path("calendars/<str:code>/renew/", calendars.renew, name="renew-calendar"),
    path("calendars/<str:key>.ics", calendars.crew_feed, name="crew-feed"),
]
