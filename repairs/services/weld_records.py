"""Procedure and pass temperatures of repairs from signed records, by the defect repaired."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from repairs.field.sheet import sheet_facts
from repairs.models import FieldRecord
from turnouts.models import Defect
from turnouts.weld_records import Passes


def recorded_passes(defects: Sequence[int]) -> dict[int, Passes]:
    """The hottest pass of each defect's zone in the last signed record; two queries."""
    references = dict(Defect.objects.filter(pk__in=defects).values_list("reference", "pk"))
    records = FieldRecord.objects.filter(sheet__job__treats__defect__in=defects).order_by("number")
    last = {record.sheet_id: record for record in records.select_related("sheet")}
    found: dict[int, Passes] = {}
    for record in last.values():
        for reference, passes in _by_defect(record).items():
            if reference in references:
                found[references[reference]] = passes
    return found


def _by_defect(record: FieldRecord) -> dict[str, Passes]:
    sheet = sheet_facts(record.sheet.number, record.sheet.content)
    readings: list[dict[str, Any]] = record.content["state"]["pass_temperatures"]
    zones = {zone.key: zone.defect for zone in sheet.zones}
    hottest: dict[str, Decimal] = {}
    for reading in readings:
        reference = zones.get(reading["zone"])
        if reference is not None:
            degc = Decimal(str(reading["degc"]))
            hottest[reference] = max(degc, hottest.get(reference, degc))
    procedure = record.sheet.content["procedure"]["title"]
    return {
        zone.defect: Passes(sheet.number, procedure, hottest.get(zone.defect), sheet.interpass_degc)
        for zone in sheet.zones
    }
