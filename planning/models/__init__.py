from planning.models.plans import LeftOut, PlannedJob, WeekPlan
from planning.models.resources import Crew, CrewMember, Depot, Road, Shift, Stock, Truck
from planning.models.windows import WorkWindow

__all__ = [
    "Crew",
    "CrewMember",
    "Depot",
    "LeftOut",
    "PlannedJob",
    "Road",
    "Shift",
    "Stock",
    "Truck",
    "WeekPlan",
    "WorkWindow",
]
