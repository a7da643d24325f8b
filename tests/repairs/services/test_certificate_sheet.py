"""Certificates as a sheet: with their evidence, all of it or nothing, and out again the same."""

import pytest

from repairs.models import Qualification
from tests import railway
from tests.certificates import certificate
from tests.turnouts.sheets import bring_in, only
from turnouts.models import Person
from turnouts.services.sheets.report import ImportReport

pytestmark = pytest.mark.django_db

HEAD = (
    "username,procedure,issued_on,expires_on,evidence,plate_on,plate_examiner,plate_macro_etch,"
    "mock_on,mock_examiner,mock_repair,penetrant_on,penetrant_examiner,mock_penetrant,"
    "written_on,written_examiner,written_mark_percent\n"
)
WHOLE = (
    "ada,manganese-wire,2026-01-04,2028-01-04,As examined,2025-12-20,Ann Ox,passed,"
    "2025-12-22,Ann Ox,passed,2025-12-23,Ann Ox,passed,2025-12-28,Ann Ox,91\n"
)


@pytest.fixture
def by() -> Person:
    railway.person(username="ada", first_name="Ada", last_name="Arden")
    return railway.person("administrator")


def brought(by: Person, text: str) -> ImportReport:
    return bring_in(by, only(qualifications=text))


def test_a_whole_certificate_comes_in_with_its_proofs_and_counts(by: Person) -> None:
    assert brought(by, HEAD + WHOLE).applied
    row = Qualification.objects.get()
    assert row.faults == ()
    assert [proof.examiner for proof in row.proofs] == ["Ann Ox"] * 4
    assert brought(by, HEAD + WHOLE).changes_nothing


def test_a_sheet_of_before_without_the_proofs_still_comes_in_and_does_not_count(by: Person) -> None:
    old = "username,procedure,issued_on,expires_on,evidence\nada,manganese-wire,2026-01-04,,Plate\n"
    assert brought(by, old).applied
    row = Qualification.objects.get()
    assert "the groove test plate with macro-etch is missing" in row.not_valid
    assert brought(by, HEAD + WHOLE).applied
    row.refresh_from_db()
    assert row.not_valid == ""
    assert row.version == 2


def test_every_bad_row_is_named_and_nothing_is_kept(by: Person) -> None:
    bad = [
        (WHOLE.replace("2025-12-20", "2026-01-05"), "plate_on", "on the day the certificate"),
        (WHOLE.replace("2025-12-23", "2025-12-21"), "penetrant_on", "tested after it is made"),
        (WHOLE.replace(",91", ",101"), "written_mark_percent", "from 0 to 100"),
        (WHOLE.replace(",91", ",-3"), "written_mark_percent", ""),
        (WHOLE.replace("passed", "perhaps", 1), "plate_macro_etch", "perhaps"),
        (WHOLE.replace("2025-12-28,Ann Ox", "2025-12-28,ada arden"), "written_examiner", "own"),
    ]
    rows = [
        row.replace("2026-01-04", f"2026-01-{number:02}")
        for number, (row, _, _) in enumerate(bad, start=4)
    ]
    rows[0] = bad[0][0]
    report = brought(by, HEAD + "".join(rows) + WHOLE.replace("manganese-wire", "carbon-wire"))
    assert not report.applied
    assert [fault.column for fault in sorted(report.faults, key=lambda f: f.row)] == [
        column for _, column, _ in bad
    ]
    said = {fault.column + str(fault.row): fault.sentence for fault in report.faults}
    for number, (_, column, says) in enumerate(bad, start=2):
        assert says in said[f"{column}{number}"]
    assert not Qualification.objects.exists()


def test_nobody_brings_in_their_own_but_may_leave_it_as_it_is(by: Person) -> None:
    own = WHOLE.replace("ada,", f"{by.username},")
    (fault,) = brought(by, HEAD + own).faults
    assert (fault.column, fault.sentence[:29]) == ("username", "Nobody certifies themselves; ")
    row = certificate(by, "lookout", railway.SINCE, None, evidence="Day in track")
    same = (
        "username,procedure,issued_on,evidence\n"
        f"{by.username},lookout,{row.issued_on},Day in track\n"
    )
    assert brought(by, same).changes_nothing
