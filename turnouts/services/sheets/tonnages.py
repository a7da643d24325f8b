"""The tonnage a component had carried when it went in and when it came out, kept with each stay."""

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from itertools import groupby

from turnouts.analysis.terms import Hand, Position, Route
from turnouts.analysis.tonnage import TonnageError, passed_mgt, routes_over
from turnouts.analysis.tonnage import Traffic as Carried
from turnouts.analysis.units import rounded
from turnouts.models import Installation, Traffic
from turnouts.services.sheets.batch import Batch, Row, Upload
from turnouts.services.sheets.faults import Fault

_KEPT = Decimal("0.0001")
_AT_ONCE = 2_000

Totals = tuple[Decimal, Decimal | None]


def traffic_moves_components(batch: Batch) -> None:
    """After a change of traffic the tonnage of all that stood in the turnout is counted again."""
    turnouts = {row.values["turnout_id"] for row in batch.good() if row.is_new or row.changed}
    stood = Installation.objects.filter(turnout_id__in=turnouts)
    batch.upload.moved_components |= set(stood.values_list("component_id", flat=True))


def installation_moves_component(batch: Batch) -> None:
    """After a change of where a component stood its tonnage is counted again."""
    for row in batch.good():
        if row.is_new or row.changed:
            batch.upload.moved_components.add(row.values["component_id"])


def bring_tonnages_up_to_date(upload: Upload, batches: Iterable[Batch]) -> None:
    """Count the tonnages of all moved components again, from traffic and stays as written."""
    stays = list(
        Installation.objects.filter(component_id__in=upload.moved_components)
        .select_related("turnout")
        .order_by("component_id", "installed_on")
    )
    carried = _carried({stay.turnout_id for stay in stays})
    different: list[Installation] = []
    for _, own in groupby(stays, key=lambda stay: stay.component_id):
        try:
            different += _count(list(own), carried)
        except _NotKnown as fault:
            _blame(upload, batches, fault)
    Installation.objects.bulk_update(
        different, ["mgt_at_installation", "mgt_at_removal"], batch_size=_AT_ONCE
    )
    if different:
        upload.notes.append(
            f"Tonnage at installation and removal is counted from the traffic for "
            f"{len(different):,} installations."
        )


class _NotKnown(Exception):
    def __init__(self, stay: Installation, sentence: str) -> None:
        super().__init__(sentence)
        self.stay = stay


def _carried(turnouts: set[int]) -> dict[int, tuple[Carried, ...]]:
    rows = Traffic.objects.filter(turnout_id__in=turnouts).values_list(
        "turnout_id", "route", "since", "annual_mgt"
    )
    found: dict[int, list[Carried]] = defaultdict(list)
    for turnout, route, since, mgt in rows:
        found[turnout].append(Carried(Route(route), since, mgt))
    return {turnout: tuple(own) for turnout, own in found.items()}


def _count(
    stays: list[Installation], carried: dict[int, tuple[Carried, ...]]
) -> list[Installation]:
    """Those of one component's stays, in order of time, whose tonnages become different."""
    total, different = Decimal(0), []
    for stay in stays:
        start = total
        if stay.removed_on is not None:
            total += _during(stay, carried.get(stay.turnout_id, ()))
        totals: Totals = (_kept(start), None if stay.removed_on is None else _kept(total))
        if totals != (stay.mgt_at_installation, stay.mgt_at_removal):
            stay.mgt_at_installation, stay.mgt_at_removal = totals
            different.append(stay)
    return different


def _during(stay: Installation, carried: tuple[Carried, ...]) -> Decimal:
    if stay.removed_on is None:
        raise ValueError(f"{stay} has no end.")
    routes = routes_over(Position(stay.position), Hand(stay.turnout.hand))
    try:
        return passed_mgt(carried, stay.installed_on, stay.removed_on, routes)
    except TonnageError as error:
        raise _NotKnown(stay, str(error)) from None


def _kept(total: Decimal) -> Decimal:
    return rounded(Fraction(total), _KEPT)


def _blame(upload: Upload, batches: Iterable[Batch], fault: _NotKnown) -> None:
    """Put the fault on the row of the stay, or on the sheet that moved it."""
    for batch in batches:
        if batch.sheet.name == "installations":
            for row in batch.good():
                if row.record is not None and row.record.pk == fault.stay.pk:
                    _fault_row(batch, row, fault)
                    return
    upload.faults.add(
        Fault("traffic", 0, "since", f"Component {fault.stay.component.serial}: {fault}")
    )


def _fault_row(batch: Batch, row: Row, fault: _NotKnown) -> None:
    batch.fault(row, "installed_on", str(fault))
