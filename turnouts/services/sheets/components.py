"""Sheets of components: what they are, where they stood, their stays in the shop."""

from turnouts.access import Action
from turnouts.analysis.terms import POSITION_HOLDS, ComponentKind, Position
from turnouts.models import Component, Installation, ShopVisit
from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.checks import Apart, each, in_order
from turnouts.services.sheets.lookups import COMPONENT, TURNOUT
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
        Own("rail_section"),
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
    after=(installation_moves_component,),
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
)
