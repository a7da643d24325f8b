"""Mileposts that are not evenly spaced, with gaps, there and back."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from turnouts.analysis.linear import MilepostError, Mileposts, Post


def _posts(*pairs: tuple[str, str]) -> tuple[Post, ...]:
    return tuple(Post(Decimal(reading), Decimal(chainage)) for reading, chainage in pairs)


SHORT_MILE = Mileposts(
    _posts(("10", "0"), ("11", "1609.344"), ("12", "3000"), ("13", "4609.344")), "mi"
)
GAP = Mileposts(_posts(("40", "0"), ("41.5", "2400"), ("43", "2400"), ("44", "4000")), "mi")


@pytest.mark.parametrize(
    ("reading", "chainage"),
    [
        ("10", "0"),
        ("10.5", "804.672"),
        ("11", "1609.344"),
        ("11.5", "2304.672"),  # half of the short mile: 1609.344 + 1390.656 / 2
        ("12", "3000"),
        ("13", "4609.344"),
        ("13.25", "5011.68"),  # carried on past the last post
        ("9", "-1609.344"),
    ],
)
def test_a_reading_lies_evenly_between_the_posts_around_it(reading: str, chainage: str) -> None:
    assert SHORT_MILE.chainage_m(Decimal(reading)) == Decimal(chainage)
    assert SHORT_MILE.reading(Decimal(chainage)) == Decimal(reading)


def test_a_short_mile_is_a_short_distance() -> None:
    assert SHORT_MILE.distance_m(Decimal(12), Decimal(11)) == Decimal("1390.656")
    assert SHORT_MILE.distance_m(Decimal(11), Decimal(12)) == Decimal("1390.656")


@pytest.mark.parametrize("reading", ["8.99", "14.01"])
def test_a_reading_more_than_one_post_outside_is_refused(reading: str) -> None:
    with pytest.raises(MilepostError, match=r"outside this line, which runs from 10 to 13 mi"):
        SHORT_MILE.chainage_m(Decimal(reading))


@pytest.mark.parametrize("chainage", ["-1609.35", "6218.69"])
def test_a_place_more_than_one_post_outside_is_refused(chainage: str) -> None:
    with pytest.raises(MilepostError, match="outside this line"):
        SHORT_MILE.reading(Decimal(chainage))


def test_both_readings_of_a_gap_are_one_place_and_those_between_are_none() -> None:
    assert GAP.chainage_m(Decimal("41.5")) == GAP.chainage_m(Decimal(43)) == Decimal(2400)
    assert GAP.reading(Decimal(2400)) == Decimal(43)
    assert GAP.reading(Decimal("2399.9999")) < Decimal("41.5")
    assert GAP.skipped() == ((Decimal("41.5"), Decimal(43)),)
    with pytest.raises(MilepostError, match=r"jumps from 41.5 to 43"):
        GAP.chainage_m(Decimal(42))


@pytest.mark.parametrize(
    ("pairs", "sentence"),
    [
        ([("1", "0")], "posts at two places"),
        ([("1", "0"), ("2", "0")], "posts at two places"),
        ([("1", "0"), ("1", "900")], "Readings must rise"),
        ([("2", "0"), ("1", "900")], "Readings must rise"),
        ([("1", "900"), ("2", "100")], "behind post 1"),
        ([("1", "0"), ("2", "0"), ("3", "900")], "post on both sides"),
        ([("1", "0"), ("2", "900"), ("3", "900")], "post on both sides"),
    ],
)
def test_posts_that_cannot_be_right_are_refused(pairs, sentence: str) -> None:
    with pytest.raises(MilepostError, match=sentence):
        Mileposts(_posts(*pairs), "mi")


_STEPS = st.lists(
    st.tuples(
        st.decimals(min_value="0.5", max_value=3, places=1),
        st.decimals(min_value=700, max_value=2500, places=1),
    ),
    min_size=1,
    max_size=12,
)


@given(_STEPS, st.decimals(min_value=0, max_value=1, places=4))
def test_a_place_reads_back_to_itself(steps, part: Decimal) -> None:
    posts = [Post(Decimal(7), Decimal(0))]
    for reading, chainage in steps:
        posts.append(Post(posts[-1].reading + reading, posts[-1].chainage_m + chainage))
    line = Mileposts(tuple(posts), "mi")
    place = posts[-1].chainage_m * part
    # a reading is kept to 0.0000001 mi, which is at most 0.5 mm of these posts
    assert abs(line.chainage_m(line.reading(place)) - place) < Decimal("0.0005")


@given(_STEPS, st.decimals(min_value=0, max_value=1, places=4), st.decimals(0, 1, places=4))
def test_higher_readings_are_never_further_back(steps, one: Decimal, other: Decimal) -> None:
    posts = [Post(Decimal(7), Decimal(0))]
    for reading, chainage in steps:
        posts.append(Post(posts[-1].reading + reading, posts[-1].chainage_m + chainage))
    line = Mileposts(tuple(posts), "km")
    span = posts[-1].reading - 7
    low, high = sorted((7 + span * one, 7 + span * other))
    assert line.chainage_m(low) <= line.chainage_m(high)
