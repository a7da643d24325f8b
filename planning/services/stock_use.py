"""Taking what a signed record used off the stock of the crew's truck, and else off the depots.

What is taken is what the record says less what was taken for it before, so a record signed once
is counted once and a correction only moves the difference. Stock never falls below zero: what
was used beyond it is written down as such.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction
from django.db.models import Q

from planning.models import Depot, PlannedJob, Stock, StockUse, Truck
from repairs.models import FieldRecord, JobSheet

STEP = Decimal("0.001")
"""Stock is counted in thousandths of its unit."""

Place = Truck | Depot | None


@transaction.atomic
def take_off_stock(record: FieldRecord) -> None:
    """Bring the stock in line with what a record says was used. Doing it again changes nothing."""
    wanted = _wanted(record)
    taken = _taken(record.sheet)
    units = {one["key"]: one["unit"] for one in record.sheet.content["materials"]}
    for material in sorted({*wanted, *taken}):
        places = taken.get(material, {})
        change = wanted.get(material, Decimal(0)) - sum(places.values(), Decimal(0))
        moved: Mapping[Place, Decimal] = {}
        if change > 0:
            moved = _take(record.sheet, material, units[material], change)
        elif change < 0:
            moved = _put_back(material, units[material], places, -change)
        _write(record, material, units[material], moved)


def _wanted(record: FieldRecord) -> dict[str, Decimal]:
    used: Mapping[str, str] = record.content["state"]["materials"]
    return {key: Decimal(str(much)).quantize(STEP, ROUND_HALF_UP) for key, much in used.items()}


def _taken(sheet: JobSheet) -> dict[str, dict[Place, Decimal]]:
    """What was taken for the sheet before, by material and place in the order it was taken."""
    found: dict[str, dict[Place, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    uses = StockUse.objects.filter(record__sheet=sheet).select_related("truck", "depot")
    for use in uses.order_by("pk"):
        found[use.material][use.place] += use.quantity
    return found


def _take(sheet: JobSheet, material: str, unit: str, wanted: Decimal) -> dict[Place, Decimal]:
    """Take it where it lies, the crew's truck first; under None what lies nowhere."""
    moved: dict[Place, Decimal] = {}
    for row in _where_it_lies(sheet, material, unit):
        much = min(row.quantity, wanted)
        if much > 0:
            row.quantity -= much
            row.save(update_fields=["quantity"])
            moved[row.truck or row.depot] = much
            wanted -= much
    if wanted > 0:
        moved[None] = wanted
    return moved


def _where_it_lies(sheet: JobSheet, material: str, unit: str) -> Iterator[Stock]:
    """Stock of the material, locked: the truck's, the crew's depot's, the territory's others'.

    What is on a lent truck is counted where it comes from and not touched here.
    """
    placed = PlannedJob.objects.filter(sheet=sheet).select_related("truck__depot", "crew").first()
    if placed is None:
        return
    territory = sheet.job.turnout.territory
    rows = Stock.objects.filter(
        Q(truck=placed.truck, truck__isnull=False, truck__depot__territory=territory)
        | Q(depot__territory=territory),
        material=material,
        unit=unit,
    )
    locked = rows.select_for_update(of=("self",)).select_related("truck", "depot").order_by("pk")
    own = placed.crew.depot_id
    yield from sorted(locked, key=lambda row: (row.truck_id is None, row.depot_id != own, row.pk))


def _put_back(
    material: str, unit: str, places: Mapping[Place, Decimal], much: Decimal
) -> dict[Place, Decimal]:
    """Put back what was never used: first what no stock had shown, then the last taken first."""
    moved: dict[Place, Decimal] = {}
    order = sorted(reversed(list(places)), key=lambda place: place is not None)
    for place in order:
        back = min(places[place], much)
        if back <= 0:
            continue
        much -= back
        moved[place] = -back
        if place is not None:
            row = _row_of(place, material, unit)
            row.quantity += back
            row.save(update_fields=["quantity"])
    return moved


def _row_of(place: Truck | Depot, material: str, unit: str) -> Stock:
    of = {"truck": place} if isinstance(place, Truck) else {"depot": place}
    row, _ = Stock.objects.select_for_update().get_or_create(
        material=material, defaults={"quantity": 0, "unit": unit}, **of
    )
    return row


def _write(record: FieldRecord, material: str, unit: str, moved: Mapping[Place, Decimal]) -> None:
    for place, much in moved.items():
        StockUse.objects.create(
            record=record,
            material=material,
            unit=unit,
            truck=place if isinstance(place, Truck) else None,
            depot=place if isinstance(place, Depot) else None,
            quantity=much,
            left=None if place is None else _row_of(place, material, unit).quantity,
            at=record.signed_at,
        )


def stock_words(sheet: JobSheet) -> list[str]:
    """What the sheet's signed records did to the stock, in sentences."""
    names = {one["key"]: one["name"] for one in sheet.content["materials"]}
    uses = StockUse.objects.filter(record__sheet=sheet).select_related("truck", "depot")
    said = [_said(use, names[use.material]) for use in uses.order_by("pk")]
    return said or ["No material was entered, so nothing was taken off the stock."]


def _said(use: StockUse, name: str) -> str:
    much = f"{abs(use.quantity).normalize():f} {use.unit} of {name}"
    if use.place is None and use.quantity > 0:
        return f"{much} was used beyond what any stock shows: count the truck and the depot."
    if use.place is None:
        return f"{much} less was used beyond the stock, by a correction."
    moved = "taken off" if use.quantity > 0 else "put back, by a correction, to"
    assert use.left is not None  # noqa: S101 - the database asks for it where there is a place
    return f"{much} {moved} {use.place}; {use.left.normalize():f} {use.unit} left there."
