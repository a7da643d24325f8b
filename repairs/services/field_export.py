"""One job's record to be kept elsewhere: entries, signed records, and their digests."""

from typing import Any

from repairs.models import JobSheet
from repairs.services.field_rows import event_says, events_of, field_state


def record_export(sheet: JobSheet) -> dict[str, Any]:
    """Everything of one sheet's record, plain; with it a later change can be shown."""
    return {
        "sheet": sheet.number,
        "job": sheet.job.reference,
        "turnout": sheet.job.turnout.code,
        "where": sheet.content["where"],
        "component": sheet.job.component.serial,
        "state": field_state(sheet),
        "entries": [
            event_says(row, sheet.number)
            | {"by_name": str(row.by), "previous": row.previous, "sha256": row.sha256}
            for row in events_of(sheet)
        ],
        "records": [
            {
                "serial": row.serial,
                "number": row.number,
                "kind": row.kind,
                "signed_by": row.signed_name,
                "role": row.role,
                "qualification": row.qualification,
                "signed_at": row.signed_at,
                "statement": row.statement,
                "content": row.content,
                "previous": row.previous,
                "sha256": row.sha256,
            }
            for row in sheet.records.order_by("number")
        ],
    }
