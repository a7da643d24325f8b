"""Where a turnout is on the earth: kept, brought in, taken out, shown, and changed by whom."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client

from tests.turnouts.sheets import (
    RAILWAY,
    bring_in,
    everything,
    importer,
    of,
    only,
    rows_in_zip,
    settled,
    sole_fault,
)
from turnouts.analysis.showing import METRIC
from turnouts.models import Person, Turnout
from turnouts.services.errors import Refused
from turnouts.services.exports import export
from turnouts.services.inventory import facts_of, update_turnout

pytestmark = pytest.mark.django_db

HERE = {"latitude": Decimal("-48.8767"), "longitude": Decimal("-123.3933")}


def located(latitude: str, longitude: str) -> str:
    """The turnouts of the small railway, with these two cells."""
    header, row = RAILWAY["turnouts"].splitlines()
    return f"{header},latitude [deg],longitude [deg]\n{row},{latitude},{longitude}\n"


def test_both_coordinates_are_brought_in_and_the_second_time_change_nothing() -> None:
    by = importer()
    files = everything(turnouts=located("-48.8767315", "123.5°"))
    assert bring_in(by, files).applied
    spot = Turnout.objects.get()
    # Half a millionth of a degree goes to the even digit: six places are kept.
    assert (spot.latitude, spot.longitude) == (Decimal("-48.876732"), Decimal("123.5"))
    assert bring_in(by, files).changes_nothing


@pytest.mark.parametrize(
    ("latitude", "longitude", "column", "sentence"),
    [
        ("-48.8", "", "longitude", "A latitude alone is no place: give the longitude as well"),
        ("", "-123.4", "latitude", "A longitude alone is no place: give the latitude as well"),
        ("90.000001", "0", "latitude", "lies between -90 and 90 degrees; 90.000001 does not"),
        ("-123.4", "-48.8", "latitude", "See whether latitude and longitude were exchanged"),
        ("0", "180.000001", "longitude", "lies between -180 and 180 degrees; 180.000001"),
        ("south", "0", "latitude", '"south" cannot be read as a coordinate'),
        ("48,8", "0", "latitude", "use a point for decimals"),
        ("0", "12 mm", "longitude", '"mm" is not a unit of coordinate. Use one of: deg'),
    ],
)
def test_a_row_with_no_place_on_the_earth_is_refused_in_a_sentence(
    latitude: str, longitude: str, column: str, sentence: str
) -> None:
    by = importer()
    settled(by)
    cells = [f'"{cell}"' if "," in cell else cell for cell in (latitude, longitude)]
    fault = sole_fault(bring_in(by, only(turnouts=located(*cells))))
    assert (fault.sheet, fault.row, fault.column) == ("turnouts", 2, column)
    assert sentence in fault.sentence
    assert Turnout.objects.get().place is None


@pytest.mark.parametrize(("latitude", "longitude"), [("90", "180"), ("-90", "-180"), ("", "")])
def test_the_ends_of_the_earth_and_nothing_at_all_are_taken(latitude: str, longitude: str) -> None:
    by = importer()
    settled(by)
    assert bring_in(by, only(turnouts=located(latitude, longitude))).applied


def test_a_file_without_these_columns_leaves_them_and_one_of_them_is_held_to_the_record() -> None:
    by = importer()
    bring_in(by, everything(turnouts=located("-48.8", "-123.4")))
    assert bring_in(by, only(turnouts=RAILWAY["turnouts"].replace("bridge", "mill"))).applied
    spot = Turnout.objects.get()
    assert (spot.access, spot.place and spot.place.signed) == ("Gate by the mill", "-48.8, -123.4")
    header, row = RAILWAY["turnouts"].splitlines()
    half = f"{header},latitude [deg]\n{row},\n"
    assert "A longitude alone" in sole_fault(bring_in(by, only(turnouts=half))).sentence
    assert bring_in(by, only(turnouts=half.replace("bridge,", "bridge,-48.9"))).applied


def test_what_is_taken_out_is_read_back_unchanged() -> None:
    by = importer()
    bring_in(by, everything(turnouts=located("-48.876732", "-123.3933")))
    content = export(by=by, names=["turnouts"], form="zip", units=METRIC)
    row = rows_in_zip(content, "turnouts")[0]
    assert row["latitude [deg]"] == "-48.876732"
    assert row["longitude [deg]"] == "-123.3933"
    report = bring_in(by, [("all.zip", content)])
    assert of(report, "turnouts").unchanged == 1


@pytest.mark.parametrize(
    "values",
    [
        {"latitude": None, "longitude": Decimal(3)},
        {"latitude": Decimal(3), "longitude": None},
        {"latitude": Decimal("90.000001"), "longitude": Decimal(0)},
        {"latitude": Decimal("-90.000001"), "longitude": Decimal(0)},
        {"latitude": Decimal(0), "longitude": Decimal("180.000001")},
        {"latitude": Decimal(0), "longitude": Decimal("-180.000001")},
    ],
)
def test_what_is_no_place_is_refused_by_the_service_and_by_the_records(
    engineer: Person, spot: Turnout, values: dict[str, Any]
) -> None:
    with pytest.raises(Refused, match=r"alone is no place|degrees; "):
        change(engineer, spot, **values)
    with pytest.raises(IntegrityError, match="coordinates"), transaction.atomic():
        Turnout.objects.filter(pk=spot.pk).update(**values)


def test_a_change_of_place_is_in_the_audit(engineer: Person, spot: Turnout) -> None:
    change(engineer, spot, **HERE)
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT latitude, longitude FROM turnouts_turnoutevent WHERE pgh_label = 'update'"
        )
        assert cursor.fetchall() == [tuple(HERE.values())]


def change(by: Person, spot: Turnout, **values: Any) -> Turnout:
    facts = replace(facts_of(spot), **values)
    return update_turnout(by=by, turnout=spot, facts=facts, expected_version=1)


def test_a_program_writes_and_reads_the_place(as_engineer: Client, spot: Turnout) -> None:
    address = f"/api/turnouts/{spot.code}/"
    given = {"version": 1, "latitude": "-48.8767", "longitude": "-123.3933"}
    answer = as_engineer.patch(address, given, content_type="application/json")
    assert answer.status_code == 200, answer.content
    read = as_engineer.get(address).json()
    assert (read["latitude"], read["longitude"]) == ("-48.876700", "-123.393300")
    half = as_engineer.patch(
        address, {"version": 2, "latitude": None}, content_type="application/json"
    )
    assert half.status_code == 400
    assert "A longitude alone is no place" in half.json()["detail"]


def form_of(spot: Turnout, **typed: str) -> dict[str, str]:
    facts = vars(facts_of(spot)) | {"version": spot.version, "latitude": "", "longitude": ""}
    return {name: str(value) for name, value in (facts | typed).items()}


def test_the_form_takes_the_place_and_shows_it_again(as_engineer: Client, spot: Turnout) -> None:
    address = f"/turnouts/{spot.code}/change/"
    typed = form_of(spot, latitude="-48.8767°", longitude="-123.3933")
    assert as_engineer.post(address, typed).status_code == 302
    spot.refresh_from_db()
    assert (spot.latitude, spot.longitude) == tuple(HERE.values())
    page = as_engineer.get(address).content.decode()
    assert 'value="-48.8767"' in page
    assert 'value="-123.3933"' in page


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"latitude": "-48.8"}, "A latitude alone is no place"),
        ({"latitude": "95", "longitude": "3"}, "A latitude lies between -90 and 90"),
        ({"latitude": "3", "longitude": "east"}, "cannot be read as a coordinate"),
    ],
)
def test_the_form_says_what_is_no_place(
    as_engineer: Client, spot: Turnout, typed: dict[str, str], sentence: str
) -> None:
    answer = as_engineer.post(f"/turnouts/{spot.code}/change/", form_of(spot, **typed))
    assert answer.status_code == 400
    assert sentence in answer.content.decode()
    spot.refresh_from_db()
    assert spot.place is None


def test_the_turnouts_page_links_to_a_map_and_gives_the_numbers_as_text(
    as_inspector: Client, spot: Turnout
) -> None:
    Turnout.objects.filter(pk=spot.pk).update(**HERE, access="Gate by the bridge")
    page = as_inspector.get(f"/turnouts/{spot.code}/").content.decode()
    assert 'href="geo:-48.8767,-123.3933"' in page
    assert "48.8767° S, 123.3933° W" in page
    assert "-48.8767, -123.3933" in page
    assert page.index("Gate by the bridge") < page.index("geo:")


def test_without_coordinates_the_turnouts_page_has_no_dead_link(
    as_inspector: Client, spot: Turnout
) -> None:
    page = as_inspector.get(f"/turnouts/{spot.code}/").content.decode()
    assert "geo:" not in page
    assert "go by the line, the track and the milepost" in page
