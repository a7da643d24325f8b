"""An import from files to records: what changes, what is refused, and that all or nothing holds."""

from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import railway
from tests.turnouts.sheets import (
    RAILWAY,
    bring_in,
    everything,
    importer,
    of,
    only,
    settled,
    sole_fault,
    workbook,
)
from turnouts.models import (
    Defect,
    DefectStep,
    Inspection,
    Installation,
    Measurement,
    Person,
    Territory,
    TrackClass,
    Turnout,
)

pytestmark = pytest.mark.django_db

DEMO = sorted((Path(__file__).parents[2] / "fixtures" / "railway").iterdir())


def test_a_dry_run_says_what_would_change_and_changes_nothing(by: Person) -> None:
    report = bring_in(by, everything(), dry_run=True)

    assert report.fault_count == 0
    assert not report.applied
    assert {sheet.name: sheet.create for sheet in report.sheets} == {
        name: text.count("\n") - 1 for name, text in RAILWAY.items()
    }
    assert not Territory.objects.filter(code="N").exists()


def test_the_real_run_does_what_the_dry_run_said(by: Person) -> None:
    said = bring_in(by, everything(), dry_run=True)

    done = bring_in(by, everything())

    assert done.applied
    assert (done.sheets, done.digest) == (said.sheets, said.digest)
    assert Defect.objects.get().reference == "D1"


@pytest.mark.usefixtures("railway_is_in")
def test_reading_the_same_files_twice_changes_nothing(by: Person) -> None:
    again = bring_in(by, everything())

    assert again.applied
    assert again.changes_nothing
    assert sum(sheet.unchanged for sheet in again.sheets) == sum(s.rows for s in again.sheets)


@pytest.mark.usefixtures("railway_is_in")
def test_values_are_kept_exactly_with_what_was_typed() -> None:
    depth = Measurement.objects.get(quantity="flangeway_depth")

    # 1 3/8 in at 25.4 mm to the inch (NIST Handbook 44, appendix C)
    assert (depth.value, depth.typed, depth.typed_unit) == (Decimal("34.925"), "1 3/8", "in")
    assert depth.component is not None
    assert depth.component.serial == "F2"
    # 41 degF = (41 - 32) x 5/9 degC
    assert Measurement.objects.get(quantity="air_temperature").value == 5


@pytest.mark.usefixtures("railway_is_in")
def test_a_reading_without_its_own_uncertainty_has_that_of_its_instrument() -> None:
    assert Measurement.objects.get(quantity="flangeway_depth").uncertainty == Decimal("0.2")
    assert Measurement.objects.get(quantity="tread_wear").uncertainty == Decimal("0.1")


@pytest.mark.usefixtures("railway_is_in")
def test_a_milepost_is_measured_between_the_posts_as_they_stand() -> None:
    # A quarter of the way from post 1 (1609.344 m) to post 2 (3000 m).
    assert Turnout.objects.get().chainage_m == Decimal("1957.008")


@pytest.mark.usefixtures("railway_is_in")
def test_tonnage_at_removal_is_counted_from_the_traffic_over_both_routes() -> None:
    stay = Installation.objects.get(component__serial="F1")

    # 2016-01-01 to 2020-01-01 is 1461 days, 4 years of 365.25 days, at 10 + 2 MGT a year.
    assert (stay.mgt_at_installation, stay.mgt_at_removal) == (0, 48)


@pytest.mark.usefixtures("railway_is_in")
def test_tonnage_is_counted_again_when_the_traffic_is_corrected(by: Person) -> None:
    corrected = RAILWAY["traffic"].replace("2015-01-01,8,10", "2015-01-01,8,20")

    report = bring_in(by, only(traffic=corrected))

    assert of(report, "traffic").update == 1
    assert Installation.objects.get(component__serial="F1").mgt_at_removal == 88


@pytest.mark.usefixtures("railway_is_in")
def test_a_new_defect_begins_its_life_reported_by_the_inspector() -> None:
    steps = DefectStep.objects.filter(defect__reference="D1").order_by("at")

    assert [step.state for step in steps] == ["reported", "triaged", "planned"]
    assert steps[0].at == Inspection.objects.get().inspected_at
    assert steps[0].by.username == "ada"
    assert Defect.objects.get().state == "planned"


@pytest.mark.usefixtures("railway_is_in")
def test_a_change_is_shown_field_by_field_and_counts_as_a_version(by: Person) -> None:
    changed = RAILWAY["defects"].replace("3/16", "1/4")

    report = bring_in(by, only(defects=changed))

    (change,) = of(report, "defects").changes
    assert (change.key, change.new) == ("D1", False)
    (field,) = change.fields
    assert (field.column, field.old, field.new) == ("depth", "4.7625000", "1/4")
    assert Defect.objects.get().depth_mm == Decimal("6.35")
    # once for the state its steps brought it to, once for this change
    assert Defect.objects.get().version == 3


@pytest.mark.usefixtures("railway_is_in")
def test_a_reference_that_changes_is_shown_by_name(by: Person) -> None:
    railway.person(username="bea")

    changed = RAILWAY["inspections"].replace(",ada,", ",bea,")
    report = bring_in(by, only(inspections=changed), dry_run=True)

    (field,) = of(report, "inspections").changes[0].fields
    assert (field.column, field.old, field.new) == ("inspector", "ada", "bea")


@pytest.mark.usefixtures("railway_is_in")
def test_columns_that_are_not_in_the_file_stay_as_they_are(by: Person) -> None:
    report = bring_in(by, only(people="username,last_name\nada,Ardent\n"))

    person = Person.objects.get(username="ada")
    assert of(report, "people").update == 1
    assert (person.first_name, person.last_name) == ("Ada", "Ardent")


@pytest.mark.usefixtures("railway_is_in")
def test_what_a_change_replaces_is_kept_by_the_audit(by: Person) -> None:
    bring_in(by, only(defects=RAILWAY["defects"].replace("3/16", "1/4")))

    events = Defect.pgh_event_model.objects.filter(pgh_label="update").order_by("-pgh_id")
    assert events[0].depth_mm == Decimal("6.35")
    assert events[0].pgh_context.metadata["user"] == by.pk
    assert events[0].pgh_context.metadata["source"] == "import"


@pytest.mark.usefixtures("railway_is_in")
def test_what_stands_at_a_milepost_moves_when_the_post_is_found_elsewhere(by: Person) -> None:
    moved = RAILWAY["mileposts"].replace("1609.344", "1600")

    report = bring_in(by, only(mileposts=moved))

    assert report.applied, report.faults
    assert Turnout.objects.get().chainage_m == 1950  # a quarter of the way from 1600 to 3000
    assert TrackClass.objects.get().to_m == 3000
    assert bring_in(by, everything(mileposts=moved)).changes_nothing


@pytest.mark.usefixtures("railway_is_in")
def test_limits_between_track_classes_move_with_their_milepost(by: Person) -> None:
    halves = (
        "line,track,from_milepost,to_milepost,class,since\n"
        "L1,Yard,0,1,2,2020-01-01\nL1,Yard,1,2,3,2020-01-01\n"
    )
    assert bring_in(by, only(track_classes=halves)).applied

    bring_in(by, only(mileposts=RAILWAY["mileposts"].replace("1609.344", "1700")))

    yard = TrackClass.objects.filter(track__name="Yard").order_by("from_m")
    assert [(one.from_m, one.to_m) for one in yard] == [(0, 1700), (1700, 3000)]


def test_a_workbook_with_dates_and_numbers_as_such_is_read_like_text(by: Person) -> None:
    settled(by)
    book = workbook(
        inspections=[
            ["reference", "turnout", "inspected_at", "kind", "inspector"],
            ["I2", "T1", datetime(2026, 4, 1, 9, 30), "detailed", "ada"],
        ],
        defects=[
            ["reference", "inspection", "position", "kind", "zone", "depth [in]", "reported_on"],
            ["D2", "I2", "frog", "spall", "point", 0.625, date(2026, 4, 1)],
        ],
    )

    report = bring_in(by, [("week.xlsx", book)])

    assert report.applied, report.faults
    assert Defect.objects.get(reference="D2").depth_mm == Decimal("15.875")
    assert Inspection.objects.get(reference="I2").inspected_at == datetime(
        2026, 4, 1, 9, 30, tzinfo=UTC
    )


def test_a_formula_is_told_with_its_row_and_column(by: Person) -> None:
    settled(by)
    book = workbook(people=[["username", "last_name"], ["ada", "=A1"]])

    report = bring_in(by, [("book.xlsx", book)])

    fault = sole_fault(report)
    assert (fault.sheet, fault.row, fault.column) == ("people", 2, "last_name")
    assert "paste it as values" in fault.sentence


def test_the_number_of_queries_does_not_grow_with_the_rows(by: Person) -> None:
    settled(by)

    def queries(count: int) -> int:
        rows = "".join(f"D{count}-{n},I1,frog,spall,point\n" for n in range(count))
        with CaptureQueriesContext(connection) as seen:
            text = f"reference,inspection,position,kind,zone\n{rows}"
            assert bring_in(by, only(defects=text)).applied
        return len(seen)

    assert queries(2) == queries(40)


def test_the_demo_railway_comes_in_whole_and_a_second_time_changes_nothing() -> None:
    by = importer()
    railway.grant(by, railway.Role.SUPERVISOR)
    uploads = [
        [(path.name, path.read_bytes()) for path in sorted(folder.glob("*.csv"))] for folder in DEMO
    ]

    first = [bring_in(by, files) for files in uploads]
    again = [bring_in(by, files, dry_run=True) for files in uploads]

    assert [report.faults for report in first] == [()] * len(uploads)
    assert all(report.applied for report in first)
    assert all(report.changes_nothing for report in again)
