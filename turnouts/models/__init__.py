from turnouts.models.answers import KeptAnswer
from turnouts.models.components import Component, Installation, ShopVisit
from turnouts.models.defects import Defect, DefectStep, Photograph
from turnouts.models.families import FamilyComparison
from turnouts.models.forecasts import ForecastRecord, WearForecast
from turnouts.models.inspections import Inspection, Instrument, Measurement
from turnouts.models.outlook import ComponentRank, EarlyWarning, FamilyFigures
from turnouts.models.people import Person, RoleGrant
from turnouts.models.places import Line, Milepost, Territory, Track, TrackClass
from turnouts.models.runs import ExportFile, ImportFile, LongRun
from turnouts.models.turnouts import Traffic, Turnout

__all__ = [
    "Component",
    "ComponentRank",
    "Defect",
    "DefectStep",
    "EarlyWarning",
    "ExportFile",
    "FamilyComparison",
    "FamilyFigures",
    "ForecastRecord",
    "ImportFile",
    "Inspection",
    "Installation",
    "Instrument",
    "KeptAnswer",
    "Line",
    "LongRun",
    "Measurement",
    "Milepost",
    "Person",
    "Photograph",
    "RoleGrant",
    "ShopVisit",
    "Territory",
    "Track",
    "TrackClass",
    "Traffic",
    "Turnout",
    "WearForecast",
]
