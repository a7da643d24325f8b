"""What a figure stands on: the answer when records are too few, and how chances are said."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NotEnough:
    """Too few records for an answer: how many there are, how many are needed, and a sentence.

    A function that can give this says so in its return type, so that no page forgets it.
    """

    have: int
    need: int
    sentence: str

    @classmethod
    def of(cls, what: str, have: int, need: int) -> "NotEnough":
        """``what`` is counted in the plural: ``welds that failed``."""
        return cls(have, need, f"Not enough data: {have} {what}, at least {need} are needed.")


def said_chance(chance: float) -> str:
    """A chance in whole percent, never 0 % or 100 % for what is only unlikely or likely."""
    if chance < 0.005:
        return "less than 1 %"
    if chance > 0.995:
        return "more than 99 %"
    return f"{chance:.0%}".replace("%", " %")
