"""Who may do what, and where."""

import pytest

from tests import railway
from turnouts.access import ALLOWED, Action, Forbidden, may, require, visible
from turnouts.analysis.terms import Role
from turnouts.models import Component, Defect, Installation, ShopVisit, Territory, Turnout

pytestmark = pytest.mark.django_db


def test_a_grant_holds_in_its_territory_and_nowhere_else() -> None:
    here, there = railway.territory(), railway.territory()
    inspector = railway.person("inspector", here)
    assert may(inspector, Action.REPORT, here)
    assert not may(inspector, Action.REPORT, there)


def test_a_grant_without_territory_holds_everywhere() -> None:
    assert may(railway.person("supervisor"), Action.PLAN, railway.territory())


def test_somebody_without_a_role_sees_nothing() -> None:
    railway.turnout()
    assert not visible(railway.person(), Turnout.objects.all()).exists()


def test_somebody_who_left_may_do_nothing() -> None:
    here = railway.territory()
    gone = railway.person("engineer", here, is_active=False)
    assert not any(may(gone, action, here) for action in Action)


@pytest.mark.parametrize("action", list(Action))
def test_an_action_is_for_the_roles_of_the_table_only(action: Action) -> None:
    here = railway.territory()
    allowed = {role for role in Role if may(railway.person(role, here), action, here)}
    assert allowed == ALLOWED[action]


def test_a_refusal_says_what_where_and_which_role_it_takes() -> None:
    here = railway.territory()
    with pytest.raises(Forbidden) as refused:
        require(railway.person("welder", here), Action.PLAN, here)
    assert str(refused.value) == (
        f"You may not plan the week in {here.name}. It takes one of these roles: supervisor."
    )


def test_rows_of_another_territory_do_not_exist_for_a_reader() -> None:
    mine, other = railway.spalled_frog(), railway.spalled_frog()
    reader = railway.person("inspector", mine.turnout.territory)
    assert [*visible(reader, Defect.objects.all())] == [mine]
    assert [*visible(reader, Turnout.objects.all())] == [mine.turnout]
    assert [*visible(reader, Territory.objects.all())] == [mine.turnout.territory]
    assert other.component not in visible(reader, Component.objects.all())


def test_a_component_is_seen_wherever_it_has_stood_and_listed_once() -> None:
    first, second = railway.turnout(), railway.turnout()
    frog = railway.component()
    railway.install(frog, first, removed_on=railway.VISIT.date())
    railway.install(frog, second, installed_on=railway.VISIT.date())
    for spot in (first, second):
        reader = railway.person("engineer", spot.territory)
        assert [*visible(reader, Component.objects.all())] == [frog]


def test_a_shop_visit_is_seen_with_its_component_and_listed_once() -> None:
    here = railway.turnout()
    frog = railway.component()
    railway.install(frog, here, removed_on=railway.SINCE.replace(year=2021))
    railway.install(frog, here, installed_on=railway.SINCE.replace(year=2022))
    visit = ShopVisit.objects.create(
        component=frog, shop="Shop", arrived_on=railway.SINCE.replace(year=2021), work="Ground"
    )
    reader = railway.person("engineer", here.territory)
    assert [*visible(reader, ShopVisit.objects.all())] == [visit]
    elsewhere = railway.person("engineer", railway.territory())
    assert not visible(elsewhere, ShopVisit.objects.all()).exists()


def test_a_component_that_never_stood_anywhere_is_seen_by_everybody_with_a_role() -> None:
    spare = railway.component()
    assert spare in visible(
        railway.person("engineer", railway.territory()), Component.objects.all()
    )
    assert spare not in visible(railway.person(), Component.objects.all())


def test_the_right_asked_for_decides_where_rows_are_seen() -> None:
    here, there = railway.turnout(), railway.turnout()
    both = railway.person("engineer", here.territory)
    railway.grant(both, Role.WELDER, there.territory)
    assert visible(both, Turnout.objects.all()).count() == 2
    assert [*visible(both, Turnout.objects.all(), Action.EDIT_INVENTORY)] == [here]


def test_a_row_that_names_no_territory_is_a_fault_and_never_shown() -> None:
    reader = railway.person("inspector", railway.territory())
    with pytest.raises(LookupError):
        visible(reader, type(reader).objects.all())
    assert not visible(reader, Installation.objects.all()).exists()
