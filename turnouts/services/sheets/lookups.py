"""The rows of this app that sheets name."""

from turnouts.models import (
    Component,
    Defect,
    Inspection,
    Instrument,
    Line,
    Person,
    Territory,
    Track,
    Turnout,
)
from turnouts.services.sheets.spec import Lookup

PERSON = Lookup("person", "people", Person, ("username",), of_all=True)
TERRITORY = Lookup("territory", "territories", Territory, ("code",))
LINE = Lookup("line", "lines", Line, ("code",))
TRACK = Lookup("track", "tracks", Track, ("line__code", "name"))
TURNOUT = Lookup("turnout", "turnouts", Turnout, ("code",))
COMPONENT = Lookup("component", "components", Component, ("serial",))
INSTRUMENT = Lookup("instrument", "instruments", Instrument, ("code",), of_all=True)
INSPECTION = Lookup("inspection", "inspections", Inspection, ("reference",))
DEFECT = Lookup("defect", "defects", Defect, ("reference",))
