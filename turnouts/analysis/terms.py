"""The trade's words, once. Every app and file format spells them as the members here do.

A member's value is what is stored and what stands in import files; ``label`` is what people read.
"""

from enum import StrEnum


class Term(StrEnum):
    """A word of the trade: the stored value with the words people read."""

    @property
    def label(self) -> str:
        """The value in plain words, first letter large: ``guard_face`` gives ``Guard face``."""
        words = self.value.replace("_", " ")
        return words[0].upper() + words[1:]


class ComponentKind(Term):
    FROG = "frog"
    SWITCH_POINT = "switch_point"
    STOCK_RAIL = "stock_rail"
    GUARD_RAIL = "guard_rail"
    CLOSURE_RAIL = "closure_rail"
    PLATE = "plate"


class FrogDesign(Term):
    SELF_GUARDED_MANGANESE = "self_guarded_manganese"
    RAIL_BOUND_MANGANESE = "rail_bound_manganese"
    SPRING = "spring"
    BOLTED_RIGID = "bolted_rigid"
    FLANGE_BEARING = "flange_bearing"
    CAST_CROSSING = "cast_crossing"


class Steel(Term):
    MANGANESE = "manganese"  # austenitic manganese steel casting
    CARBON = "carbon"  # pearlitic rail steel
    HEAD_HARDENED = "head_hardened"


class Position(Term):
    """A seat in a turnout that holds one component at a time.

    Left and right are seen from the points, looking towards the frog.
    """

    FROG = "frog"
    LEFT_SWITCH_POINT = "left_switch_point"
    RIGHT_SWITCH_POINT = "right_switch_point"
    LEFT_STOCK_RAIL = "left_stock_rail"
    RIGHT_STOCK_RAIL = "right_stock_rail"
    THROUGH_GUARD_RAIL = "through_guard_rail"
    DIVERGING_GUARD_RAIL = "diverging_guard_rail"
    THROUGH_CLOSURE_RAIL = "through_closure_rail"
    DIVERGING_CLOSURE_RAIL = "diverging_closure_rail"
    FROG_PLATE = "frog_plate"
    HEEL_PLATE = "heel_plate"


POSITION_HOLDS: dict[Position, ComponentKind] = {
    Position.FROG: ComponentKind.FROG,
    Position.LEFT_SWITCH_POINT: ComponentKind.SWITCH_POINT,
    Position.RIGHT_SWITCH_POINT: ComponentKind.SWITCH_POINT,
    Position.LEFT_STOCK_RAIL: ComponentKind.STOCK_RAIL,
    Position.RIGHT_STOCK_RAIL: ComponentKind.STOCK_RAIL,
    Position.THROUGH_GUARD_RAIL: ComponentKind.GUARD_RAIL,
    Position.DIVERGING_GUARD_RAIL: ComponentKind.GUARD_RAIL,
    Position.THROUGH_CLOSURE_RAIL: ComponentKind.CLOSURE_RAIL,
    Position.DIVERGING_CLOSURE_RAIL: ComponentKind.CLOSURE_RAIL,
    Position.FROG_PLATE: ComponentKind.PLATE,
    Position.HEEL_PLATE: ComponentKind.PLATE,
}


class Zone(Term):
    """Where on a component a defect lies."""

    POINT = "point"
    LEFT_WING = "left_wing"
    RIGHT_WING = "right_wing"
    TREAD = "tread"
    THROAT = "throat"
    TOE = "toe"
    HEEL = "heel"
    GUARD_FACE = "guard_face"
    FLANGEWAY = "flangeway"
    BOLT_HOLE = "bolt_hole"
    HEAD = "head"
    WEB = "web"
    BASE = "base"


class DefectKind(Term):
    SPALL = "spall"
    SHELL = "shell"
    CHIP = "chip"
    CRACK = "crack"
    METAL_FLOW = "metal_flow"
    BATTER = "batter"
    WEAR = "wear"
    BROKEN = "broken"
    BOLT_HOLE_CRACK = "bolt_hole_crack"
    HEAD_WEB_SEPARATION = "head_web_separation"
    LOOSE_FASTENING = "loose_fastening"


class Orientation(Term):
    LONGITUDINAL = "longitudinal"
    TRANSVERSE = "transverse"
    OBLIQUE = "oblique"
    HORIZONTAL = "horizontal"


class HeadReach(Term):
    """How far a crack in bolt hole or web has come towards the running surface."""

    CLEAR = "clear"
    REACHES = "reaches"
    BROKEN_OUT = "broken_out"  # a piece of the head has come away

    @property
    def label(self) -> str:
        """In words that stand alone: ``clear`` by itself would not say of what."""
        return {
            HeadReach.CLEAR: "Clear of the head",
            HeadReach.REACHES: "Run into the head",
            HeadReach.BROKEN_OUT: "A piece of the head broken out",
        }[self]


class RailFlaw(Term):
    """What a rail test found, in the words of the rail defect table of 49 CFR 213.113(c)."""

    COMPOUND_FISSURE = "compound_fissure"
    TRANSVERSE_FISSURE = "transverse_fissure"
    DETAIL_FRACTURE = "detail_fracture"
    ENGINE_BURN_FRACTURE = "engine_burn_fracture"
    DEFECTIVE_WELD = "defective_weld"
    HORIZONTAL_SPLIT_HEAD = "horizontal_split_head"
    VERTICAL_SPLIT_HEAD = "vertical_split_head"
    SPLIT_WEB = "split_web"
    PIPED_RAIL = "piped_rail"


class Quantity(Term):
    """What an inspector measures: lengths stored in mm, hardness in HBW, temperature in degC."""

    FLANGEWAY_DEPTH = "flangeway_depth"
    FLANGEWAY_WIDTH = "flangeway_width"
    GUARD_CHECK_GAGE = "guard_check_gage"
    GUARD_FACE_GAGE = "guard_face_gage"
    TRACK_GAGE = "track_gage"
    POINT_WEAR_DEPTH = "point_wear_depth"
    POINT_WEAR_LENGTH = "point_wear_length"
    TREAD_WEAR = "tread_wear"
    RAISED_GUARD_WEAR = "raised_guard_wear"
    HORN_CLEARANCE = "horn_clearance"
    POINT_FIT_GAP = "point_fit_gap"
    SWITCH_POINT_WEAR = "switch_point_wear"
    HARDNESS = "hardness"
    RAIL_TEMPERATURE = "rail_temperature"
    AIR_TEMPERATURE = "air_temperature"


class Disposition(Term):
    WELD_IN_TRACK = "weld_in_track"
    WELD_IN_SHOP = "weld_in_shop"
    GRIND = "grind"
    REPLACE = "replace"
    ADJUST = "adjust"  # guard rail, fastenings or housing put right without welding
    WATCH = "watch"
    MEASURE_FIRST = "measure_first"


class DefectState(Term):
    REPORTED = "reported"
    TRIAGED = "triaged"
    PLANNED = "planned"
    IN_WORK = "in_work"
    REPAIRED = "repaired"
    PROVED = "proved"
    CLOSED = "closed"
    REPLACED = "replaced"


class Hand(Term):
    LEFT = "left"
    RIGHT = "right"
    EQUILATERAL = "equilateral"


class Route(Term):
    THROUGH = "through"
    DIVERGING = "diverging"


class Role(Term):
    INSPECTOR = "inspector"
    WELDER = "welder"
    SUPERVISOR = "supervisor"
    ENGINEER = "engineer"
    ADMINISTRATOR = "administrator"
