"""The sheet of qualifications: who may do which repair procedure or duty, on what evidence."""

from repairs.models import Qualification
from repairs.services.estimates import GRINDING
from repairs.welding.procedures import all_editions
from turnouts.access import Action
from turnouts.services.sheets.checks import in_order
from turnouts.services.sheets.lookups import PERSON
from turnouts.services.sheets.spec import Names, Own, Sheet

DUTIES = ("employee_in_charge", "lookout")
"""Duties in track that take a certificate as a procedure does (49 CFR 214.347 to 214.353)."""

QUALIFICATIONS = Sheet(
    name="qualifications",
    model=Qualification,
    right=Action.GRANT,
    placed_by=(),
    columns=(
        Names("username", PERSON, field="person", key=True),
        Own("procedure", key=True, words=(*all_editions(), GRINDING, *DUTIES)),
        Own("issued_on", key=True),
        Own("expires_on"),
        Own("evidence"),
    ),
    checks=(in_order("issued_on", "expires_on", "A certificate expires after it was issued."),),
)
