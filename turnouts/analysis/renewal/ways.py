"""What is compared when a component needs a weld: the ways, their prices, and the answer."""

from dataclasses import dataclass
from enum import StrEnum


class Way(StrEnum):
    """What may be done with a component that needs a weld."""

    WELD = "weld"
    REPLACE_NOW = "replace_now"
    REPLACE_IN_WINDOW = "replace_in_window"


@dataclass(frozen=True, slots=True)
class Prices:
    """In the railway's ``currency``: a weld, a replacement now, one in the planned window, and what
    a weld that fails costs beside the next one (slow order, call-out)."""

    weld: float
    replace_now: float
    replace_in_window: float
    failure: float
    currency: str

    def __post_init__(self) -> None:
        if min(self.weld, self.replace_now, self.replace_in_window) <= 0 or self.failure < 0:
            raise ValueError("Prices are above zero, and what a failure costs is not below it.")


@dataclass(frozen=True, slots=True)
class Renewal:
    """``new_life_mgt``: of a new component to its first weld, Weibull of ``new_shape``.

    ``window_mgt`` from now to the next renewal window, ``None`` without one. ``interest_per_mgt``:
    what money costs while 1 MGT passes, continuous. ``shrink``: what a weld lasts against the one
    before.
    """

    new_life_mgt: float
    new_life_sd_mgt: float
    interest_per_mgt: float
    window_mgt: float | None = None
    shrink: float = 1.0
    new_shape: float = 1.0

    def __post_init__(self) -> None:
        if self.new_life_mgt <= 0 or self.new_life_sd_mgt < 0 or not 0 < self.shrink <= 1:
            raise ValueError("A new life is above zero, and welds last no longer than before.")
        if self.window_mgt is not None and self.window_mgt <= 0:
            raise ValueError("A renewal window lies ahead; give the tonnage until it.")
        if self.interest_per_mgt <= 0 or self.new_shape <= 0:
            raise ValueError("Interest and the shape of new lives are above zero.")


@dataclass(frozen=True, slots=True)
class Option:
    """One way: ``welds`` is how many more before the replacement. Cost per MGT with its 90 %
    interval, and the chance that it is the cheapest of all."""

    way: Way
    welds: int
    cost_per_mgt: float
    low: float
    high: float
    chance_cheapest: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Advice:
    """All ways, cheapest first. ``break_even_mgt``: the mean life of the next weld above which
    welding once more is cheaper than replacing now, ``None`` where no life is enough;
    ``mean_weld_life_mgt`` is what is expected, and ``life_90`` holds it. ``curve`` is for a
    picture: mean life of the next weld, and what it costs per MGT of that life; it crosses
    ``steady_cost_per_mgt``, which ``steady_90`` holds, at the break-even.
    """

    options: tuple[Option, ...]
    recommended: Option
    clear: bool
    steady_cost_per_mgt: float
    steady_90: tuple[float, float]
    break_even_mgt: float | None
    mean_weld_life_mgt: float
    life_90: tuple[float, float]
    chance_weld_pays: float
    curve: tuple["CurvePoint", ...]
    reasons: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """What the next weld and its failure cost per MGT it lasts, if it lasts so long on average."""

    life_mgt: float
    cost_per_mgt: float
