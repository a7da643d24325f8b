"""What a person exports they may read back: rights are asked for what changes, and nothing else."""

from io import BytesIO
from zipfile import ZipFile

import pytest

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
)
from turnouts.analysis.terms import Role
from turnouts.models import Defect, Measurement, Person, RoleGrant, Territory, Turnout
from turnouts.services.exports import export

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _two_territories() -> None:
    """The small railway in territory N, and a territory S beside it."""
    settled(importer())
    railway.territory("S")


def in_territory(role: Role, code: str) -> Person:
    return railway.person(role, Territory.objects.get(code=code))


def exported(by: Person) -> list[tuple[str, bytes]]:
    with ZipFile(BytesIO(export(by=by, form="zip"))) as archive:
        return [(name, archive.read(name)) for name in archive.namelist()]


@pytest.mark.parametrize("role", [Role.INSPECTOR, Role.SUPERVISOR, Role.ENGINEER])
def test_a_whole_export_is_read_back_by_whoever_made_it(role: Role) -> None:
    by = in_territory(role, "N")
    files = exported(by)
    assert "turnouts.csv" in dict(files)
    report = bring_in(by, files)
    assert report.faults == ()
    assert report.changes_nothing


def test_a_whole_export_with_a_territory_only_looked_at_is_read_back() -> None:
    by = in_territory(Role.ENGINEER, "S")
    railway.grant(by, Role.WELDER, Territory.objects.get(code="N"))  # who may look, not import
    report = bring_in(by, exported(by))
    assert report.faults == ()
    assert of(report, "defects").unchanged == 1


def test_a_changed_row_of_a_sheet_one_may_not_write_is_refused_among_unchanged_ones() -> None:
    by = in_territory(Role.INSPECTOR, "N")
    changed = [(n, c.replace(b"Gate by the bridge", b"Anywhere")) for n, c in exported(by)]
    fault = sole_fault(bring_in(by, changed))
    assert (fault.sheet, "You may not change the inventory here" in fault.sentence) == (
        "turnouts",
        True,
    )
    assert Turnout.objects.get().access == "Gate by the bridge"


def test_an_unchanged_row_out_of_sight_is_refused_like_a_changed_one() -> None:
    by = in_territory(Role.ENGINEER, "S")
    same = "code,name,territory,milepost_unit\nL1,Line One,,mi\n"
    other = same.replace("Line One", "Guessed")
    answers = {sole_fault(bring_in(by, only(lines=text))).sentence for text in (same, other)}
    assert len(answers) == 1


def test_a_new_row_may_not_name_a_row_where_one_only_looks() -> None:
    by = in_territory(Role.ENGINEER, "S")
    railway.grant(by, Role.WELDER, Territory.objects.get(code="N"))
    new = "reference,inspection,position,kind,zone\nD2,I1,frog,spall,point\n"
    fault = sole_fault(bring_in(by, only(defects=new)))
    assert (fault.column, "There is no inspection" in fault.sentence) == ("inspection", True)
    assert Defect.objects.count() == 1


def without(column: str, text: str) -> str:
    lines = [line.split(",") for line in text.splitlines()]
    place = lines[0].index(column)
    return "\n".join(",".join(cells[:place] + cells[place + 1 :]) for cells in lines) + "\n"


def test_a_file_without_a_column_that_may_be_empty_is_taken_as_if_it_were_empty() -> None:
    text = "inspection,position,quantity,value [in]\nI1,frog,point_wear_depth,3/8\n"
    assert bring_in(importer(), only(measurements=text)).applied
    row = Measurement.objects.get(quantity="point_wear_depth")
    assert (row.route, row.behind_point_mm) == ("", None)


def test_without_the_column_two_readings_that_only_it_tells_apart_are_refused() -> None:
    text = "inspection,position,quantity,value [in]\nI1,frog,flangeway_width,2\n"
    twice = text + "I1,frog,flangeway_width,1 7/8\n"
    assert "the same" in sole_fault(bring_in(importer(), only(measurements=twice))).sentence


@pytest.mark.parametrize(
    ("sheet", "column"),
    [("traffic", "route"), ("role_grants", "territory"), ("track_classes", "from_milepost")],
)
def test_a_column_whose_cells_may_not_be_empty_or_say_too_much_must_be_there(
    sheet: str, column: str
) -> None:
    before = RoleGrant.objects.count()
    files = everything(**{sheet: without(column, RAILWAY[sheet])})
    report = bring_in(importer(), files)
    assert f"Column {column} is missing." in {fault.sentence for fault in report.faults}
    assert RoleGrant.objects.count() == before + 2  # the importer's own two roles


def test_a_column_left_out_leaves_what_is_kept_alone() -> None:
    text = without("access", RAILWAY["turnouts"])
    report = bring_in(importer(), only(turnouts=text))
    assert report.changes_nothing
    assert Turnout.objects.get().access == "Gate by the bridge"
