"""Sheets of places: lines, mileposts, tracks and their class, turnouts and their traffic."""

from decimal import Decimal
from typing import Any

from turnouts.access import Action
from turnouts.analysis.geometry import frog_angle
from turnouts.analysis.sections import sections
from turnouts.analysis.units import Dimension
from turnouts.analysis.whereabouts import Axis, refused_coordinate
from turnouts.models import Line, Milepost, Track, TrackClass, Traffic, Turnout
from turnouts.services.sheets.batch import Row
from turnouts.services.sheets.checks import Apart, ByRow, each, in_order
from turnouts.services.sheets.kinds import Kind, Number, Text, plain
from turnouts.services.sheets.lookups import LINE, TERRITORY, TRACK, TURNOUT
from turnouts.services.sheets.moved_posts import keep_class_limits, move_places
from turnouts.services.sheets.posts import Chainage, check_posts, posts_of
from turnouts.services.sheets.spec import (
    Cells,
    Exported,
    Extra,
    Fill,
    Measured,
    Names,
    Own,
    Sheet,
)
from turnouts.services.sheets.tonnages import traffic_moves_components

READING = Number(places=3, digits=8)

LINES = Sheet(
    name="lines",
    model=Line,
    right=Action.EDIT_INVENTORY,
    columns=(
        Own("code", key=True),
        Own("name"),
        Names("territory", TERRITORY),
        Own("milepost_unit"),
    ),
)

MILEPOSTS = Sheet(
    name="mileposts",
    model=Milepost,
    right=Action.EDIT_INVENTORY,
    columns=(
        Names("line", LINE, key=True),
        Own("reading", key=True),
        Measured("chainage", Dimension.DISTANCE, field="chainage_m"),
    ),
    checks=(keep_class_limits,),
    after=(check_posts, move_places),
)

TRACKS = Sheet(
    name="tracks",
    model=Track,
    right=Action.EDIT_INVENTORY,
    columns=(Names("line", LINE, key=True), Own("name", key=True), Own("kind")),
)


def readings_of(*columns: tuple[str, str]) -> Fill:
    """An export step that writes each column from its chainage field, as a milepost reading."""

    def fill(rows: list[dict[str, Any]], _: dict[str, Kind]) -> list[Cells]:
        posts = posts_of({row["track__line_id"] for row in rows})
        return [
            {
                column: plain(posts.reading(row["track__line_id"], row[chainage]))
                for column, chainage in columns
            }
            for row in rows
        ]

    return fill


TRACK_CLASSES = Sheet(
    name="track_classes",
    model=TrackClass,
    right=Action.EDIT_INVENTORY,
    columns=(
        Extra("line", Text(), required=True, key=True, path="track__line__code"),
        Names("track", TRACK, by=("line", "track"), key=True),
        Extra("from_milepost", READING, required=True, key=True),
        Extra("to_milepost", READING, required=True),
        Own("class", field="track_class"),
        Own("since", key=True),
        Own("until"),
    ),
    match=("track_id", "from_m", "since"),
    before=(Chainage("from_milepost", "from_m"), Chainage("to_milepost", "to_m")),
    checks=(
        in_order(
            "from_m",
            "to_m",
            "The stretch must run on: its end comes after its start.",
            column="to_milepost",
        ),
        in_order("since", "until", "The end must come after the start."),
        Apart(
            group=("track_id",),
            start="since",
            end="until",
            span=("from_m", "to_m"),
            column="class",
            sentence="A place has one class of track at a time.",
        ),
    ),
    exported=Exported(
        paths=("track__line_id", "from_m", "to_m"),
        fill=readings_of(("from_milepost", "from_m"), ("to_milepost", "to_m")),
    ),
)


def _frog_number(row: Row) -> str | None:
    try:
        frog_angle(row.values.get("frog_number", Decimal(10)))
    except ValueError as error:
        return str(error)
    return None


def _coordinate(axis: Axis, other: Axis) -> ByRow:
    """Refuses what is no place on the earth, and one coordinate without the other."""

    def refuses(row: Row) -> str | None:
        degrees, second = (
            row.values[name] if name in row.values else getattr(row.record, name, None)
            for name in (axis, other)
        )
        return refused_coordinate(axis, degrees, second)

    return refuses


TURNOUTS = Sheet(
    name="turnouts",
    model=Turnout,
    right=Action.EDIT_INVENTORY,
    columns=(
        Own("code", key=True),
        Extra("line", Text(), required=True, path="track__line__code"),
        Names("track", TRACK, by=("line", "track")),
        Names("diverges_to", TRACK, by=("line", "diverges_to")),
        Own("milepost"),
        Own("hand"),
        Own("frog_number"),
        Own("rail_section", words=tuple(sections())),
        Own("faces"),
        Measured("speed_through", Dimension.SPEED, field="speed_through_kmh"),
        Measured("speed_diverging", Dimension.SPEED, field="speed_diverging_kmh"),
        Own("access"),
        Measured("latitude", Dimension.COORDINATE, field="latitude"),
        Measured("longitude", Dimension.COORDINATE, field="longitude"),
        Own("held_by_one_rod"),
        Own("used_monthly"),
        Own("carries_passengers"),
    ),
    before=(Chainage("milepost", "chainage_m"),),
    checks=(
        each("frog_number", _frog_number),
        each("latitude", _coordinate("latitude", "longitude")),
        each("longitude", _coordinate("longitude", "latitude")),
    ),
)

TRAFFIC = Sheet(
    name="traffic",
    model=Traffic,
    right=Action.EDIT_INVENTORY,
    columns=(
        Names("turnout", TURNOUT, key=True),
        Own("route", key=True),
        Own("since", key=True),
        Own("trains_per_day"),
        Measured("annual_tonnage", Dimension.TONNAGE, field="annual_mgt"),
    ),
    after=(traffic_moves_components,),
)
