"""Sheets of crews, stock, track time, roads and qualifications: what is taken and what is not."""

from decimal import Decimal

import pytest

from planning.models import Depot, Shift, Stock, Truck, WorkWindow
from tests import railway
from tests.turnouts.sheets import RAILWAY, bring_in, importer, of, only, settled, sole_fault
from turnouts.analysis.terms import Role
from turnouts.models import Person, Territory

pytestmark = pytest.mark.django_db

WEEK = {
    "qualifications": (
        "username,procedure,issued_on,expires_on,evidence\n"
        "ada,manganese-wire,2026-01-04,2028-01-04,Test plate\n"
        "ada,employee_in_charge,2026-01-04,,Written paper\n"
    ),
    "depots": "code,name,territory,line,milepost\nDEP,The depot,N,L1,1\n",
    "trucks": "code,name,depot,capacity [lb]\nTR,Truck,DEP,3500\n",
    "crews": "code,name,depot,truck\nCR,Crew,DEP,TR\n",
    "crew_members": "crew,username,since,until\nCR,ada,2026-02-03,\n",
    "shifts": "crew,starts_at,ends_at\nCR,2026-03-02T20:30,2026-03-03T06:30\n",
    "stock": (
        "depot,truck,material,quantity,unit\n"
        "DEP,,manganese-wire,136,kg\n,TR,manganese-wire,11.3,kg\n"
    ),
    "work_windows": (
        "reference,line,track,from_milepost,to_milepost,starts_at,ends_at,protection,gangs\n"
        "W1,L1,Main,0.5,1.5,2026-03-02T22:00,2026-03-03T04:30,exclusive_track_occupancy,2\n"
    ),
}


@pytest.fixture
def by() -> Person:
    person = importer()
    railway.grant(person, Role.SUPERVISOR)
    settled(person)
    report = bring_in(person, only(**WEEK))
    assert report.applied, report.faults
    return person


def test_a_week_comes_in_and_a_second_time_changes_nothing(by: Person) -> None:
    assert bring_in(by, only(**WEEK)).changes_nothing


@pytest.mark.usefixtures("by")
def test_pounds_and_mileposts_are_kept_in_kilograms_and_metres() -> None:
    # 1 lb = 0.45359237 kg exactly (NIST Handbook 44, appendix C)
    assert Truck.objects.get().capacity_kg == Decimal("1587.573")
    assert Depot.objects.get().chainage_m == Decimal("1609.344")
    assert WorkWindow.objects.get().from_m == Decimal("804.672")


def test_stock_of_a_depot_and_of_a_truck_are_two_rows(by: Person) -> None:
    more = "depot,truck,material,quantity,unit\n,TR,manganese-wire,22.6,kg\n"

    report = bring_in(by, only(stock=more))

    assert of(report, "stock").update == 1
    assert Stock.objects.get(truck__code="TR").quantity == Decimal("22.6")
    assert Stock.objects.get(depot__code="DEP").quantity == 136


def test_track_time_moves_with_the_mileposts_it_is_given_by(by: Person) -> None:
    moved = RAILWAY["mileposts"].replace("1609.344", "1600")

    assert bring_in(by, only(mileposts=moved)).applied

    window = WorkWindow.objects.get()
    assert (window.from_m, window.to_m, Depot.objects.get().chainage_m) == (800, 2300, 1600)


@pytest.mark.parametrize(
    ("sheet", "text", "column", "says"),
    [
        (
            "stock",
            "depot,truck,material,quantity,unit\nDEP,TR,manganese-stick,1,kg\n",
            "depot",
            "fill one of the two columns",
        ),
        (
            "stock",
            "depot,truck,material,quantity,unit\nDEP,,manganese-stick,1,lb\n",
            "unit",
            "manganese-stick is counted in kg here",
        ),
        ("stock", "depot,truck,material,quantity,unit\nDEP,,gold,1,kg\n", "material", "not known"),
        (
            "stock",
            "depot,truck,material,quantity,unit,lead_days\n,TR,manganese-stick,1,kg,3\n",
            "lead_days",
            "An order comes to a depot",
        ),
        (
            "stock",
            "depot,truck,material,quantity,unit,lead_days\nDEP,,manganese-stick,1,kg,-1\n",
            "lead_days",
            "",
        ),
        (
            "crew_members",
            "crew,username,since\nCR,ada,2026-03-01\n",
            "username",
            "A person is in one crew at a time.",
        ),
        (
            "shifts",
            "crew,starts_at,ends_at\nCR,2026-03-03T06:00,2026-03-03T12:00\n",
            "starts_at",
            "A crew has one shift at a time.",
        ),
        (
            "work_windows",
            WEEK["work_windows"].replace("2026-03-03T04:30", "2026-03-02T21:30"),
            "ends_at",
            "A work window ends after it starts.",
        ),
        (
            "qualifications",
            "username,procedure,issued_on,evidence\nada,guesswork,2026-01-04,None\n",
            "procedure",
            "employee_in_charge, lookout",
        ),
        (
            "roads",
            "from_line,from_milepost,to_line,to_milepost,via,minutes\nL1,0,L9,0,,25\n",
            "to_line",
            'There is no line "L9"',
        ),
    ],
)
def test_a_row_that_cannot_be_true_is_refused_with_a_sentence(
    by: Person, sheet: str, text: str, column: str, says: str
) -> None:
    fault = sole_fault(bring_in(by, only(**{sheet: text})))

    assert (fault.sheet, fault.column) == (sheet, column)
    assert says in fault.sentence


def test_a_shift_may_begin_when_the_one_before_ends(by: Person) -> None:
    next_one = "crew,starts_at,ends_at\nCR,2026-03-03T06:30,2026-03-03T12:00\n"

    assert bring_in(by, only(shifts=next_one)).applied
    assert Shift.objects.count() == 2


def test_a_supervisor_plans_in_their_own_territory_only(by: Person) -> None:
    north = railway.person(Role.SUPERVISOR, Territory.objects.get(code="N"))
    south = railway.person(Role.SUPERVISOR, railway.territory("S"))
    more = only(stock="depot,truck,material,quantity,unit\nDEP,,manganese-wire,99,kg\n")

    assert bring_in(north, more).applied
    assert 'There is no depot "DEP"' in sole_fault(bring_in(south, more)).sentence
    assert "You may not keep certificates" in str(
        bring_in(north, only(qualifications=WEEK["qualifications"].replace("Test", "No"))).faults
    )
