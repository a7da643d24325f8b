"""The report by hand: typed values, sentences beside the field, nothing lost, nothing twice."""

import re
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils.timezone import localtime

from tests import railway
from turnouts.analysis.terms import FrogDesign, Position
from turnouts.models import Component, Defect, Inspection, Measurement, Person, Turnout

pytestmark = pytest.mark.django_db

KEY = "261125-7F3KQ"


def address(spot: Turnout) -> str:
    return f"/turnouts/{spot.code}/report/"


def typed(
    readings: list[dict[str, str]] | None = None,
    defects: list[dict[str, str]] | None = None,
    **visit: str,
) -> dict[str, str]:
    """What a browser sends for the form filled in like this."""
    data = {
        "inspected_at": "2026-03-02T09:30",
        "kind": "detailed",
        "instrument": "",
        "note": "",
        "key": KEY,
    } | visit
    for prefix, rows in (("readings", readings or []), ("defects", defects or [])):
        data[f"{prefix}-TOTAL_FORMS"] = str(len(rows))
        data[f"{prefix}-INITIAL_FORMS"] = "0"
        for number, row in enumerate(rows):
            data |= {f"{prefix}-{number}-{name}": value for name, value in row.items()}
    return data


def reading(value: str, **more: str) -> dict[str, str]:
    given = {"position": "frog", "quantity": "flangeway_depth", "route": "through"}
    return given | {"value": value, "behind_point": ""} | more


def spall(**more: str) -> dict[str, str]:
    return {"position": "frog", "kind": "spall", "zone": "tread"} | more


def post(client: Client, spot: Turnout, data: dict[str, str]) -> Any:
    return client.post(address(spot), data)


def test_a_value_typed_as_a_fraction_is_kept_exactly_with_what_was_typed(
    as_inspector: Client, inspector: Person, spot: Turnout, frog: Component
) -> None:
    gauge = railway.instrument("0.2")
    answer = post(
        as_inspector, spot, typed([reading("1 3/8", behind_point="4")], instrument=gauge.code)
    )
    assert answer.headers["Location"] == f"/inspections/{spot.code}-{KEY}/"
    row = Measurement.objects.get()
    # 1 in = 25.4 mm exactly (international inch), so 1 3/8 in = 34.925 mm and 4 in = 101.6 mm
    assert (row.value, row.behind_point_mm) == (Decimal("34.925"), Decimal("101.6"))
    assert (row.typed, row.typed_unit, row.route) == ("1 3/8", "in", "through")
    assert (row.component, row.instrument, row.uncertainty) == (frog, gauge, Decimal("0.2"))
    assert row.inspection.inspector == inspector


def test_a_unit_typed_with_the_number_goes_before_the_own_one(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    post(as_inspector, spot, typed([reading("35 mm"), reading("45", quantity="rail_temperature")]))
    depth, temperature = Measurement.objects.order_by("quantity")
    assert (depth.value, depth.typed_unit) == (Decimal(35), "mm")
    # 45 degF is (45 - 32) x 5/9 = 7.2222222 degC
    assert (temperature.value, temperature.typed_unit) == (Decimal("7.2222222"), "degF")


def test_a_defect_is_kept_with_what_is_known_and_what_nobody_looked_at(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    row = spall(length="2", depth="5/8", breaks_surface="yes", reaches_edge="no", note="Fresh")
    post(as_inspector, spot, typed(defects=[row]))
    defect = Defect.objects.get()
    assert defect.component == frog
    assert (defect.length_mm, defect.width_mm, defect.depth_mm) == (
        Decimal("50.8"),
        None,
        Decimal("15.875"),
    )
    assert (defect.breaks_surface, defect.reaches_edge, defect.reaches_base) == (True, False, None)
    assert defect.steps.get().state == "reported"


def test_what_a_rail_test_found_is_kept_and_shown_in_plain_words(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    row = spall(kind="crack", head_reach="reaches", flaw="split_web", head_share_percent="12.5")
    row |= {"welder_access": "no", "metal_left": "1/2", "hardened": "3/16", "damaged": "yes"}
    post(as_inspector, spot, typed(defects=[row]))
    defect = Defect.objects.get()
    assert (defect.flaw, defect.head_share_percent) == ("split_web", Decimal("12.5"))
    page = as_inspector.get(f"/defects/{defect.reference}/record/").content.decode()
    assert "Split web, 12.5 % of the head" in page
    assert "Run into the head" in page
    assert (defect.welder_access, defect.damaged) == (False, True)
    assert "Sound metal under it</dt><dd>1/2 in" in page


@pytest.mark.parametrize(("share", "kept"), [("100", 1), ("100.1", 0)])
def test_a_flaw_takes_at_most_the_whole_head(
    as_inspector: Client, spot: Turnout, frog: Component, share: str, kept: int
) -> None:
    row = spall(flaw="split_web", head_share_percent=share)
    post(as_inspector, spot, typed(defects=[row]))
    assert Defect.objects.count() == kept


def test_rows_nobody_wrote_in_are_left_out(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    usual = reading("", usual="1")
    empty = reading("", quantity="", route="", position="")
    post(as_inspector, spot, typed([usual, empty, reading("1/8")], [spall(kind="", zone="")]))
    assert Measurement.objects.get().typed == "1/8"
    assert not Defect.objects.exists()


@pytest.mark.parametrize(
    ("readings", "defects", "sentence"),
    [
        ([reading("1 3/7")], [], "the lower number of a fraction must be"),
        ([reading("35 kg")], [], "is not a unit of length"),
        ([reading("")], [], "Type the value, or empty the row."),
        ([reading("1", quantity="")], [], "Say what was measured."),
        ([reading("1", behind_point="near")], [], "is not one number with one unit"),
        ([], [spall(depth="deep")], "is not one number with one unit"),
        ([], [spall(zone="")], "Say where on the component."),
        ([], [spall(kind="", depth="1/8")], "Say what is wrong."),
    ],
)
def test_what_cannot_be_read_is_said_beside_the_field_and_nothing_is_kept_or_lost(
    as_inspector: Client,
    spot: Turnout,
    frog: Component,
    readings: list[dict[str, str]],
    defects: list[dict[str, str]],
    sentence: str,
) -> None:
    beside = reading("1 15/16", quantity="flangeway_width")
    data = typed([*readings, beside], defects, note="By the mill")
    answer = post(as_inspector, spot, data)
    assert answer.status_code == 400
    text = answer.content.decode()
    assert sentence in text
    assert 'class="errorlist"' in text
    for kept in (
        "1 15/16",
        "By the mill",
        *(v for row in [*readings, *defects] for v in row.values()),
    ):
        assert kept in text
    assert not Inspection.objects.exists()


def test_a_second_click_keeps_nothing_twice(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    data = typed([reading("1 3/8")], [spall()])
    first, second = (post(as_inspector, spot, data) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert (Inspection.objects.count(), Measurement.objects.count()) == (1, 1)
    assert Defect.objects.count() == 1


def test_the_key_of_somebody_else_is_refused_and_shows_nothing_of_theirs(
    client: Client, inspector: Person, spot: Turnout, frog: Component
) -> None:
    client.force_login(inspector)
    post(client, spot, typed([reading("1 3/8")]))
    client.force_login(railway.person("inspector", spot.territory))
    answer = post(client, spot, typed([reading("1 1/8")]))
    assert answer.status_code == 400
    assert "already; give this one its own" in answer.content.decode()


def test_more_rows_are_given_without_losing_or_judging_what_was_typed(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    data = typed([reading("1 3/7")], [spall(note="Looks old")], note="By the mill")
    answer = post(as_inspector, spot, data | {"more": "readings"})
    text = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="readings-TOTAL_FORMS" value="4"' in text
    assert 'name="defects-TOTAL_FORMS" value="1"' in text
    for kept in ("1 3/7", "Looks old", "By the mill", KEY):
        assert kept in text
    assert "errorlist" not in text


def test_the_usual_readings_are_those_of_what_stands_there(
    as_inspector: Client, spot: Turnout
) -> None:
    guarded = railway.component(design=FrogDesign.SELF_GUARDED_MANGANESE.value)
    railway.install(guarded, spot)
    text = as_inspector.get(address(spot)).content.decode()
    assert "<strong>Raised guard wear</strong>" in text
    assert "<strong>Guard check gage</strong>" not in text
    assert "<strong>Horn clearance</strong>" not in text


def test_a_spring_frog_asks_for_the_horn_clearance(as_inspector: Client, spot: Turnout) -> None:
    railway.install(railway.component(design=FrogDesign.SPRING.value), spot)
    text = as_inspector.get(address(spot)).content.decode()
    assert "<strong>Horn clearance</strong>" in text
    assert "<strong>Guard check gage</strong>" in text


def test_a_reading_is_noted_on_who_stood_there_that_day(
    as_inspector: Client, spot: Turnout
) -> None:
    old, new = railway.component(), railway.component()
    railway.install(old, spot, removed_on=railway.VISIT.date())
    railway.install(new, spot, installed_on=railway.VISIT.date())
    post(as_inspector, spot, typed([reading("1 3/8")], inspected_at="2026-03-01T09:00"))
    assert Measurement.objects.get().component == old


def test_a_position_that_was_empty_that_day_is_refused_in_a_sentence(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    answer = post(as_inspector, spot, typed([reading("1 3/8")], inspected_at="2019-12-31T09:00"))
    assert answer.status_code == 400
    assert "Nothing stood in" in answer.content.decode()
    on_first_day = typed([reading("1 3/8")], inspected_at="2020-01-01T09:00")
    assert post(as_inspector, spot, on_first_day).status_code == 302


def test_the_same_reading_twice_is_refused_in_a_sentence(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    answer = post(as_inspector, spot, typed([reading("1 3/8"), reading("1 1/4")]))
    assert answer.status_code == 400
    assert "is given twice" in answer.content.decode()
    both_routes = typed([reading("1 3/8"), reading("1 1/4", route="diverging")])
    assert post(as_inspector, spot, both_routes).status_code == 302


def test_a_visit_that_is_still_to_come_is_refused(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    later = localtime() + timedelta(minutes=2)
    data = typed([reading("1")], inspected_at=f"{later:%Y-%m-%dT%H:%M}")
    answer = post(as_inspector, spot, data)
    assert "That is still to come" in answer.content.decode()


def test_each_form_has_a_key_of_its_own(as_inspector: Client, spot: Turnout) -> None:
    pattern = re.compile(r'name="key" value="([0-9]{6}-[2-9A-Z]{5})"')
    keys = {
        found.group(1)
        for _ in range(5)
        if (found := pattern.search(as_inspector.get(address(spot)).content.decode()))
    }
    assert len(keys) == 5


def test_a_form_that_lost_its_counts_is_refused_and_not_a_fault(
    as_inspector: Client, spot: Turnout
) -> None:
    assert post(as_inspector, spot, {"key": KEY}).status_code == 400


def test_only_positions_that_hold_or_held_something_are_offered(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    text = as_inspector.get(address(spot)).content.decode()
    assert f'<option value="{Position.FROG.value}"' in text
    assert f'<option value="{Position.HEEL_PLATE.value}"' not in text
