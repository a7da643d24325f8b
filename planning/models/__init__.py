from planning.models.orders import JobOrder
from planning.models.plans import LeftOut, PlannedJob, WeekPlan
from planning.models.resources import Crew, CrewLoan, CrewMember, Depot, Road, Shift, Stock, Truck
from planning.models.stock_use import StockUse
from planning.models.stops import PlanningStop
from planning.models.telling import CalendarEntry, CrewCalendar, CrewNotice
from planning.models.windows import WorkWindow

__all__ = [
    "CalendarEntry",
    "Crew",
    "CrewCalendar",
    "CrewLoan",
    "CrewMember",
    "CrewNotice",
    "Depot",
    "JobOrder",
    "LeftOut",
    "PlannedJob",
    "PlanningStop",
    "Road",
    "Shift",
    "Stock",
    "StockUse",
    "Truck",
    "WeekPlan",
    "WorkWindow",
]
