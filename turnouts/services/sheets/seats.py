"""Rows that name a component by the position it stood in at an inspection, and back."""

from typing import Any

from turnouts.services.errors import Refused
from turnouts.services.sheets.batch import Batch
from turnouts.services.sheets.faults import CellFault
from turnouts.services.sheets.spec import Cells
from turnouts.services.sheets.stays import Stays, visits


def components_of(batch: Batch) -> None:
    """A step that fills the component of each row; a row without a position has none."""
    found = visits({row.values["inspection_id"] for row in batch.good()})
    stays = Stays({visit.turnout for visit in found.values()})
    for row in list(batch.good()):
        position, serial = row.extras.get("position"), row.extras.get("component") or ""
        row.values["component_id"] = None
        if position is None:
            if serial:
                batch.fault(row, "position", f"Say in which position {serial} stood.")
            continue
        try:
            visit = found[row.values["inspection_id"]]
            row.values["component_id"] = stays.component(visit, position, serial)
        except CellFault as fault:
            batch.fault(row, "component" if serial else "position", str(fault))


def seats_of(rows: list[dict[str, Any]]) -> list[Cells]:
    """For export: the position and serial of each row's component."""
    found = visits({row["inspection_id"] for row in rows})
    stays = Stays({visit.turnout for visit in found.values()})
    cells: list[Cells] = []
    for row in rows:
        if row["component_id"] is None:
            cells.append({"position": None, "component": None})
            continue
        visit, serial = found[row["inspection_id"]], row["component__serial"]
        position = stays.position(visit, row["component_id"])
        if position is None:
            raise Refused(
                f"Inspection {visit.reference}: {serial} is not known to have stood in "
                f"{visit.turnout_code} on {visit.day}. Correct its installations, then export."
            )
        cells.append({"position": position, "component": serial})
    return cells
