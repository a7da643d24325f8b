"""A finding drawn on a section of the frog: where the limit lies, where the measured value lies.

All of a drawing is to one scale, with a bar that says which. Distances are in mm from the point
and the tread plane; the steel around the measured place is typical and says nothing of this frog.
"""

from dataclasses import dataclass, field
from typing import Any

WIDTH = 640.0
EDGE = 24.0
NAME_WIDTH = 8 * 13.0
"""Room for the word "measured" at the size of letters used on a phone."""
POINT_MM, FLANGEWAY_MM, WING_MM, FLOOR_MM, BODY_MM = 30.0, 48.0, 52.0, 48.0, 40.0
NEAR_MM = 40.0
"""How much is shown on either side where the whole distance is too long to be drawn."""

SCALES_MM = (1, 2, 5, 10, 20, 50, 100, 200)


@dataclass(frozen=True)
class Stroke:
    """A line from one corner to another; ``css`` says what it stands for."""

    x1: float
    y1: float
    x2: float
    y2: float
    css: str


@dataclass(frozen=True)
class Words:
    x: float
    y: float
    anchor: str
    text: str
    css: str = ""


@dataclass(frozen=True)
class SectionDrawing:
    """Outlines of steel, lines and words, and a bar ``bar_mm`` long."""

    what: str
    height: float
    steel: list[str]
    strokes: list[Stroke]
    words: list[Words]
    bar_mm: int
    bar_end: float

    @property
    def bar_y(self) -> float:
        return self.height - 22


@dataclass
class _Sheet:
    """A drawing under way: mm in, places on the sheet out."""

    scale: float
    left_mm: float
    top_mm: float
    steel: list[str] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)

    def x(self, mm: float) -> float:
        return round(EDGE + (mm - self.left_mm) * self.scale, 1)

    def y(self, mm: float) -> float:
        return round(EDGE + 8 + (mm - self.top_mm) * self.scale, 1)

    def block(self, *corners: tuple[float, float]) -> None:
        self.steel.append(" ".join(f"{self.x(x)},{self.y(y)}" for x, y in corners))

    def across(self, x1: float, x2: float, y: float, css: str) -> None:
        self.strokes.append(Stroke(self.x(x1), self.y(y), self.x(x2), self.y(y), css))

    def upright(self, x: float, y1: float, y2: float, css: str) -> None:
        self.strokes.append(Stroke(self.x(x), self.y(y1), self.x(x), self.y(y2), css))

    def done(self, what: str, bottom_mm: float) -> SectionDrawing:
        bar = next((mm for mm in SCALES_MM if mm * self.scale >= 50), SCALES_MM[-1])
        return SectionDrawing(
            what=what,
            height=self.y(bottom_mm) + 62,
            steel=self.steel,
            strokes=self.strokes,
            words=self.words,
            bar_mm=bar,
            bar_end=round(EDGE + bar * self.scale, 1),
        )


ACROSS_THE_FROG = {
    "flangeway_depth": "flangeway",
    "flangeway_width": "width",
    "point_wear_depth": "point",
    "tread_wear": "tread",
    "raised_guard_wear": "guard",
}
LONG = ("guard_check_gage", "guard_face_gage", "track_gage")
ENDS = {
    "guard_check_gage": ("frog's gage line", "guard line"),
    "guard_face_gage": ("guard line", "guard line"),
    "track_gage": ("gage line", "gage line"),
}


def section_drawing(finding: dict[str, Any]) -> SectionDrawing:
    """The picture of one finding that has a measured value and a limit, both in mm."""
    measured, limit = float(finding["measured"]), float(finding["limit"])
    quantity = finding.get("quantity", "point_wear_depth")
    if quantity in ACROSS_THE_FROG:
        return _frog(ACROSS_THE_FROG[quantity], measured, limit)
    if quantity in LONG:
        return _long(ENDS[quantity], measured, limit)
    if quantity in ("point_wear_length", "horn_clearance"):
        return _along(measured, limit)
    if quantity == "switch_point_wear":
        return _switch_point(measured, limit)
    return _gap(measured, limit)


def _frog(where: str, measured: float, limit: float) -> SectionDrawing:
    """The frog cut across a little behind the point: wing, flangeway, point, flangeway, wing."""
    wide = measured if where == "width" else FLANGEWAY_MM
    floor = measured if where == "flangeway" else FLOOR_MM
    deep = max(floor, limit if where in ("flangeway", "point", "tread") else 0) + BODY_MM
    half = POINT_MM / 2
    inner, reach = half + wide, half + max(wide, limit if where == "width" else 0) + WING_MM
    raised = 30.0 if where == "guard" else 0.0
    sheet = _Sheet((WIDTH - 2 * EDGE) / (2 * reach), -reach, -raised - 4)
    wing = measured if where == "tread" else 0.0
    point = measured if where == "point" else 0.0
    worn = measured if where == "guard" else 0.0
    sheet.block(
        *((-reach, wing), (-inner, wing), (-inner + 3, floor), (-half - 4, floor)),
        *((-half, point), (half, point), (half + 4, floor), (inner - 3, floor)),
        *((inner, wing), (reach, wing), (reach, deep), (-reach, deep)),
    )
    if where == "guard":
        sheet.block((inner + worn, -raised), (reach, -raised), (reach, 0), (inner + worn, 0))
        sheet.upright(inner, -raised - 4, 0, "new")
        _two_uprights(sheet, inner + measured, inner + limit, -raised - 2, 12)
    elif where == "width":
        sheet.across(-half, inner + 6, 0, "new")
        _two_uprights(sheet, half + measured, half + limit, -2, floor)
    else:
        sheet.across(-reach, reach, 0, "new")
        span = {"flangeway": (half + 4, inner - 3), "point": (-half - 20, half + 20)}
        _two_across(sheet, *span.get(where, (inner - 8, reach)), measured, limit)
    return sheet.done("The frog cut across, a little behind its point", deep)


def _long(ends: tuple[str, str], measured: float, limit: float) -> SectionDrawing:
    """A distance across the track, broken in the middle; only its far end is drawn to scale."""
    near = max(NEAR_MM, abs(measured - limit) * 1.6)
    middle = (measured + limit) / 2
    left = middle - near
    sheet = _Sheet((WIDTH - 2 * EDGE) / (2 * near + 40), left - 40, -4)
    sheet.block((left - 40, 0), (left - 26, 0), (left - 26, 40), (left - 40, 40))
    sheet.block((measured, 0), (middle + near, 0), (middle + near, 40), (measured, 40))
    for away in (0, 4):
        x = left - 8 + away
        sheet.strokes.append(
            Stroke(sheet.x(x - 3), sheet.y(24), sheet.x(x + 3), sheet.y(10), "new")
        )
    sheet.across(left - 26, left - 10, 17, "new")
    sheet.across(left - 3, measured, 17, "new")
    sheet.words.append(Words(sheet.x(left - 39), sheet.y(40) + 18, "start", ends[0]))
    sheet.words.append(Words(sheet.x(middle + near), sheet.y(40) + 18, "end", ends[1]))
    _two_uprights(sheet, measured, limit, -2, 34)
    return sheet.done("Across the track; the middle is left out", 46)


def _along(measured: float, limit: float) -> SectionDrawing:
    """The point from the side, its worn stretch beginning at the left."""
    long = max(measured, limit) * 1.25 + 10
    sheet = _Sheet((WIDTH - 2 * EDGE) / long, 0, -8)
    down = long / 26
    sheet.block(
        (0, down * 1.4), (measured, down * 0.4), (measured, 0), (long, 0), (long, long / 5),
        (0, long / 5),
    )  # fmt: skip
    sheet.across(0, long, 0, "new")
    _two_uprights(sheet, measured, limit, -6, long / 5)
    return sheet.done("The point from the side; its depth is only indicated", long / 5)


def _switch_point(measured: float, limit: float) -> SectionDrawing:
    """The switch point against its stock rail, cut across near the tip."""
    sheet = _Sheet((WIDTH - 2 * EDGE) / 150, -90, -4)
    sheet.block((-90, 0), (-14, 0), (-10, 14), (-14, 34), (-60, 44), (-90, 44))
    sheet.block((-11, measured), (4, measured), (26, 44), (-12, 44))
    sheet.across(-90, 40, 0, "new")
    _two_across(sheet, -14, 40, measured, limit)
    return sheet.done("Switch point and stock rail cut across near the tip", 48)


def _gap(measured: float, limit: float) -> SectionDrawing:
    """Two parts and the gap between them."""
    most = max(measured, limit, 4.0)
    sheet = _Sheet((WIDTH - 2 * EDGE) / (most * 3), -most, -most / 10)
    tall = most * 0.8
    sheet.block((-most, 0), (0, 0), (0, tall), (-most, tall))
    sheet.block((measured, 0), (most * 2, 0), (most * 2, tall), (measured, tall))
    _two_uprights(sheet, measured, limit, 0, tall)
    return sheet.done("The gap between the two parts", tall)


def _two_across(sheet: _Sheet, x1: float, x2: float, measured: float, limit: float) -> None:
    """Limit and measured depth as level lines; the names stand at opposite ends."""
    sheet.across(x1, x2, limit, "limit")
    sheet.across(x1, x2, measured, "measured")
    sheet.words.append(Words(sheet.x(x1) - 6, sheet.y(limit) + 5, "end", "limit", "limit"))
    sheet.words.append(_name_of_measured(sheet.x(x2), sheet.y(measured), measured < limit))


def _name_of_measured(x: float, y: float, above: bool) -> Words:
    """Beside the end of the line; where the sheet ends there, over or under it, off the limit."""
    if x + 6 + NAME_WIDTH <= WIDTH:
        return Words(x + 6, y + 5, "start", "measured")
    return Words(x, y - 8 if above else y + 26, "end", "measured")


def _two_uprights(sheet: _Sheet, measured: float, limit: float, top: float, low: float) -> None:
    """Limit and measured width as upright lines; the names stand above and below."""
    sheet.upright(limit, top, low + 4, "limit")
    sheet.upright(measured, top, low + 4, "measured")
    away = ("end", -4) if limit < measured else ("start", 4)
    sheet.words.append(Words(sheet.x(limit) + away[1], sheet.y(top) - 6, away[0], "limit", "limit"))
    back = ("start", 4) if limit < measured else ("end", -4)
    text = Words(sheet.x(measured) + back[1], sheet.y(top) - 6, back[0], "measured")
    sheet.words.append(text)
