"""A line drawn from its first post down to its last, with its tracks and turnouts. Not to scale:
what stands close together is drawn apart, long empty stretches are shortened; the order is kept."""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from turnouts.models import Track
from turnouts.services.network import LineOverview, Show, Spot

WIDTH, TOP, BOTTOM = 400, 18, 18
POSTS, TRACKS, TRACK_APART, MOST_TRACKS = 46, 62, 16, 4
LEAST_APART, MOST_APART, A_KM = 30.0, 84.0, 14.0
POST_APART = 22.0


@dataclass(frozen=True)
class Post:
    """A milepost: where, and what is painted on it."""

    y: float
    words: str


@dataclass(frozen=True)
class Rail:
    """One track of the line, from its first turnout to its last; the main one all along."""

    x: float
    y_from: float
    y_to: float
    name: str


@dataclass(frozen=True)
class Mark:
    """One turnout: its place on its track, the leg that leaves it, and what is said of it: beside
    it in short, and in whole to who reads by ear."""

    code: str
    x: float
    y: float
    leg: str
    shape: str
    said_x: float
    short: str
    words: str


@dataclass(frozen=True)
class LineDrawing:
    """The whole line; ``small`` are turnouts that the reader does not want picked out."""

    posts: list[Post]
    rails: list[Rail]
    marks: list[Mark]
    small: list[Mark]
    width: int
    height: float
    posts_x: int


Said = Callable[[Spot], tuple[str, str]]


def line_drawing(line: LineOverview, show: Show, said: Said) -> LineDrawing | None:
    """The drawing of one line; nothing where it has no turnout. ``said`` gives the words of one."""
    if not line.spots:
        return None
    scale = _Scale(line)
    tracks = {spot.turnout.track_id: spot.turnout.track for spot in line.spots}
    ordered = sorted(tracks.values(), key=lambda track: (track.kind != "main", track.name))
    lane = {track.pk: _lane(n) for n, track in enumerate(ordered)}
    said_x = max(lane.values()) + 24
    places = list(zip(line.spots, scale.heights[1:-1], strict=True))
    marks = [
        (spot, _mark(spot, lane[spot.turnout.track_id], y, said_x, said(spot)))
        for spot, y in places
    ]
    return LineDrawing(
        posts=_posts(line, scale),
        rails=[_rail(track, lane[track.pk], places, scale) for track in ordered],
        marks=[mark for spot, mark in marks if spot.is_in(show)],
        small=[mark for spot, mark in marks if not spot.is_in(show)],
        width=WIDTH,
        height=scale.height,
        posts_x=POSTS,
    )


def _lane(nth: int) -> float:
    """Where the nth track is drawn; the last ones share a place."""
    return TRACKS + TRACK_APART * min(nth, MOST_TRACKS - 1)


def _rail(track: Track, x: float, places: Sequence[tuple[Spot, float]], scale: "_Scale") -> Rail:
    if track.kind == "main":
        return Rail(x, TOP, scale.height - BOTTOM, track.name)
    ys = [y for spot, y in places if spot.turnout.track_id == track.pk]
    return Rail(x, min(ys) - 12, max(ys) + 12, track.name)


def _mark(spot: Spot, x: float, y: float, said_x: float, said: tuple[str, str]) -> Mark:
    away = 13 if spot.turnout.faces == "increasing" else -13
    return Mark(
        code=spot.turnout.code,
        x=x,
        y=y,
        leg=f"{x},{y} {x + 13},{y + away}",
        shape=_shape(spot),
        said_x=said_x,
        short=said[0],
        words=said[1],
    )


def _shape(spot: Spot) -> str:
    """What weighs most gives the shape."""
    if spot.held.restricted:
        return "square"
    if spot.due_soon:
        return "diamond"
    if spot.repeat_offenders or spot.warnings:
        return "triangle"
    return "ring"


def _posts(line: LineOverview, scale: "_Scale") -> list[Post]:
    """The posts that have room between one another."""
    posts, lowest = [], -POST_APART
    for reading, metres in line.posts:
        y = scale.y(metres)
        if y - lowest >= POST_APART:
            posts.append(Post(y, f"{reading.normalize():f}"))
            lowest = y
    return posts


class _Scale:
    """Metres along the line as heights: in order, never too near and never too far apart."""

    def __init__(self, line: LineOverview) -> None:
        places = [spot.turnout.chainage_m for spot in line.spots]
        first = min(line.posts[0][1], places[0]) if line.posts else places[0]
        last = max(line.posts[-1][1], places[-1]) if line.posts else places[-1]
        self.metres: list[Decimal] = [first]
        self.heights: list[float] = [TOP]
        for metres in [*places, last]:
            apart = float(metres - self.metres[-1]) / 1000 * A_KM
            self.metres.append(metres)
            apart = min(max(apart, LEAST_APART), MOST_APART)
            self.heights.append(round(self.heights[-1] + apart, 1))
        self.height = self.heights[-1] + BOTTOM

    def y(self, metres: Decimal) -> float:
        """The height of a place along the line."""
        at = bisect_right(self.metres, metres) - 1
        if at >= len(self.metres) - 1:
            return round(self.heights[-1], 1)
        span = self.metres[at + 1] - self.metres[at]
        share = float((metres - self.metres[at]) / span) if span else 0.0
        return round(self.heights[at] + share * (self.heights[at + 1] - self.heights[at]), 1)
