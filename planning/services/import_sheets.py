"""Sheets of depots, trucks, crews and their shifts, stock, track time and roads."""

from planning.models import (
    Crew,
    CrewMember,
    Depot,
    Road,
    Shift,
    Stock,
    Truck,
    WorkWindow,
)
from repairs.welding.rows_toml import rows_of, table_of
from turnouts.access import Action
from turnouts.analysis.units import Dimension
from turnouts.services.sheets.batch import Row
from turnouts.services.sheets.checks import Apart, each, in_order
from turnouts.services.sheets.kinds import Text
from turnouts.services.sheets.lookups import LINE, PERSON, TERRITORY, TRACK
from turnouts.services.sheets.moved_posts import Place
from turnouts.services.sheets.posts import Chainage
from turnouts.services.sheets.spec import Extra, Lookup, Measured, Names, Own, Sheet

DEPOT = Lookup("depot", "depots", Depot, ("code",))
TRUCK = Lookup("truck", "trucks", Truck, ("code",))
CREW = Lookup("crew", "crews", Crew, ("code",))

DEPOTS = Sheet(
    name="depots",
    model=Depot,
    right=Action.PLAN,
    columns=(
        Own("code", key=True),
        Own("name"),
        Names("territory", TERRITORY),
        Names("line", LINE),
        Own("milepost"),
    ),
    before=(Chainage("milepost", "chainage_m", line="line_id"),),
)

TRUCKS = Sheet(
    name="trucks",
    model=Truck,
    right=Action.PLAN,
    columns=(
        Own("code", key=True),
        Own("name"),
        Names("depot", DEPOT),
        Measured("capacity", Dimension.MASS, field="capacity_kg"),
    ),
)

CREWS = Sheet(
    name="crews",
    model=Crew,
    right=Action.PLAN,
    columns=(
        Own("code", key=True),
        Own("name"),
        Names("depot", DEPOT),
        Names("truck", TRUCK),
        Own("shared"),
    ),
)

CREW_MEMBERS = Sheet(
    name="crew_members",
    model=CrewMember,
    right=Action.PLAN,
    columns=(
        Names("crew", CREW, key=True),
        Names("username", PERSON, field="person", key=True),
        Own("since", key=True),
        Own("until"),
    ),
    checks=(
        in_order("since", "until", "The end must come after the start."),
        Apart(("person_id",), "since", "until", "username", "A person is in one crew at a time."),
    ),
)

SHIFTS = Sheet(
    name="shifts",
    model=Shift,
    right=Action.PLAN,
    columns=(
        Names("crew", CREW, key=True),
        Own("starts_at", key=True),
        Own("ends_at"),
        Own("overtime_min"),
    ),
    checks=(
        in_order("starts_at", "ends_at", "A shift ends after it starts."),
        Apart(("crew_id",), "starts_at", "ends_at", "starts_at", "A crew has one shift at a time."),
    ),
)


def _lies_in_one_place(row: Row) -> str | None:
    if bool(row.values.get("depot_id")) is bool(row.values.get("truck_id")):
        return "Stock lies either in a depot or on a truck: fill one of the two columns."
    return None


def _counted_in_its_unit(row: Row) -> str | None:
    """Estimates count a material in the unit of its pack; another one would mix up the sums."""
    unit = table_of("materials", row.values["material"])["pack"].unit
    if row.values.get("unit") != unit:
        return f"{row.values['material']} is counted in {unit} here; give its quantity in {unit}."
    return None


def _ordered_to_a_depot(row: Row) -> str | None:
    if row.values.get("lead_days") is not None and row.values.get("truck_id"):
        return "An order comes to a depot: give the lead time with the depot's stock."
    return None


STOCK = Sheet(
    name="stock",
    model=Stock,
    right=Action.PLAN,
    placed_by=("depot", "truck"),
    columns=(
        Names("depot", DEPOT, key=True),
        Names("truck", TRUCK, key=True),
        Own("material", key=True, words=tuple(rows_of("materials"))),
        Own("quantity"),
        Own("unit"),
        Own("lead_days"),
    ),
    checks=(
        each("depot", _lies_in_one_place),
        each("unit", _counted_in_its_unit),
        each("lead_days", _ordered_to_a_depot),
    ),
)

WORK_WINDOWS = Sheet(
    name="work_windows",
    model=WorkWindow,
    right=Action.PLAN,
    columns=(
        Own("reference", key=True),
        Extra("line", Text(), required=True, path="track__line__code"),
        Names("track", TRACK, by=("line", "track")),
        Own("from_milepost"),
        Own("to_milepost"),
        Own("starts_at"),
        Own("ends_at"),
        Own("protection"),
        Own("gangs"),
    ),
    before=(Chainage("from_milepost", "from_m"), Chainage("to_milepost", "to_m")),
    checks=(
        in_order("starts_at", "ends_at", "A work window ends after it starts."),
        in_order(
            "from_m",
            "to_m",
            "The stretch must run on: its end comes after its start.",
            column="to_milepost",
        ),
    ),
)

ROADS = Sheet(
    name="roads",
    model=Road,
    right=Action.PLAN,
    placed_by=("from_line", "to_line"),
    columns=(
        Names("from_line", LINE, key=True),
        Own("from_milepost", key=True),
        Names("to_line", LINE, key=True),
        Own("to_milepost", key=True),
        Own("via"),
        Own("minutes"),
    ),
    before=(
        Chainage("from_milepost", "from_m", line="from_line_id"),
        Chainage("to_milepost", "to_m", line="to_line_id"),
    ),
)

OWN_SHEETS = (
    DEPOTS,
    TRUCKS,
    CREWS,
    CREW_MEMBERS,
    SHIFTS,
    STOCK,
    WORK_WINDOWS,
    ROADS,
)

PLACES = (
    Place(Depot, "line_id", (("milepost", "chainage_m"),)),
    Place(WorkWindow, "track__line_id", (("from_milepost", "from_m"), ("to_milepost", "to_m"))),
    Place(Road, "from_line_id", (("from_milepost", "from_m"),)),
    Place(Road, "to_line_id", (("to_milepost", "to_m"),)),
)
"""What is kept by milepost here, and moves when a post does."""
