"""A signed record takes what was used off the stock once; nothing falls below zero unsaid."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planning.models import CrewLoan, Depot, PlannedJob, Shift, Stock, StockUse
from planning.services.publish import publish_plan
from planning.services.stock_use import take_off_stock
from repairs.models import FieldRecord, JobSheet
from repairs.services.field_reading import read_record
from repairs.services.field_records import correct_record, sign_record
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.models import Person

pytestmark = pytest.mark.django_db

WIRE = "manganese-wire"
NOW = track_time.at(-1, 12)


@pytest.fixture
def placed(small_week: SmallWeek) -> PlannedJob:
    """The first job of the week, published to the crew, with its sheet."""
    plan = small_week.plan()
    plan.refresh_from_db()
    publish_plan(by=small_week.supervisor, plan=plan, expected_version=plan.version, at=NOW)
    return PlannedJob.objects.select_related("sheet", "truck").earliest("starts_at")


def sheet_of(placed: PlannedJob) -> JobSheet:
    return JobSheet.objects.select_related("job__turnout__track__line__territory").get(
        placed=placed
    )


def worked(placed: PlannedJob, **used: str) -> tuple[Night, JobSheet, Person]:
    """A whole night with this material used; the entries are at the office."""
    sheet = sheet_of(placed)
    welder = sheet.people.get()
    night = Night(sheet)
    end = night.whole()
    for key, much in used.items():
        night.tap("material_used", end - 1, key=key.replace("_wire", "-wire"), quantity=much)
    assert night.send(welder).refused == []
    return night, sheet, welder


def on_truck(placed: PlannedJob, material: str = WIRE) -> Decimal:
    return Stock.objects.get(truck=placed.truck, material=material).quantity


def set_truck(placed: PlannedJob, quantity: str, material: str = WIRE) -> None:
    Stock.objects.filter(truck=placed.truck, material=material).update(quantity=quantity)


def in_depot(placed: PlannedJob, quantity: str, unit: str = "kg") -> Stock:
    assert placed.truck is not None
    return Stock.objects.create(
        depot=placed.truck.depot, material=WIRE, quantity=quantity, unit=unit
    )


def test_what_was_used_comes_off_the_crews_truck_once(placed: PlannedJob) -> None:
    night, sheet, welder = worked(placed, manganese_wire="2.5")
    assert on_truck(placed) == 300
    record = sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    assert on_truck(placed) == Decimal("297.5")
    take_off_stock(record)  # as a repeat would
    assert on_truck(placed) == Decimal("297.5")
    use = StockUse.objects.get()
    assert (use.quantity, use.left, use.truck, use.record) == (
        Decimal("2.5"),
        Decimal("297.5"),
        placed.truck,
        record,
    )


def test_the_depot_gives_what_the_truck_has_not(placed: PlannedJob) -> None:
    set_truck(placed, "1")
    depot = in_depot(placed, "10")
    night, sheet, welder = worked(placed, manganese_wire="2.5")
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    depot.refresh_from_db()
    assert (on_truck(placed), depot.quantity) == (0, Decimal("8.5"))


def test_what_no_stock_shows_is_said_in_words_and_nothing_is_below_zero(
    placed: PlannedJob,
) -> None:
    set_truck(placed, "1")
    depot = in_depot(placed, "0.5")
    night, sheet, welder = worked(placed, manganese_wire="2.5")
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    depot.refresh_from_db()
    assert (on_truck(placed), depot.quantity) == (0, 0)
    said = read_record(sheet).followed
    assert said[-1].startswith("1 kg of ")
    assert said[-1].endswith("used beyond what any stock shows: count the truck and the depot.")


def test_stock_counted_in_another_unit_is_left_alone_and_said_so(placed: PlannedJob) -> None:
    Stock.objects.filter(material=WIRE).delete()
    spools = in_depot(placed, "10", unit="spools")
    night, sheet, welder = worked(placed, manganese_wire="2.5")
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    spools.refresh_from_db()
    assert spools.quantity == 10
    assert StockUse.objects.get().place is None


@pytest.mark.parametrize(
    ("right", "truck", "depot", "beyond"),
    [
        ("4", "0", "0", "1.5"),  # 1.5 more than the 2.5 there were
        ("2.5", "0", "0", "0"),
        ("1.5", "0", "1", "0"),  # the depot's is put back first: it was taken last
        ("0.4", "0.6", "1.5", "0"),
    ],
)
def test_a_correction_moves_only_the_difference(
    placed: PlannedJob, right: str, truck: str, depot: str, beyond: str
) -> None:
    set_truck(placed, "1")
    lies = in_depot(placed, "1.5")
    night, sheet, welder = worked(placed, manganese_wire="3")
    wrong = night.taps[-1]["id"]
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    data = {"key": WIRE, "quantity": right}
    night.tap("correction", 602, of=wrong, reason="Weighed again", data=data)
    assert night.send(welder, 603).refused == []
    assert on_truck(placed) == 0  # entries alone move nothing; a signature does
    for minute in (604, 605):
        said = f"Wire weighed, {minute}"
        correct_record(by=welder, sheet=sheet, statement=said, at=night.at(minute))
    lies.refresh_from_db()
    assert (on_truck(placed), lies.quantity) == (Decimal(truck), Decimal(depot))
    short = StockUse.objects.filter(truck=None, depot=None).values_list("quantity", flat=True)
    assert sum(short) == Decimal(beyond)
    assert sum(StockUse.objects.values_list("quantity", flat=True)) == Decimal(right)


def test_a_struck_out_entry_is_put_back(placed: PlannedJob) -> None:
    night, sheet, welder = worked(placed, manganese_wire="2.5")
    wrong = night.taps[-1]["id"]
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    night.tap("correction", 602, of=wrong, reason="Another job's", data=None)
    night.send(welder, 603)
    correct_record(by=welder, sheet=sheet, statement="No wire", at=night.at(604))
    assert on_truck(placed) == 300
    assert read_record(sheet).followed[-1].startswith("2.5 kg of ")
    assert "put back, by a correction, to" in read_record(sheet).followed[-1]


def test_a_record_without_material_says_that_nothing_was_taken(placed: PlannedJob) -> None:
    night, sheet, welder = worked(placed)
    assert read_record(sheet).followed == ()
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    assert read_record(sheet).followed == (
        "No material was entered, so nothing was taken off the stock.",
    )


def test_what_is_on_a_lent_truck_is_counted_at_home(placed: PlannedJob) -> None:
    elsewhere = track_time.depot(railway.track().line)
    shift = Shift.objects.filter(crew=placed.crew).earliest("starts_at")
    CrewLoan.objects.create(shift=shift, territory=placed.plan.territory)
    assert placed.truck is not None
    home = placed.truck.depot
    placed.truck.depot = elsewhere
    placed.truck.save()
    Stock.objects.create(depot=home, material=WIRE, quantity=5, unit="kg")
    night, sheet, welder = worked(placed, manganese_wire="2")
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    assert on_truck(placed) == 300
    assert Stock.objects.get(depot=home).quantity == 3


def test_the_crews_own_depot_comes_before_the_territorys_others(placed: PlannedJob) -> None:
    own = placed.crew.depot
    other = Depot.objects.create(
        territory=own.territory,
        code="A-FIRST",
        name="Other depot",
        line=own.line,
        milepost=3,
        chainage_m=0,
    )
    for depot, much in ((other, "9"), (own, "1")):
        Stock.objects.create(depot=depot, material=WIRE, quantity=much, unit="kg")
    set_truck(placed, "0")
    night, sheet, welder = worked(placed, manganese_wire="3")
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    assert Stock.objects.get(depot=own).quantity == 0
    assert Stock.objects.get(depot=other).quantity == 7


def test_a_sheet_of_no_plan_takes_nothing_and_says_what_to_count() -> None:
    sheet = rows.sheet()
    night = Night(sheet)
    end = night.whole()
    night.tap("material_used", end, key=WIRE, quantity="1")
    night.send(sheet.people.get())
    sign_record(by=sheet.people.get(), sheet=sheet, statement="", at=night.at(601))
    assert StockUse.objects.get().place is None


def test_a_use_once_written_stays(placed: PlannedJob) -> None:
    night, sheet, welder = worked(placed, manganese_wire="2.5")
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    changes: list[Any] = [
        lambda: StockUse.objects.update(quantity=1),
        lambda: StockUse.objects.all().delete(),
    ]
    for change in changes:
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


def test_page_and_api_show_supervisors_what_was_taken_and_what_to_count(
    placed: PlannedJob, small_week: SmallWeek
) -> None:
    set_truck(placed, "1")
    _, sheet, welder = worked(placed, manganese_wire="2.5")
    sign_record(by=welder, sheet=sheet, statement="", at=NOW)
    client = Client()
    client.force_login(small_week.supervisor)
    shown = client.get("/stock/").content.decode()
    assert "Count these" in shown
    assert "1.5 kg" in shown
    assert f"/sheets/{sheet.number}/record/" in shown
    (beyond,) = client.get("/api/stock-beyond/").json()
    assert (beyond["sheet"], beyond["quantity"]) == (sheet.number, "1.500")
    uses = client.get("/api/stock-uses/", {"material": WIRE}).json()["results"]
    assert {(use["truck"], use["quantity"]) for use in uses} == {
        (placed.truck.code if placed.truck else None, "1.000"),
        (None, "1.500"),
    }
    lies = client.get("/api/stock/", {"material": WIRE}).json()["results"]
    assert [(one["quantity"], one["last_sheet"]) for one in lies] == [("0.000", sheet.number)]
    stranger = railway.person("supervisor", railway.territory())
    client.force_login(stranger)
    assert client.get("/api/stock/").json()["results"] == []
    assert client.get("/api/stock-beyond/").json() == []
    for role in ("welder", "engineer", "inspector", "administrator"):
        client.force_login(railway.person(role, small_week.territory))
        for address in ("/stock/", "/api/stock/", "/api/stock-uses/", "/api/stock-beyond/"):
            assert client.get(address).status_code == 403


def test_the_stock_page_asks_no_more_however_much_there_is(
    placed: PlannedJob, small_week: SmallWeek
) -> None:
    client = Client()
    client.force_login(small_week.supervisor)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert client.get("/stock/").status_code == 200
        return len(asked)

    queries()
    few = queries()
    track_time.crew(placed.crew.depot)
    _, sheet, welder = worked(placed, manganese_wire="2.5")
    sign_record(by=welder, sheet=sheet, statement="", at=NOW)
    assert FieldRecord.objects.count() == 1
    assert queries() == few
