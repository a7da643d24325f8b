from datetime import date

from django.urls import path, register_converter

from planning.pages import calendars, moving, network, plans, renewals, stock, week, what_if


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
    path("week/<str:territory>/<day:monday>/compare/", plans.compare_plans, name="compare-plans"),
    path("week/runs/<int:pk>/stop/", week.stop, name="stop-planning"),
    path("plans/<int:pk>/load-out/", plans.load_out, name="load-out"),
    path("plans/<int:pk>/load-out/paper/", plans.load_out_on_paper, name="load-out-paper"),
    path("plans/<int:pk>/jobs/<str:reference>/", moving.move, name="move-job"),
    path("plans/<int:pk>/jobs/<str:reference>/place/", moving.place, name="place-job"),
    path("plans/<int:pk>/jobs/<str:reference>/take-out/", moving.take_out, name="take-out-job"),
    path("plans/<int:pk>/jobs/<str:reference>/lock/", moving.lock, name="lock-job"),
    path("plans/<int:pk>/jobs/<str:reference>/order/", moving.order, name="order-job"),
    path("plans/<int:pk>/what-if/", what_if.ask_what_if, name="ask-week-what-if"),
    path("weeks/", network.this_network, name="this-network"),
    path("weeks/<day:monday>/", network.network, name="network-week"),
    path("weeks/runs/<int:pk>/stop/", network.stop, name="stop-network"),
    path("weeks/<day:monday>/plan/", network.ask_for_network, name="ask-for-network"),
    path("week/what-if/<int:pk>/", what_if.what_if, name="week-what-if"),
    path("week/what-if/<int:pk>/stop/", what_if.stop, name="stop-week-what-if"),
    path("week/what-if/<int:pk>/draft/", what_if.draft, name="draft-week-what-if"),
    path("plans/<int:pk>/publish/", week.publish, name="publish-plan"),
    path("stock/", stock.stock, name="stock"),
    path("renewals/", renewals.renewals, name="renewals"),
    path("calendars/", calendars.crew_calendars, name="crew-calendars"),
    path("calendars/<str:code>/renew/", calendars.renew, name="renew-calendar"),
    path("calendars/<str:key>.ics", calendars.crew_feed, name="crew-feed"),
]
