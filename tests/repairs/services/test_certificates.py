"""Keeping certificates: by whom, with what, and what it lets somebody do."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from io import BytesIO

import pytest
from PIL import Image

from repairs.models import ProofPicture, Qualification
from repairs.services.certificate_changes import changes_of
from repairs.services.certificates import (
    Words,
    add_certificate,
    add_proof_picture,
    certificates_seen,
    change_certificate,
    words_of,
)
from repairs.services.field_rights import let_start, may_start
from tests import railway
from tests.certificates import certificate, proofs
from tests.repairs import rows
from turnouts.access import Forbidden
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db

ISSUED = date(2026, 1, 4)
LAST = date(2028, 1, 4)
AT = datetime.fromisoformat("2026-03-04T12:00:00+00:00")


@pytest.fixture
def keeper() -> Person:
    return railway.person("administrator")


@pytest.fixture
def welder() -> Person:
    return railway.person("welder", railway.territory())


def whole(**values: object) -> Words:
    return replace(Words(ISSUED, LAST, "As examined", **proofs(ISSUED)), **values)  # type: ignore[arg-type]


def added(keeper: Person, welder: Person, **values: object) -> Qualification:
    return add_certificate(
        by=keeper, person=welder, procedure="manganese-wire", words=whole(**values)
    )


def picture(colour: str = "slategray") -> BytesIO:
    kept = BytesIO()
    Image.new("RGB", (32, 20), colour).save(kept, "PNG")
    return kept


def test_a_whole_one_counts_from_its_issue_to_its_last_day(keeper: Person, welder: Person) -> None:
    row = added(keeper, welder)
    day = timedelta(days=1)
    counts = [row.valid_on(on) for on in (ISSUED - day, ISSUED, LAST, LAST + day)]
    assert counts == [False, True, True, False]
    assert [row.said_on(on) for on in (ISSUED - day, LAST, LAST + day)] == [
        "Not in force yet.",
        "Valid.",
        "Run out.",
    ]


def test_one_that_lacks_evidence_is_kept_and_does_not_count_until_it_is_there(
    keeper: Person, welder: Person
) -> None:
    row = added(keeper, welder, penetrant_on=None, penetrant_examiner="", mock_penetrant="")
    assert not row.valid_on(ISSUED)
    assert row.said_on(ISSUED) == ("Not valid: the penetrant test of the mock repair is missing.")
    put = change_certificate(by=keeper, certificate=row, words=whole(), expected_version=1)
    assert put.valid_on(ISSUED)
    assert put.version == 2


def test_nobody_but_an_administrator_of_the_whole_railway_keeps_one(
    keeper: Person, welder: Person
) -> None:
    row = added(keeper, welder)
    here = welder.grants.get().territory
    others = [railway.person(role) for role in ("welder", "inspector", "supervisor", "engineer")]
    for by in (*others, railway.person("administrator", here)):
        with pytest.raises(Forbidden):
            added(by, welder, issued_on=ISSUED + timedelta(days=30))
        with pytest.raises(Forbidden):
            change_certificate(by=by, certificate=row, words=whole(), expected_version=1)
        with pytest.raises(Forbidden):
            add_proof_picture(by=by, certificate=row, proof="plate", upload=picture(), at=AT)
    assert Qualification.objects.count() == 1


def test_nobody_certifies_or_examines_themselves(keeper: Person, welder: Person) -> None:
    with pytest.raises(Forbidden, match="Nobody certifies themselves"):
        added(keeper, keeper)
    own = certificate(keeper, "grinding", ISSUED, LAST)
    with pytest.raises(Forbidden, match="Nobody certifies themselves"):
        change_certificate(by=keeper, certificate=own, words=words_of(own), expected_version=1)
    with pytest.raises(Refused, match="cannot be the examiner of their own mock repair"):
        added(keeper, welder, mock_examiner=f" {welder.username.upper()} ")


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"expires_on": ISSUED}, "expires after it was issued"),
        ({"plate_on": ISSUED + timedelta(days=1)}, "dated after the certificate was issued"),
        ({"penetrant_on": ISSUED - timedelta(days=6)}, "tested after it is made"),
        ({"written_mark_percent": 101}, "from 0 to 100"),
        ({"written_mark_percent": -1}, "from 0 to 100"),
        ({"evidence": "  "}, "rests on"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(
    keeper: Person, welder: Person, values: dict[str, object], says: str
) -> None:
    with pytest.raises(Refused, match=says):
        added(keeper, welder, **values)
    assert not Qualification.objects.exists()


def test_a_procedure_nobody_has_is_refused(keeper: Person, welder: Person) -> None:
    with pytest.raises(Refused, match="There is no procedure or duty guesswork"):
        add_certificate(by=keeper, person=welder, procedure="guesswork", words=whole())


def test_the_second_of_two_who_change_one_is_told_and_nothing_is_written_over(
    keeper: Person, welder: Person
) -> None:
    row = added(keeper, welder)
    change_certificate(
        by=keeper, certificate=row, words=whole(evidence="First"), expected_version=1
    )
    with pytest.raises(Conflict, match="changed by somebody else"):
        change_certificate(
            by=keeper, certificate=row, words=whole(evidence="Second"), expected_version=1
        )
    row.refresh_from_db()
    assert row.evidence == "First"


def test_the_same_certificate_twice_is_a_conflict(keeper: Person, welder: Person) -> None:
    added(keeper, welder)
    with pytest.raises(Conflict, match="has a certificate for manganese-wire issued on 2026-01-04"):
        added(keeper, welder, evidence="Again")


def test_every_change_is_in_the_audit_with_before_and_after(keeper: Person, welder: Person) -> None:
    row = added(keeper, welder)
    change_certificate(
        by=keeper, certificate=row, words=whole(written_mark_percent=95), expected_version=1
    )
    first, second = changes_of(row)
    assert first.said == ()
    assert second.said == (("written mark percent", "91", "95"),)


def test_a_picture_of_a_proof_is_kept_once_and_only_if_it_is_one(
    keeper: Person, welder: Person
) -> None:
    row = added(keeper, welder)
    for _ in range(2):
        add_proof_picture(by=keeper, certificate=row, proof="plate", upload=picture(), at=AT)
    assert ProofPicture.objects.count() == 1
    add_proof_picture(by=keeper, certificate=row, proof="plate", upload=picture("sienna"), at=AT)
    assert ProofPicture.objects.count() == 2
    with pytest.raises(Refused, match="cannot be opened as a picture"):
        add_proof_picture(
            by=keeper, certificate=row, proof="mock", upload=BytesIO(b"<script>"), at=AT
        )
    lookout = certificate(welder, "lookout", ISSUED, LAST)
    for proof in ("plate", "x"):
        with pytest.raises(Refused, match="rests on no such proof"):
            add_proof_picture(by=keeper, certificate=lookout, proof=proof, upload=picture(), at=AT)


def test_a_reader_sees_their_own_and_those_of_their_territory(
    keeper: Person, welder: Person
) -> None:
    mine = added(keeper, welder)
    here = welder.grants.get().territory
    elsewhere = railway.person("welder", railway.territory())
    other = added(keeper, elsewhere)
    for role in ("supervisor", "engineer", "administrator"):
        assert [*certificates_seen(railway.person(role, here))] == [mine]
    assert [*certificates_seen(welder)] == [mine]
    assert [*certificates_seen(railway.person("inspector", here))] == []
    assert {*certificates_seen(keeper)} == {mine, other}


def test_a_sheet_is_started_on_the_last_day_and_not_the_day_after() -> None:
    sheet = rows.sheet()
    person = sheet.people.get()
    night = rows.NIGHT.date()
    person.qualifications.update(expires_on=night)
    assert may_start(person, sheet, night).yes
    after = may_start(person, sheet, night + timedelta(days=1))
    assert not after.yes
    assert "is not qualified for manganese-wire" in after.sentence


def test_without_whole_evidence_nobody_starts_and_the_sentence_says_what_is_missing() -> None:
    sheet = rows.sheet()
    person = sheet.people.get()
    person.qualifications.update(mock_penetrant="")
    said = may_start(person, sheet, rows.NIGHT.date())
    assert not said.yes
    assert "the penetrant test of the mock repair has no result" in said.sentence


def test_a_supervisors_word_lets_start_after_the_last_day_and_is_kept() -> None:
    sheet = rows.sheet()
    person = sheet.people.get()
    night = rows.NIGHT.date()
    person.qualifications.update(expires_on=night - timedelta(days=1))
    boss = railway.person("supervisor", sheet.job.turnout.territory)
    let_start(by=boss, sheet=sheet, person=person, reason="Broken point", at=rows.NIGHT)
    said = may_start(person, sheet, night)
    assert said.yes
    assert said.sentence == (
        f"{boss} let {person} start without a certificate, because: Broken point"
    )
    assert sheet.start_overrides.get().by == boss
