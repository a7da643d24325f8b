"""What like components have in common: worked out from all of them, kept, and read again."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from tests import railway
from tests.turnouts.test_component_file import (
    TODAY,
    file_of,
    night,
    records_since,
    repaired,
    worn,
)
from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.wear.family import Family
from turnouts.models import Component, Turnout
from turnouts.services.component_file import with_history
from turnouts.services.component_rows import lives_of, records_begin
from turnouts.services.family_figures import figures_of, keep, work_out
from turnouts.services.repair_lives import first_life

pytestmark = pytest.mark.django_db


def test_the_family_counts_all_that_stood_in_track_also_those_taken_out(spot: Turnout) -> None:
    taken_out = worn(railway.turnout(spot.track), ["1.0", "1.2"])
    taken_out.installations.update(removed_on=date(2026, 6, 1), mgt_at_removal=Decimal(80))
    frog = worn(spot, ["2.0"])
    railway.component()  # never stood anywhere
    night()
    family = file_of(frog).family
    assert family is not None
    assert (family.components, family.on) == (2, TODAY)


def test_figures_kept_over_night_are_those_worked_out(spot: Turnout) -> None:
    records_since(spot)
    frogs = []
    for place in range(8):
        here = railway.turnout(spot.track)
        frog = worn(here, [f"{place / 10 + step * (0.3 + place / 100):.2f}" for step in range(5)])
        for days in range(50 + 10 * place, 1200, 250 + 10 * place):
            repaired(frog, here, days_ago=days)
        frogs.append(frog.pk)
    rows = with_history(Component.objects.filter(pk__in=frogs))
    lives, _ = lives_of(rows, TODAY)
    worked_out = work_out(list(lives.values()), records_begin(), TODAY)
    keep(("frog", rows[0].design, rows[0].steel), worked_out).save()
    kept = figures_of(rows[0])
    assert kept is not None
    assert kept.components == 8
    assert kept.lasting == worked_out.lasting
    assert kept.welds == worked_out.welds
    assert kept.first == worked_out.first
    assert not isinstance(kept.lasting, NotEnough)
    assert kept.mean == worked_out.mean  # fewer steps than are drawn: none is left out
    for place, family in worked_out.wear.items():
        again = kept.wear[place]
        assert isinstance(family, Family)
        assert isinstance(again, Family)
        assert (again.mean == family.mean).all()
        assert (again.between == family.between).all()
        assert (again.sd, again.degrees) == (family.sd, family.degrees)


def test_a_new_component_lives_until_its_first_defect_of_lost_metal(spot: Turnout) -> None:
    """12 MGT a year; put in after the records began, a spall 365 days later."""
    records_since(spot, days_ago=1500)
    old, new = railway.component(), railway.component()
    railway.install(old, spot)
    other = railway.turnout(spot.track)
    day = (railway.VISIT - timedelta(days=1000)).date()
    railway.install(new, other, installed_on=day)
    repaired(new, other, days_ago=635)
    rows = with_history(Component.objects.filter(pk__in=[old.pk, new.pk]))
    lives, _ = lives_of(rows, TODAY)
    begins = records_begin()
    assert first_life(lives[old.pk], begins, TODAY) is None
    first = first_life(lives[new.pk], begins, TODAY)
    assert first is not None
    assert first.failed
    assert first.mgt == pytest.approx(lives[new.pk].clock.mgt_a_year * 365.4 / 365.25, rel=0.01)
