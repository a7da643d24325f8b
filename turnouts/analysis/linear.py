"""Places along a line: what the milepost reads, and how far along the line that is.

Posts are where they were put, not one unit apart: a curve taken out leaves a short mile. Between
two posts the reading grows evenly. Where the numbering jumps (a gap), two posts stand at one
place: the last reading of the stretch before, and the first reading of the stretch after.
"""

from bisect import bisect_right
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from turnouts.analysis.units import rounded


class MilepostError(ValueError):
    """Posts, a reading or a place that cannot be right; the text is a sentence."""


@dataclass(frozen=True, slots=True)
class Post:
    """A milepost: what it reads, and its distance along the line in m."""

    reading: Decimal
    chainage_m: Decimal


@dataclass(frozen=True, slots=True)
class Mileposts:
    """The posts of one line, in order of their readings. Readings are in ``unit`` (mi or km).

    Raises MilepostError when there are fewer than two places, when two posts read the same, or
    when the line does not run on from each post to the next.
    """

    posts: tuple[Post, ...]
    unit: str

    def __post_init__(self) -> None:
        if len({post.chainage_m for post in self.posts}) < 2:
            raise MilepostError("A line needs posts at two places at least to measure along it.")
        for before, after in pairwise(self.posts):
            if after.reading <= before.reading:
                raise MilepostError(
                    f"Post {after.reading} comes after post {before.reading}. Readings must rise; "
                    "where the numbering starts again, make it a line of its own."
                )
            if after.chainage_m < before.chainage_m:
                raise MilepostError(
                    f"Post {after.reading} stands at {after.chainage_m} m, behind post "
                    f"{before.reading} at {before.chainage_m} m. One of the two is wrong."
                )
        if self._in_place(0, 1) or self._in_place(-2, -1):
            raise MilepostError("A gap in the numbering needs a post on both sides of it.")

    def chainage_m(self, reading: Decimal) -> Decimal:
        """The distance along the line in m of a reading, to seven places, half to even.

        Past the first or last post the nearest stretch is carried on for one more post's worth.
        Raises MilepostError for a reading further out, or one that a gap skips.
        """
        index = self._stretch(bisect_right(self.posts, reading, key=_reading))
        before, after = self.posts[index], self.posts[index + 1]
        if before.chainage_m == after.chainage_m and reading not in (before.reading, after.reading):
            raise MilepostError(
                f"No place reads {reading} {self.unit}: the numbering jumps from {before.reading} "
                f"to {after.reading} there."
            )
        part = Fraction(reading - before.reading) / Fraction(after.reading - before.reading)
        self._check_reach(part, f"{reading} {self.unit}")
        return rounded(
            Fraction(before.chainage_m) + part * Fraction(after.chainage_m - before.chainage_m)
        )

    def reading(self, chainage_m: Decimal) -> Decimal:
        """What the milepost reads at a distance along the line in m, to seven places.

        At a gap it is the reading of the stretch after. Raises MilepostError more than one post's
        worth outside the first or last post.
        """
        index = self._stretch(bisect_right(self.posts, chainage_m, key=_chainage))
        before, after = self.posts[index], self.posts[index + 1]
        part = Fraction(chainage_m - before.chainage_m) / Fraction(
            after.chainage_m - before.chainage_m
        )
        self._check_reach(part, f"{chainage_m} m")
        return rounded(Fraction(before.reading) + part * Fraction(after.reading - before.reading))

    def distance_m(self, one: Decimal, other: Decimal) -> Decimal:
        """The distance in m along the line between two readings, never negative."""
        return abs(self.chainage_m(one) - self.chainage_m(other))

    def skipped(self) -> tuple[tuple[Decimal, Decimal], ...]:
        """The gaps: from which reading to which the numbering jumps."""
        return tuple(
            (before.reading, after.reading)
            for before, after in pairwise(self.posts)
            if before.chainage_m == after.chainage_m
        )

    def _in_place(self, one: int, other: int) -> bool:
        return self.posts[one].chainage_m == self.posts[other].chainage_m

    def _stretch(self, following: int) -> int:
        return min(max(following - 1, 0), len(self.posts) - 2)

    def _check_reach(self, part: Fraction, place: str) -> None:
        if not -1 <= part <= 2:
            raise MilepostError(
                f"{place} is more than one post's worth outside this line, which runs from "
                f"{self.posts[0].reading} to {self.posts[-1].reading} {self.unit}."
            )


def _reading(post: Post) -> Decimal:
    return post.reading


def _chainage(post: Post) -> Decimal:
    return post.chainage_m
