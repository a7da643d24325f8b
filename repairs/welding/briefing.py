"""The points of the job briefing, with the clause each comes from. Local rules come first."""

import tomllib
from dataclasses import dataclass
from functools import cache

from repairs.welding.rows_toml import HERE, Mark


@dataclass(frozen=True, slots=True)
class Point:
    """One point to go through, and how well its wording stands."""

    text: str
    clause: str
    mark: Mark


@cache
def briefing() -> tuple[Point, ...]:
    """All points, in the order they are gone through."""
    table = tomllib.loads((HERE / "briefing.toml").read_text("utf-8"))
    return tuple(Point(p["text"], p["clause"], Mark(p["mark"])) for p in table["point"])
