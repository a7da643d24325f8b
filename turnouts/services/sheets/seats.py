"""Rows that name a component by the position it stood in at an inspection, and back."""

from typing import Any

from turnouts.models import Defect, Installation, Measurement
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


def found_where_it_stood(batch: Batch) -> None:
    """After a stay or an inspection changed: what was found on a component must still be on one
    that stood there that day."""
    changed = {row.record.pk: row for row in batch.good() if row.changed}
    of_stays = batch.sheet.model is Installation
    rows = {row.record.component_id: row for row in changed.values()} if of_stays else changed
    name = "component_id__in" if of_stays else "inspection_id__in"
    pairs = {
        pair
        for model in (Defect, Measurement)
        for pair in model._default_manager.filter(**{name: rows}, component__isnull=False)
        .order_by()
        .values_list("component_id", "inspection_id", "component__serial")
        .distinct()
    }
    found = visits({inspection for _, inspection, _ in pairs})
    stays = Stays({visit.turnout for visit in found.values()})
    for component, inspection, serial in sorted(pairs):
        row, visit = rows[component if of_stays else inspection], found[inspection]
        if not row.bad and stays.position(visit, component) is None:
            batch.fault(
                row,
                "installed_on" if of_stays else "inspected_at",
                f"Inspection {visit.reference} found {serial} in {visit.turnout_code} on "
                f"{visit.day}; by this row it did not stand there.",
            )


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
