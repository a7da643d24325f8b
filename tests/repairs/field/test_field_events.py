"""Reading events: what is right is typed, what is wrong is said in one sentence; the chain."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.field.chain import Link, digest_of, first_break
from repairs.field.checking import check_fits
from repairs.field.events import Indication, Kind, Measured, Shape, read_data
from repairs.field.indications import judge
from repairs.field.reading import BadEvent, read_moment
from tests.repairs.field.sheets import sheet
from turnouts.analysis.terms import Quantity


def test_a_measured_length_is_exact_however_it_was_sent() -> None:
    for sent in ("15.875", 15.875, "15.8750000"):
        data = read_data(Kind.MEASUREMENT, {"quantity": "tread_wear", "value_mm": sent})
        assert isinstance(data, Measured)
        assert (data.quantity, data.value_mm) == (Quantity.TREAD_WEAR, Decimal("15.875"))


@pytest.mark.parametrize(
    ("kind", "data", "words"),
    [
        ("measurement", {"quantity": "tread_wear"}, "value_mm is missing"),
        ("measurement", {"quantity": "colour", "value_mm": 1}, "quantity is not known"),
        ("measurement", {"quantity": ["a"], "value_mm": 1}, "quantity is not known"),
        ("measurement", {"quantity": "tread_wear", "value_mm": "NaN"}, "must lie between"),
        ("measurement", {"quantity": "tread_wear", "value_mm": True}, "must be a number"),
        ("stage_started", {}, "stage is missing"),
        ("stage_started", {"stage": "a", "colour": 1}, "there is no field colour"),
        ("stage_ended", {"stage": "a", "interrupted": "yes"}, "must be true or false"),
        ("briefing", {"points": [0]}, "whole numbers from 1"),
        ("briefing", {"points": "all"}, "a list of whole numbers"),
        ("penetrant", {"step": "sprayed"}, "step is not known"),
        ("handed_back", {"state": "restored"}, "qualified_person is missing"),
        ("note", {"text": "x" * 2001}, "2000 characters at most"),
        ("note", {"text": "a\x00b"}, "must be text"),
        ("note", "text", "must be named fields"),
        ("correction", {"of": "x", "reason": "y", "data": None}, "must be the id of an event"),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(kind: str, data: Any, words: str) -> None:
    with pytest.raises(BadEvent) as refusal:
        read_data(Kind(kind), data)
    assert words in str(refusal.value)
    assert str(refusal.value).endswith(".")


@given(
    st.sampled_from(Kind),
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.integers(),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.sampled_from(["zone", "stage", "text", "degc", "of"]), inner)
        ),
        max_leaves=6,
    ),
)
def test_nothing_that_can_be_sent_does_more_than_be_refused(kind: Kind, raw: Any) -> None:
    said = "taken."
    try:
        read_data(kind, raw)
    except BadEvent as refusal:
        said = str(refusal)
    assert said.endswith(".")


def test_a_moment_without_offset_is_no_moment() -> None:
    for bad in ("2026-03-05T22:00:00", "tonight", None, 7, "1900-01-01T00:00:00+00:00"):
        with pytest.raises(BadEvent):
            read_moment("Event", "phone_at", bad)


def test_zones_stages_materials_and_points_are_those_of_the_sheet() -> None:
    night = sheet()
    for kind, data in (
        (Kind.STAGE_STARTED, {"stage": "9-heel.gouging"}),
        (Kind.CARBON_REMOVED, {"zone": "9-heel"}),
        (Kind.MATERIAL_USED, {"key": "gold", "quantity": 1}),
        (Kind.BRIEFING, {"points": [100]}),
    ):
        with pytest.raises(BadEvent):
            check_fits(night, read_data(kind, data))
    check_fits(night, read_data(Kind.MATERIAL_USED, {"key": "carbons", "quantity": 1}))


def shown(shape: Shape, length: str, width: str | None = None) -> Indication:
    return Indication("z", shape, Decimal(length), Decimal(width) if width else None)


@pytest.mark.parametrize(
    ("level", "shape", "most"),
    [
        # ISO 23277, longest line and largest rounded indication of each level, from memory.
        ("1", Shape.LINEAR, "2"),
        ("1", Shape.ROUNDED, "4"),
        ("2X", Shape.LINEAR, "4"),
        ("2X", Shape.ROUNDED, "6"),
        ("3X", Shape.LINEAR, "8"),
        ("3X", Shape.ROUNDED, "8"),
    ],
)
def test_an_indication_is_accepted_up_to_the_length_of_its_level(
    level: str, shape: Shape, most: str
) -> None:
    assert judge(shown(shape, most), level).accepted
    over = judge(shown(shape, f"{most}.0000001"), level)
    assert not over.accepted
    assert "from memory" in over.sentence


def test_where_the_sheet_accepts_none_the_smallest_is_too_much() -> None:
    assert not judge(shown(Shape.ROUNDED, "0.1"), "none").accepted


@pytest.mark.parametrize(("length", "shape"), [("3", Shape.ROUNDED), ("3.1", Shape.LINEAR)])
def test_longer_than_three_times_its_width_is_a_line(length: str, shape: Shape) -> None:
    # ISO 23277, from memory.
    assert judge(shown(Shape.ROUNDED, length, "1"), "2X").shape is shape


def chain(*texts: str) -> list[Link]:
    links: list[Link] = []
    for number, text in enumerate(texts, start=1):
        before = links[-1].sha256 if links else ""
        says = {"number": number, "text": text}
        links.append(Link(f"Entry {number}", says, before, digest_of(says, before)))
    return links


def test_a_changed_a_missing_and_a_swapped_entry_show() -> None:
    whole = chain("a", "b", "c")
    assert first_break(whole) == ""
    changed = [whole[0], Link("Entry 2", {"number": 2, "text": "B"}, *kept(whole[1])), whole[2]]
    assert first_break(changed).startswith("Entry 2 is not what was entered")
    assert first_break([whole[0], whole[2]]).startswith("Entry 3 does not follow")
    assert first_break(whole[1:]).startswith("Entry 2 does not follow")
    assert first_break([whole[0], whole[2], whole[1]]).startswith("Entry 3")


def kept(link: Link) -> tuple[str, str]:
    return link.previous, link.sha256
