"""Faults of an upload: headers, units and rows, each with sheet, row, column and a sentence."""

import pytest

from tests import railway
from tests.turnouts.sheets import (
    RAILWAY,
    bring_in,
    everything,
    of,
    only,
    sole_fault,
)
from turnouts.models import Defect, Line, Person, Turnout
from turnouts.services.errors import Conflict
from turnouts.services.sheets import engine, faults
from turnouts.services.sheets.batch import Batch
from turnouts.services.sheets.write import write

pytestmark = pytest.mark.django_db


def test_one_bad_row_keeps_everything_out_and_is_named(by: Person) -> None:
    bad = RAILWAY["turnouts"].replace(",right,", ",sideways,")

    report = bring_in(by, everything(turnouts=bad))

    first = report.faults[0]
    assert (first.sheet, first.row, first.column) == ("turnouts", 2, "hand")
    assert '"sideways" is not known here. Use one of: left, right, equilateral.' in first.sentence
    assert not Line.objects.exists()


def test_all_faults_of_a_file_are_told_at_once(by: Person) -> None:
    bad = RAILWAY["turnouts"].replace(",right,10,", ",sideways,ten,").replace("40,15", "-40,15")

    report = bring_in(by, everything(turnouts=bad))

    found = [fault.column for fault in report.faults if fault.sheet == "turnouts"]
    assert found == ["hand", "frog_number", "speed_through"]


def test_rows_that_name_a_bad_row_say_so_rather_than_unknown(by: Person) -> None:
    report = bring_in(by, everything(turnouts=RAILWAY["turnouts"].replace(",right,", ",x,")))

    fault = next(fault for fault in report.faults if fault.sheet == "traffic")
    assert fault.sentence == 'The row of turnout "T1" in sheet turnouts is not taken.'


@pytest.mark.parametrize(
    ("header", "column", "says"),
    [
        ("code,territory,milepost_unit", "name", "Column name is missing."),
        ("code,name,name,territory,milepost_unit", "name", "Column name is there twice."),
        ("code,name,territory,milepost_unit,colour", "colour", '"colour" is not known here'),
        ("code,name [mm],territory,milepost_unit", "name [mm]", "has no unit; leave out [mm]"),
    ],
)
def test_a_header_that_does_not_fit_is_told_and_no_row_is_read(
    by: Person, header: str, column: str, says: str
) -> None:
    report = bring_in(by, everything(lines=f"{header}\nL1,x\n"))

    fault = report.faults[0]
    assert (fault.sheet, fault.row, fault.column) == ("lines", 1, column)
    assert says in fault.sentence
    assert of(report, "lines").bad == 1


@pytest.mark.parametrize(
    ("heading", "says"),
    [
        ("chainage", "needs its unit in the header: chainage [mi] or chainage [m]."),
        ("chainage []", "needs its unit in the header"),
        ("chainage [mph]", '"mph" is not a unit of distance. Use one of: m, km, yd, mi.'),
    ],
)
def test_a_missing_or_wrong_unit_is_told(by: Person, heading: str, says: str) -> None:
    sheet = RAILWAY["mileposts"].replace("chainage [m]", heading)

    report = bring_in(by, everything(mileposts=sheet))

    assert (report.faults[0].sheet, report.faults[0].row) == ("mileposts", 1)
    assert says in report.faults[0].sentence


def test_an_unknown_sheet_is_told_with_the_known_ones(by: Person) -> None:
    fault = sole_fault(bring_in(by, only(wagons="code\nW1\n")))

    assert fault.sheet == "wagons"
    assert "The sheets are: territories, people," in fault.sentence


@pytest.mark.usefixtures("railway_is_in")
def test_a_defect_does_not_move_to_another_inspection(by: Person) -> None:
    railway.inspection(Turnout.objects.get(), reference="I9")

    fault = sole_fault(bring_in(by, only(defects=RAILWAY["defects"].replace("I1", "I9"))))

    assert (fault.column, "does not change" in fault.sentence) == ("inspection", True)


@pytest.mark.usefixtures("railway_is_in")
def test_two_new_components_in_one_position_are_refused_by_row(by: Person) -> None:
    report = bring_in(
        by,
        only(
            components="serial,kind\nF8,frog\nF9,frog\n",
            installations=(
                "serial,turnout,position,installed_on,removed_on\n"
                "F8,T1,frog,2015-06-01,2015-09-01\nF9,T1,frog,2015-08-31,2015-10-01\n"
            ),
        ),
    )

    fault = sole_fault(report)
    assert (fault.row, "It overlaps row 2" in fault.sentence) == (3, True)


@pytest.mark.usefixtures("railway_is_in")
def test_a_component_may_come_out_and_another_go_in_on_one_day(by: Person) -> None:
    report = bring_in(
        by,
        only(
            components="serial,kind\nF8,frog\n",
            installations=(
                "serial,turnout,position,installed_on,removed_on\n"
                "F8,T1,frog,2026-03-01,\nF2,T1,frog,2020-02-01,2026-03-01\n"
            ),
        ),
    )

    assert report.applied, report.faults


@pytest.mark.usefixtures("railway_is_in")
def test_on_the_day_of_an_exchange_the_component_has_to_be_named(by: Person) -> None:
    test_a_component_may_come_out_and_another_go_in_on_one_day(by)
    header = "reference,inspection,position,component,kind,zone\n"

    fault = sole_fault(bring_in(by, only(defects=f"{header}D2,I1,frog,,spall,point\n")))
    named = bring_in(by, only(defects=f"{header}D2,I1,frog,F8,spall,point\n"))

    assert "F2 and F8" in fault.sentence or "F8 and F2" in fault.sentence
    assert named.applied
    assert Defect.objects.get(reference="D2").component.serial == "F8"


@pytest.mark.usefixtures("railway_is_in")
def test_a_stay_may_not_be_cut_so_that_a_defect_hangs_in_the_air(by: Person) -> None:
    cut = RAILWAY["installations"].replace(
        "F2,T1,frog,2020-02-01,,", "F2,T1,frog,2020-02-01,2025-01-01,"
    )

    fault = sole_fault(bring_in(by, only(installations=cut)))

    assert (fault.sheet, fault.row, fault.column) == ("installations", 3, "installed_on")
    assert "Inspection I1 found F2 in T1 on 2026-03-01" in fault.sentence


@pytest.mark.usefixtures("railway_is_in")
def test_an_inspection_may_not_move_to_a_day_when_another_component_stood_there(by: Person) -> None:
    earlier = RAILWAY["inspections"].replace("2026-03-01", "2019-03-01")

    fault = sole_fault(bring_in(by, only(inspections=earlier)))

    assert (fault.column, "did not stand there" in fault.sentence) == ("inspected_at", True)


@pytest.mark.usefixtures("railway_is_in")
def test_a_row_the_database_refuses_is_found_among_good_ones(by: Person) -> None:
    posts = "".join(f"L1,{3 + n},{4000 + 1000 * n}\n" for n in range(20))
    twice = posts.replace("L1,17,18000", "L1,17,17000")

    fault = sole_fault(bring_in(by, only(mileposts=f"line,reading,chainage [m]\n{twice}")))

    assert fault.row == 16
    assert fault.sentence == 'The records refuse this row by the rule "one milepost a chainage".'


def test_faults_beyond_what_anybody_reads_are_counted(
    by: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(faults, "LISTED_AT_MOST", 3)

    report = bring_in(by, only(territories="code,name\n" + "X,\n" * 9))

    assert (len(report.faults), report.fault_count) == (3, 9)


@pytest.mark.usefixtures("railway_is_in")
def test_a_component_is_not_in_the_shop_while_it_is_in_track(by: Person) -> None:
    visit = "serial,shop,arrived_on,left_on,work\nF1,Works,2019-12-31,2020-01-05,Built up\n"

    fault = sole_fault(bring_in(by, only(shop_visits=visit)))

    assert fault.sentence == "F1 is in track from 2016-01-01 until 2020-01-01."


@pytest.mark.usefixtures("railway_is_in")
def test_a_component_goes_to_the_shop_and_back_into_track_between_its_stays(by: Person) -> None:
    visit = "serial,shop,arrived_on,left_on,work\nF1,Works,2020-01-01,2020-01-20,Built up\n"
    too_soon = "serial,turnout,position,installed_on,removed_on\nF1,T1,frog,2020-01-19,2020-02-01\n"

    assert bring_in(by, only(shop_visits=visit)).applied
    fault = sole_fault(bring_in(by, only(installations=too_soon)))
    in_time = bring_in(by, only(installations=too_soon.replace("2020-01-19", "2020-01-20")))

    assert fault.sentence == "F1 is in the shop from 2020-01-01 until 2020-01-20."
    assert in_time.applied


@pytest.mark.usefixtures("railway_is_in")
def test_a_record_that_somebody_changes_meanwhile_stops_the_import(
    by: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def meanwhile(batch: Batch) -> None:
        Defect.objects.update(note="Typed by somebody else")
        write(batch)

    monkeypatch.setattr(engine, "write", meanwhile)

    with pytest.raises(Conflict, match="Sheet defects, row 2: this record was changed"):
        bring_in(by, only(defects=RAILWAY["defects"].replace("Deep", "Shallow")))
