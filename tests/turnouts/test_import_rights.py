"""Who may import what, and where: a row out of reach is refused and tells nothing."""

import pytest

from tests import railway
from tests.turnouts.sheets import RAILWAY, bring_in, importer, of, only, settled, sole_fault
from turnouts.access import Forbidden
from turnouts.analysis.terms import Role
from turnouts.models import Defect, Line, Person, Territory, Turnout

pytestmark = pytest.mark.django_db

A_DEFECT = "reference,inspection,position,kind,zone\nD2,I1,frog,spall,point\n"


@pytest.fixture(autouse=True)
def _two_territories() -> None:
    """The small railway in territory N, and a territory S beside it."""
    settled(importer())
    railway.territory("S")


def in_territory(role: Role, code: str) -> Person:
    return railway.person(role, Territory.objects.get(code=code))


@pytest.mark.parametrize("role", [Role.WELDER, None])
def test_who_may_not_import_gets_403(role: Role | None) -> None:
    with pytest.raises(Forbidden, match="You may not import files"):
        bring_in(railway.person(role), only(defects=A_DEFECT))


def test_an_inspector_reports_in_their_own_territory() -> None:
    assert bring_in(in_territory(Role.INSPECTOR, "N"), only(defects=A_DEFECT)).applied


@pytest.mark.parametrize(
    ("sheet", "text"),
    [
        ("lines", "code,name,territory,milepost_unit\nL1,Renamed,N,mi\n"),
        ("lines", "code,name,territory,milepost_unit\nL9,New,N,mi\n"),
        ("role_grants", "username,role,territory\nada,engineer,N\n"),
        ("people", "username,last_name\nada,Other\n"),
        ("defect_steps", "defect,state,at,by\nD1,in_work,2026-03-04T08:00,ada\n"),
    ],
)
def test_an_inspector_may_not_change_inventory_people_or_decisions(sheet: str, text: str) -> None:
    fault = sole_fault(bring_in(in_territory(Role.INSPECTOR, "N"), only(**{sheet: text})))

    assert fault.sheet == sheet
    assert "You may not" in fault.sentence


def test_an_engineer_may_not_give_roles() -> None:
    grant = "username,role,territory\nada,administrator,\n"

    fault = sole_fault(bring_in(railway.person(Role.ENGINEER), only(role_grants=grant)))

    assert "You may not change people and roles here" in fault.sentence


def test_an_administrator_of_one_territory_gives_roles_there_only() -> None:
    by = in_territory(Role.ADMINISTRATOR, "N")

    assert bring_in(by, only(role_grants="username,role,territory\nada,welder,N\n")).applied
    everywhere = bring_in(by, only(role_grants="username,role,territory\nada,engineer,\n"))
    elsewhere = bring_in(by, only(role_grants="username,role,territory\nada,engineer,S\n"))

    assert "You may not" in sole_fault(everywhere).sentence
    assert 'There is no territory "S"' in sole_fault(elsewhere).sentence


def test_a_row_elsewhere_is_answered_as_if_it_did_not_exist() -> None:
    by = in_territory(Role.INSPECTOR, "S")

    there = sole_fault(bring_in(by, only(defects=A_DEFECT))).sentence
    nowhere = sole_fault(bring_in(by, only(defects=A_DEFECT.replace("I1", "I7")))).sentence

    assert there.replace("I1", "I7") == nowhere


def test_a_record_elsewhere_is_not_changed_and_its_values_are_not_told() -> None:
    by = in_territory(Role.ENGINEER, "S")
    taken_over = "code,name,territory,milepost_unit\nL1,Mine now,S,mi\n"

    report = bring_in(by, only(lines=taken_over))

    assert "You may not change the inventory here" in sole_fault(report).sentence
    assert "Line One" not in str(report.as_json())
    assert of(report, "lines").changes == ()
    assert Line.objects.get(code="L1").name == "Line One"


def test_a_record_is_not_given_away_to_a_territory_out_of_reach() -> None:
    by = in_territory(Role.ENGINEER, "N")

    given_away = RAILWAY["lines"].replace(",N,", ",S,")
    fault = sole_fault(bring_in(by, only(lines=given_away)))

    assert (fault.column, "S" in fault.sentence) == ("territory", True)
    assert Line.objects.get(code="L1").territory.code == "N"


def test_the_rights_at_the_start_count_not_those_the_file_gives() -> None:
    by = in_territory(Role.INSPECTOR, "N")
    files = only(
        role_grants=f"username,role,territory\n{by.username},engineer,N\n",
        turnouts=RAILWAY["turnouts"].replace("Gate by the bridge", "Anywhere"),
    )

    report = bring_in(by, files)

    assert {fault.sheet for fault in report.faults} == {"role_grants", "turnouts"}
    assert Turnout.objects.get().access == "Gate by the bridge"
    assert Defect.objects.count() == 1
