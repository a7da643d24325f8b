"""The sheet of qualifications: who may do which repair procedure or duty, on what evidence."""

from repairs.models import Qualification
from repairs.services.estimates import GRINDING
from repairs.welding.certificates import ProofKind
from repairs.welding.procedures import all_editions
from turnouts.access import Action
from turnouts.models import Person
from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.checks import each, in_order
from turnouts.services.sheets.lookups import PERSON
from turnouts.services.sheets.spec import Names, Own, Sheet, Step

DUTIES = ("employee_in_charge", "lookout")
"""Duties in track that take a certificate as a procedure does (49 CFR 214.347 to 214.353)."""

EXAMINERS = tuple(f"{kind.value}_examiner" for kind in ProofKind)


def examines_themselves(person: Person, examiner: str) -> bool:
    """Whether an examiner's name is that of the person, as login name or in full."""
    own = {person.username.casefold(), str(person).casefold()}
    return " ".join(examiner.split()).casefold() in own


def _nobody_certifies_themselves(batch: Batch) -> None:
    """Fault rows of the importing person, and rows whose examiner is the person examined."""
    written = [row for row in batch.good() if row.is_new or row.changed]
    people = Person.objects.in_bulk([row.values["person_id"] for row in written])
    for row in written:
        person = people[row.values["person_id"]]
        if person.pk == batch.upload.person.pk:
            batch.fault(row, "username", "Nobody certifies themselves; ask another administrator.")
            continue
        for column in EXAMINERS:
            if examines_themselves(person, row.values.get(column) or ""):
                batch.fault(row, column, f"{person} cannot be their own examiner.")
                break


def _too_much(row: Row) -> str | None:
    mark = row.values.get("written_mark_percent")
    return "A mark is a percentage, from 0 to 100." if mark is not None and mark > 100 else None


def _before_the_issue(kind: ProofKind) -> Step:
    column = f"{kind.value}_on"
    return in_order(
        column,
        "issued_on",
        "A proof is given on the day the certificate is issued, or before.",
        column=column,
        or_same=True,
    )


QUALIFICATIONS = Sheet(
    name="qualifications",
    model=Qualification,
    right=Action.CERTIFY,
    placed_by=(),
    columns=(
        Names("username", PERSON, field="person", key=True),
        Own("procedure", key=True, words=(*all_editions(), GRINDING, *DUTIES)),
        Own("issued_on", key=True),
        Own("expires_on"),
        Own("evidence"),
        Own("plate_on"),
        Own("plate_examiner"),
        Own("plate_macro_etch"),
        Own("mock_on"),
        Own("mock_examiner"),
        Own("mock_repair"),
        Own("penetrant_on"),
        Own("penetrant_examiner"),
        Own("mock_penetrant"),
        Own("written_on"),
        Own("written_examiner"),
        Own("written_mark_percent"),
    ),
    checks=(
        in_order("issued_on", "expires_on", "A certificate expires after it was issued."),
        *(_before_the_issue(kind) for kind in ProofKind),
        in_order(
            "mock_on", "penetrant_on", "The mock repair is tested after it is made.", or_same=True
        ),
        each("written_mark_percent", _too_much),
        _nobody_certifies_themselves,
    ),
)
