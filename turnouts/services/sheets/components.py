"""Sheets of components: what they are, where they stood, their stays in the shop."""

from collections import defaultdict

from turnouts.access import Action
from turnouts.analysis.sections import sections
from turnouts.analysis.terms import POSITION_HOLDS, ComponentKind, Position
from turnouts.models import Component, Installation, ShopVisit
from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.checks import Apart, each, in_order
from turnouts.services.sheets.lookups import COMPONENT, TURNOUT
from turnouts.services.sheets.seats import found_where_it_stood
from turnouts.services.sheets.spec import Names, Own, Sheet, Step
from turnouts.services.sheets.tonnages import installation_moves_component


def _design_of_frogs(row: Row) -> str | None:
    if row.values.get("design") and row.values.get("kind") != ComponentKind.FROG.value:
        return "Only a frog has a frog design; empty this cell or correct the kind."
    return None


COMPONENTS = Sheet(
    name="components",
    model=Component,
    right=Action.EDIT_INVENTORY,
    columns=(
        Own("serial", key=True),
        Own("kind"),
        Own("design"),
        Own("steel"),
        Own("rail_section", words=tuple(sections())),
        Own("made_on"),
        Own("heavy_point_mark"),
        Own("gage_plates"),
        Own("elastic_fasteners"),
        Own("adjustable_braces"),
    ),
    checks=(each("design", _design_of_frogs),),
)


def _fits_position(batch: Batch) -> None:
    components = {row.values["component_id"] for row in batch.good()}
    kinds = dict(Component.objects.filter(pk__in=components).values_list("pk", "kind"))
    for row in list(batch.good()):
        position, kind = Position(row.values["position"]), kinds[row.values["component_id"]]
        if POSITION_HOLDS[position].value != kind:
            batch.fault(
                row,
                "position",
                f"Position {position.value} holds a {POSITION_HOLDS[position].value}, but "
                f"{row.texts['serial']} is a {kind}.",
            )


def _shop_or_track(batch: Batch) -> None:
    """A component is in the shop or in track: never both, but for the day it changes."""
    components = {row.values["component_id"] for row in batch.good() if row.is_new or row.changed}
    spans = [("installed_on", "removed_on"), ("arrived_on", "left_on")]
    (start, end), (other_start, other_end) = (
        spans if batch.sheet.model is Installation else reversed(spans)
    )
    other = ShopVisit if batch.sheet.model is Installation else Installation
    elsewhere = defaultdict(list)
    for one in other._default_manager.filter(component_id__in=components).order_by("pk"):
        elsewhere[one.component_id].append((getattr(one, other_start), getattr(one, other_end)))
    for row in list(batch.good()):
        since, until = row.values[start], row.values.get(end)
        for begins, ends in elsewhere[row.values["component_id"]]:
            if (ends is None or since < ends) and (until is None or begins < until):
                where = "in the shop" if other is ShopVisit else "in track"
                span = f"from {begins}" + (f" until {ends}" if ends else "")
                batch.fault(row, start, f"{row.texts['serial']} is {where} {span}.")
                break


def _apart(group: tuple[str, ...], column: str, sentence: str) -> Step:
    return Apart(group, "installed_on", "removed_on", column, sentence)


INSTALLATIONS = Sheet(
    name="installations",
    model=Installation,
    right=Action.EDIT_INVENTORY,
    columns=(
        Names("serial", COMPONENT, field="component", key=True),
        Names("turnout", TURNOUT),
        Own("position"),
        Own("installed_on", key=True),
        Own("removed_on"),
        Own("reason_removed"),
    ),
    checks=(
        in_order("installed_on", "removed_on", "A component is removed after it was installed."),
        _fits_position,
        _apart(("turnout_id", "position"), "position", "A position holds one component at a time."),
        _apart(("component_id",), "serial", "A component stands in one place at a time."),
    ),
    after=(installation_moves_component, found_where_it_stood, _shop_or_track),
)

SHOP_VISITS = Sheet(
    name="shop_visits",
    model=ShopVisit,
    right=Action.EDIT_INVENTORY,
    placed_by=("component",),
    columns=(
        Names("serial", COMPONENT, field="component", key=True),
        Own("shop"),
        Own("arrived_on", key=True),
        Own("left_on"),
        Own("work"),
    ),
    checks=(
        in_order("arrived_on", "left_on", "It leaves the shop after it arrives.", or_same=True),
    ),
    after=(_shop_or_track,),
)
