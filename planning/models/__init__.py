from planning.models.plans import LeftOut, PlannedJob, WeekPlan
from planning.models.resources import Crew, CrewMember, Depot, Road, Shift, Stock, Truck
from planning.models.stops import PlanningStop
from planning.models.telling import CalendarEntry, CrewCalendar, CrewNotice
from planning.models.windows import WorkWindow

__all__ = [
    "CalendarEntry",
    "Crew",
    "CrewCalendar",
    "CrewMember",
    "CrewNotice",
    "Depot",
    "LeftOut",
    "PlannedJob",
    "PlanningStop",
    "Road",
    "Shift",
    "Stock",
    "Truck",
    "WeekPlan",
    "WorkWindow",
]
