"""Certificates with all their evidence, for tests: whole, unless a test takes something away."""

from datetime import date, timedelta
from typing import Any

from repairs.models import Qualification
from turnouts.models import Person


def proofs(issued_on: date) -> dict[str, Any]:
    """The four proofs of a welder's certificate, all passed, in the week before the issue."""
    found: dict[str, Any] = {}
    for days, proof in ((7, "plate"), (5, "mock"), (4, "penetrant"), (2, "written")):
        found[f"{proof}_on"] = issued_on - timedelta(days=days)
        found[f"{proof}_examiner"] = "Ysolde Brockwin"
    results = {"plate_macro_etch": "passed", "mock_repair": "passed", "mock_penetrant": "passed"}
    return found | results | {"written_mark_percent": 91}


def certificate(
    person: Person, procedure: str, issued_on: date, expires_on: date | None, **values: Any
) -> Qualification:
    """A certificate with its evidence; ``values`` take the place of what it would hold."""
    given = proofs(issued_on) | {"evidence": "Groove test plate with macro-etch"} | values
    return Qualification.objects.create(
        person=person, procedure=procedure, issued_on=issued_on, expires_on=expires_on, **given
    )
