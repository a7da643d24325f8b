"""Own editions of the wire procedure, made through the services: what their tests begin with."""

from typing import Any

from repairs import tasks
from repairs.models import OwnerProcedure
from repairs.services.own_procedures import (
    EditionProposal,
    approve_edition,
    newest_approved,
    propose_edition,
)
from repairs.services.procedure_preview import request_procedure_preview
from repairs.welding.own_editions import Change
from tests.repairs import rows
from turnouts.models import LongRun, Person

RICHER = (
    Change("deposit_rate_kg_per_h", 5.0, "Weighed on four frogs"),
    Change("wire_feed_m_per_min", 2.55, "Read from the feeder"),
)
"""A ninth more metal an hour than the 4.5 kg/h as shipped, with the feed that goes with it."""


def proposal(**values: Any) -> EditionProposal:
    given: dict[str, Any] = {
        "procedure": "manganese-wire",
        "starts_on": rows.DAY,
        "changes": RICHER,
        "interpass": "us-practice",
        "reason": "Our wire lays more",
        "seen": newest_approved("manganese-wire"),
    }
    return EditionProposal(**(given | values))


def proposed(by: Person, **values: Any) -> OwnerProcedure:
    on, at = values.pop("on", rows.DAY), values.pop("at", rows.NOW)
    return propose_edition(by=by, proposal=proposal(**values), on=on, at=at)


def looked_at(edition: OwnerProcedure, by: Person, on: Any = rows.DAY, key: str = "k") -> LongRun:
    run = request_procedure_preview(
        by=by, edition=edition, on=on, request_key=f"{key} {edition.pk} {on}"
    )
    tasks.procedure_preview(run.pk)
    run.refresh_from_db()
    return run


def approved(edition: OwnerProcedure, by: Person, on: Any = rows.DAY) -> OwnerProcedure:
    approve_edition(
        by=by,
        edition=edition,
        version=edition.version,
        preview=looked_at(edition, by, on),
        on=on,
        at=rows.NOW,
    )
    edition.refresh_from_db()
    return edition
