"""The sheets of this app, in the order of writing."""

from turnouts.services.sheets.components import COMPONENTS, INSTALLATIONS, SHOP_VISITS
from turnouts.services.sheets.defects import DEFECT_STEPS, DEFECTS
from turnouts.services.sheets.inspections import INSPECTIONS, INSTRUMENTS, MEASUREMENTS
from turnouts.services.sheets.people import PEOPLE, ROLE_GRANTS, TERRITORIES
from turnouts.services.sheets.places import (
    LINES,
    MILEPOSTS,
    TRACK_CLASSES,
    TRACKS,
    TRAFFIC,
    TURNOUTS,
)

OWN_SHEETS = (
    TERRITORIES,
    PEOPLE,
    ROLE_GRANTS,
    LINES,
    MILEPOSTS,
    TRACKS,
    TRACK_CLASSES,
    TURNOUTS,
    TRAFFIC,
    COMPONENTS,
    INSTALLATIONS,
    SHOP_VISITS,
    INSTRUMENTS,
    INSPECTIONS,
    MEASUREMENTS,
    DEFECTS,
    DEFECT_STEPS,
)
