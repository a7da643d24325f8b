"""Moving components, tonnage at each move, and changes of a turnout."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from tests import railway
from turnouts.access import Forbidden
from turnouts.analysis.terms import ComponentKind, Position
from turnouts.models import Component, Installation, Person, ShopVisit, Turnout
from turnouts.services.errors import Conflict, Refused
from turnouts.services.inventory import (
    facts_of,
    install_component,
    remove_component,
    return_from_shop,
    send_to_shop,
    update_turnout,
)
from turnouts.services.tonnage import carried

TODAY = date(2026, 3, 2)

pytestmark = pytest.mark.django_db


def install(by: Person, what: Component, at: Turnout, **values: Any) -> Installation:
    what.refresh_from_db()
    given = {"position": Position.FROG, "installed_on": date(2022, 1, 1)} | values
    return install_component(
        by=by, component=what, turnout=at, today=TODAY, expected_version=what.version, **given
    )


def remove(by: Person, what: Component, on: date) -> Installation:
    what.refresh_from_db()
    return remove_component(
        by=by,
        component=what,
        removed_on=on,
        reason="Worn out",
        today=TODAY,
        expected_version=what.version,
    )


def to_shop(by: Person, what: Component, on: date) -> ShopVisit:
    what.refresh_from_db()
    return send_to_shop(
        by=by,
        component=what,
        shop="Shop",
        arrived_on=on,
        work="Weld",
        today=TODAY,
        expected_version=what.version,
    )


def test_a_new_component_starts_at_no_tonnage(engineer: Person, spot: Turnout) -> None:
    assert install(engineer, railway.component(), spot).mgt_at_installation == 0


def test_tonnage_is_taken_at_removal_and_goes_with_the_component(
    engineer: Person, spot: Turnout
) -> None:
    # 12 MGT a year over both routes for 1461 days, which are four years of 365.25 days: 48 MGT
    frog = railway.component()
    install(engineer, frog, spot, installed_on=date(2020, 1, 1))
    out = remove(engineer, frog, date(2024, 1, 1))
    assert out.mgt_at_removal == Decimal(48)
    again = install(engineer, frog, railway.turnout(spot.track), installed_on=date(2024, 6, 1))
    assert again.mgt_at_installation == Decimal(48)


def test_tonnage_of_a_standing_component_counts_on(engineer: Person, spot: Turnout) -> None:
    frog = railway.component()
    install(engineer, frog, spot, installed_on=date(2021, 1, 1))
    (stay,) = carried(frog, date(2025, 1, 1))
    assert stay.total_mgt == Decimal(48)


def test_unknown_traffic_is_said_and_never_counted_as_none(engineer: Person, spot: Turnout) -> None:
    frog = railway.component()
    install(engineer, frog, spot, installed_on=date(2019, 1, 1))
    (stay,) = carried(frog, TODAY)
    assert stay.total_mgt is None
    assert "known from 2020-01-01 only" in stay.why_not
    with pytest.raises(Refused, match="known from 2020-01-01 only"):
        remove(engineer, frog, TODAY)


def test_two_components_cannot_stand_in_one_position(engineer: Person, spot: Turnout) -> None:
    install(engineer, railway.component(), spot)
    with pytest.raises(Conflict, match="Another component stands in"):
        install(engineer, railway.component(), spot)


def test_a_component_goes_in_on_the_day_the_other_came_out(engineer: Person, spot: Turnout) -> None:
    first, second = railway.component(), railway.component()
    install(engineer, first, spot)
    remove(engineer, first, date(2024, 1, 1))
    stay = install(engineer, second, spot, installed_on=date(2024, 1, 1))
    assert stay.component == second


def test_a_component_cannot_stand_in_two_places(engineer: Person, spot: Turnout) -> None:
    frog = railway.component()
    install(engineer, frog, spot)
    with pytest.raises(Conflict, match="Take it out first"):
        install(engineer, frog, railway.turnout(spot.track))


def test_a_frog_does_not_fit_where_a_switch_point_goes(engineer: Person, spot: Turnout) -> None:
    with pytest.raises(Refused, match="takes a switch point"):
        install(engineer, railway.component(), spot, position=Position.LEFT_SWITCH_POINT)
    point = railway.component(ComponentKind.SWITCH_POINT)
    assert install(engineer, point, spot, position=Position.LEFT_SWITCH_POINT).pk


def test_nothing_is_installed_tomorrow(engineer: Person, spot: Turnout) -> None:
    assert install(engineer, railway.component(), spot, installed_on=TODAY).pk
    with pytest.raises(Refused, match="lies in the future"):
        install(engineer, railway.component(), spot, installed_on=date(2026, 3, 3))


def test_a_component_comes_out_after_it_went_in(engineer: Person, spot: Turnout) -> None:
    frog = railway.component()
    install(engineer, frog, spot, installed_on=date(2024, 1, 1))
    with pytest.raises(Refused, match="later day"):
        remove(engineer, frog, date(2024, 1, 1))
    assert remove(engineer, frog, date(2024, 1, 2)).removed_on == date(2024, 1, 2)


def test_what_does_not_stand_cannot_be_taken_out(engineer: Person) -> None:
    with pytest.raises(Conflict, match="stands in no turnout"):
        remove(engineer, railway.component(), TODAY)


def test_a_component_in_track_cannot_go_to_the_shop(engineer: Person, spot: Turnout) -> None:
    frog = railway.component()
    install(engineer, frog, spot)
    with pytest.raises(Conflict, match="Take it out first"):
        to_shop(engineer, frog, TODAY)


def test_a_component_in_the_shop_cannot_go_into_track_until_it_left(
    engineer: Person, spot: Turnout
) -> None:
    frog = railway.component()
    to_shop(engineer, frog, date(2024, 1, 1))
    with pytest.raises(Conflict, match="Note its return first"):
        install(engineer, frog, spot, installed_on=date(2024, 6, 1))
    frog.refresh_from_db()
    visit = return_from_shop(
        by=engineer,
        component=frog,
        left_on=date(2024, 3, 1),
        work="Point built up",
        today=TODAY,
        expected_version=frog.version,
    )
    assert (visit.left_on, visit.work) == (date(2024, 3, 1), "Point built up")
    assert install(engineer, frog, spot, installed_on=date(2024, 3, 1)).pk


def test_a_component_leaves_the_shop_after_it_arrived(engineer: Person) -> None:
    frog = railway.component()
    to_shop(engineer, frog, date(2024, 1, 10))
    with pytest.raises(Refused, match="it cannot have left"):
        return_from_shop(
            by=engineer,
            component=frog,
            left_on=date(2024, 1, 9),
            work="",
            today=TODAY,
            expected_version=2,
        )


def test_two_people_who_move_one_component_cannot_both_succeed(
    engineer: Person, spot: Turnout
) -> None:
    frog = railway.component()
    seen = frog.version
    install(engineer, frog, spot)
    with pytest.raises(Conflict, match="changed by somebody else"):
        remove_component(
            by=engineer,
            component=frog,
            removed_on=TODAY,
            reason="",
            today=TODAY,
            expected_version=seen,
        )


def test_a_refused_move_leaves_the_version_as_it_was(engineer: Person, spot: Turnout) -> None:
    frog = railway.component()
    with pytest.raises(Refused):
        install(engineer, frog, spot, position=Position.HEEL_PLATE)
    frog.refresh_from_db()
    assert frog.version == 1


def test_an_engineer_of_another_territory_moves_nothing(spot: Turnout) -> None:
    other = railway.person("engineer", railway.territory())
    with pytest.raises(Forbidden):
        install(other, railway.component(), spot)
    stay = railway.install(railway.component(), spot)
    with pytest.raises(Forbidden):
        remove(other, stay.component, TODAY)


def test_an_inspector_moves_nothing(inspector: Person, spot: Turnout) -> None:
    with pytest.raises(Forbidden):
        install(inspector, railway.component(), spot)


def test_a_turnout_moves_along_the_line_with_its_milepost(engineer: Person, spot: Turnout) -> None:
    moved = update_turnout(
        by=engineer,
        turnout=spot,
        facts=replace(facts_of(spot), milepost=Decimal("6.5"), access="Past the mill"),
        expected_version=1,
    )
    moved.refresh_from_db()
    assert moved.chainage_m == Decimal("10460.736")  # 6.5 miles of 1609.344 m
    assert (moved.access, moved.version) == ("Past the mill", 2)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"milepost": Decimal(90)}, "outside this line"),
        ({"frog_number": Decimal("1.99")}, "is not between"),
        ({"rail_section": "unheard of"}, "not in the table"),
        ({"speed_through_kmh": Decimal(0)}, "more than zero"),
        ({"faces": "upwards"}, "increasing or decreasing"),
    ],
)
def test_facts_that_cannot_be_are_refused_in_a_sentence(
    engineer: Person, spot: Turnout, change: dict[str, Any], sentence: str
) -> None:
    facts = replace(facts_of(spot), **change)
    with pytest.raises(Refused, match=sentence):
        update_turnout(by=engineer, turnout=spot, facts=facts, expected_version=1)


def test_the_smallest_frog_number_is_taken(engineer: Person, spot: Turnout) -> None:
    facts = replace(facts_of(spot), frog_number=Decimal(2))
    kept = update_turnout(by=engineer, turnout=spot, facts=facts, expected_version=1)
    assert kept.frog_number == 2


def test_a_turnout_changed_meanwhile_is_not_overwritten(engineer: Person, spot: Turnout) -> None:
    facts = replace(facts_of(spot), access="One")
    update_turnout(by=engineer, turnout=spot, facts=facts, expected_version=1)
    with pytest.raises(Conflict, match="changed by somebody else"):
        update_turnout(
            by=engineer, turnout=spot, facts=replace(facts, access="Two"), expected_version=1
        )
    spot.refresh_from_db()
    assert spot.access == "One"
