"""Exports: they import back to the same records, and hold nothing the reader may not see."""

from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import connection
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from tests import railway
from tests.turnouts.sheets import bring_in, importer, of, rows_in_zip, settled
from turnouts.access import Forbidden
from turnouts.analysis.showing import METRIC, US, UnitPreference
from turnouts.analysis.terms import Role
from turnouts.models import (
    Defect,
    DefectStep,
    Inspection,
    Installation,
    Measurement,
    Person,
    Territory,
)
from turnouts.services.errors import Refused
from turnouts.services.exports import Form, export, units_of
from turnouts.services.sheets.faults import Unreadable

pytestmark = pytest.mark.django_db

FORMS: tuple[Form, ...] = ("xlsx", "zip")
DEMO = Path(__file__).parents[2] / "fixtures" / "railway"


@pytest.fixture
def by() -> Person:
    person = importer()
    settled(person)
    return person


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("units", [METRIC, US], ids=["metric", "inches"])
def test_an_export_imports_back_without_a_change(
    by: Person, form: Form, units: UnitPreference
) -> None:
    content = export(by=by, form=form, units=units)

    report = bring_in(by, [(f"all.{form}", content)], dry_run=True)

    assert report.faults == ()
    assert report.changes_nothing
    assert of(report, "measurements").unchanged == 4


def test_the_demo_railway_goes_out_and_comes_back_without_a_change() -> None:
    by = importer()
    railway.grant(by, Role.SUPERVISOR)
    for folder in sorted(DEMO.iterdir()):
        files = [(path.name, path.read_bytes()) for path in sorted(folder.glob("*.csv"))]
        assert bring_in(by, files).applied

    report = bring_in(by, [("all.zip", export(by=by, form="zip", units=US))], dry_run=True)

    assert report.faults == ()
    assert report.changes_nothing
    assert of(report, "work_windows").unchanged > 0
    assert of(report, "stock").unchanged > 0


def test_an_export_brought_into_empty_records_gives_the_same_export(by: Person) -> None:
    first = export(by=by, form="zip", units=US)
    _empty()

    report = bring_in(by, [("all.zip", first)])

    assert report.applied, report.faults
    assert export(by=by, form="zip", units=US) == first
    assert Measurement.objects.get(quantity="flangeway_depth").typed == "1 3/8"
    assert Installation.objects.get(component__serial="F1").mgt_at_removal == 48


def _empty() -> None:
    """Records as they were before the railway was brought in; people stay, for one imports."""
    with connection.cursor() as cursor:
        cursor.execute("TRUNCATE turnouts_territory, turnouts_component CASCADE")
        cursor.execute("TRUNCATE turnouts_instrument CASCADE")
    for person in Person.objects.filter(username__startswith="person"):
        railway.grant(person, Role.ADMINISTRATOR)
        railway.grant(person, Role.ENGINEER)


def test_what_was_typed_is_written_as_it_was_typed(by: Person) -> None:
    depth = next(
        row
        for row in rows_in_zip(export(by=by, form="zip", units=METRIC), "measurements")
        if row["quantity"] == "flangeway_depth"
    )

    assert depth["value [mm]"] == "1 3/8 in"
    assert depth["component"] == "F2"


def test_speeds_and_lengths_are_written_in_the_readers_units(by: Person) -> None:
    metric = export(by=by, names=["turnouts", "defects"], form="zip", units=METRIC)
    american = export(by=by, names=["turnouts", "defects"], form="zip", units=US)

    # 40 mph = 64.37376 km/h (1 mi = 1.609344 km, NIST Handbook 44, appendix C)
    assert rows_in_zip(metric, "turnouts")[0]["speed_through [km/h]"] == "64.37376"
    assert rows_in_zip(american, "turnouts")[0]["speed_through [mph]"] == "40"
    assert rows_in_zip(metric, "defects")[0]["depth [mm]"] == "4.7625"
    assert rows_in_zip(american, "defects")[0]["depth [in]"] == "3/16"


def test_a_length_that_is_not_exact_in_inches_is_written_in_millimetres(by: Person) -> None:
    Defect.objects.update(depth_mm=Decimal(10))

    row = rows_in_zip(export(by=by, names=["defects"], form="zip", units=US), "defects")[0]

    assert row["depth [in]"] == "10 mm"


@pytest.mark.parametrize("form", FORMS)
def test_no_cell_can_be_run_as_a_formula(by: Person, form: Form) -> None:
    Inspection.objects.update(note='=HYPERLINK("x")')
    content = export(by=by, names=["inspections"], form=form)

    report = bring_in(by, [(f"x.{form}", content)], dry_run=True)

    assert report.changes_nothing
    if form == "zip":
        assert rows_in_zip(content, "inspections")[0]["note"] == '\'=HYPERLINK("x")'


def test_a_text_that_looks_like_an_escaped_sign_stays_what_it_is(by: Person) -> None:
    Defect.objects.update(note="_x0041_ is no A")

    content = export(by=by, names=["defects"])

    assert bring_in(by, [("x.xlsx", content)], dry_run=True).changes_nothing


def test_a_text_too_long_for_a_workbook_is_refused_and_not_cut(by: Person) -> None:
    # 32,767 signs a cell: Excel specifications and limits, from memory.
    Inspection.objects.update(note="x" * 32_767)
    assert export(by=by, names=["inspections"])

    Inspection.objects.update(note="x" * 32_768)
    with pytest.raises(Refused, match=r"Sheet inspections, row 2, column 6.*ZIP of CSV"):
        export(by=by, names=["inspections"])
    assert (
        "x" * 32_768
        in rows_in_zip(export(by=by, names=["inspections"], form="zip"), "inspections")[0].values()
    )


def test_the_same_records_give_the_same_bytes(by: Person) -> None:
    for form in FORMS:
        assert export(by=by, form=form) == export(by=by, form=form)


SIZES = st.none() | st.decimals(min_value=0, max_value=9_999, places=7)


@hypothesis_settings(
    max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
@given(
    length=SIZES,
    depth=SIZES,
    edge=st.none() | st.booleans(),
    note=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00")),
    form=st.sampled_from(["xlsx", "zip"]),
    units=st.sampled_from([METRIC, US]),
)
def test_whatever_a_defect_holds_comes_back_unchanged(
    by: Person,
    length: Decimal | None,
    depth: Decimal | None,
    edge: bool | None,
    note: str,
    form: Form,
    units: UnitPreference,
) -> None:
    Defect.objects.update(length_mm=length, depth_mm=depth, reaches_edge=edge, note=note)

    content = export(by=by, names=["defects"], form=form, units=units)
    report = bring_in(by, [(f"defects.{form}", content)], dry_run=True)

    assert report.faults == ()
    assert report.changes_nothing, report.sheets[0].changes


@hypothesis_settings(
    max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
@given(
    value=st.decimals(min_value=0, max_value=9_999, places=7),
    at=st.datetimes(
        min_value=datetime(2026, 2, 2), max_value=datetime(2040, 1, 1), timezones=st.just(UTC)
    ),
    units=st.sampled_from([METRIC, US]),
)
def test_whatever_an_inspection_holds_comes_back_unchanged(
    by: Person, value: Decimal, at: datetime, units: UnitPreference
) -> None:
    Inspection.objects.update(inspected_at=at)
    Measurement.objects.filter(quantity="tread_wear").update(
        value=value, uncertainty=value, behind_point_mm=value
    )

    content = export(by=by, names=["inspections", "measurements"], form="zip", units=units)
    report = bring_in(by, [("all.zip", content)], dry_run=True)

    assert report.faults == ()
    assert report.changes_nothing


def test_the_first_step_of_a_life_is_written_with_the_defect_and_not_again(by: Person) -> None:
    steps = rows_in_zip(export(by=by, names=["defect_steps"], form="zip"), "defect_steps")

    assert [step["state"] for step in steps] == ["triaged", "planned"]
    assert DefectStep.objects.count() == 3


def test_a_reader_gets_the_rows_of_their_territories_only(by: Person) -> None:
    elsewhere = railway.spalled_frog(reference="FAR")
    reader = railway.person(Role.INSPECTOR, Territory.objects.get(code="N"))

    content = export(by=reader, form="zip")

    assert [row["reference"] for row in rows_in_zip(content, "defects")] == ["D1"]
    assert elsewhere.turnout.code not in {row["code"] for row in rows_in_zip(content, "turnouts")}
    assert {row["code"] for row in rows_in_zip(content, "territories")} == {"N"}


def test_people_and_roles_are_for_administrators(by: Person) -> None:
    reader = railway.person(Role.INSPECTOR)

    with pytest.raises(KeyError):
        rows_in_zip(export(by=reader, form="zip"), "people")
    with pytest.raises(Forbidden):
        export(by=reader, names=["people"])
    assert rows_in_zip(export(by=by, form="zip"), "people")


def test_a_person_without_a_role_takes_nothing_out() -> None:
    with pytest.raises(Forbidden):
        export(by=railway.person())


def test_an_unknown_sheet_is_refused(by: Person) -> None:
    with pytest.raises(Unreadable, match="Sheet wagons is not known"):
        export(by=by, names=["wagons"])


def test_a_defect_whose_component_never_stood_there_is_told(by: Person) -> None:
    Installation.objects.filter(component__serial="F2").delete()

    with pytest.raises(Refused, match="F2 is not known to have stood in T1 on 2026-03-01"):
        export(by=by, names=["defects"])


def test_the_units_of_a_person_are_those_they_chose() -> None:
    person = railway.person(length_unit="mm", speed_unit="km/h", mass_unit="lb")

    assert units_of(person) == UnitPreference("mm", "mi", "km/h", "degF", "lb")


def test_a_component_that_never_stood_anywhere_goes_out_and_comes_back(by: Person) -> None:
    railway.component(serial="SPARE")

    content = export(by=by, names=["components"], form="zip")

    assert "SPARE" in {row["serial"] for row in rows_in_zip(content, "components")}
    assert bring_in(by, [("x.zip", content)], dry_run=True).changes_nothing
