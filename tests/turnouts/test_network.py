"""The network at a glance: what is picked out, drawn, listed, and said to programs."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.timezone import localdate

from tests import railway
from turnouts import what_holds
from turnouts.models import ComponentRank, EarlyWarning, Milepost, Turnout
from turnouts.pages.line_drawing import LEAST_APART, LineDrawing, line_drawing
from turnouts.services.network import LineOverview, Show, Spot, overview_of
from turnouts.what_holds import Held

pytestmark = pytest.mark.django_db

TODAY = date(2026, 4, 1)
MILE_M = railway.MILE_M


def at_miles(spot: Turnout, *miles: str) -> list[Turnout]:
    return [railway.turnout(spot.track, mile=mile) for mile in miles]


def only(spot: Turnout) -> LineOverview:
    (line,) = overview_of(railway.person("engineer"), spot.territory, TODAY)
    return line


@pytest.fixture
def saying(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[int, Held]]:
    """What the rules say, instead of asking the app that knows them."""
    said: dict[int, Held] = {}

    def provider(turnouts: Sequence[Turnout], on: date) -> Mapping[int, Held]:
        return {row.pk: said[row.pk] for row in turnouts if row.pk in said}

    monkeypatch.setattr(what_holds, "_providers", [provider])
    return said


def offending(spot: Turnout) -> None:
    frog = railway.component()
    railway.install(frog, spot)
    ComponentRank.objects.create(
        component=frog, turnout=spot, family="Frog", events=9, expected=2, relative=3, low=1.5,
        high=5, chance_worse=0.99, chance_twice=0.8, repeat_offender=True, made_on=TODAY,
    )  # fmt: skip


def warned(spot: Turnout, stands_on: date = TODAY) -> None:
    frog = railway.component()
    EarlyWarning.objects.create(
        component=frog, turnout=spot, quantity="tread_wear", clause="49 CFR 213.137(c)",
        limit_mm="9.525", least=False, next_look_on=TODAY, chance_now=0.2, chance=0.6, level_mm=9.7,
        readings=8, made_on=stands_on, stands_on=stands_on,
    )  # fmt: skip


def test_each_turnout_is_in_what_it_belongs_to_and_in_nothing_else(
    spot: Turnout, saying: dict[int, Held]
) -> None:
    slow, due, bad, near, free = at_miles(spot, "6", "7", "8", "9", "10")
    saying[slow.pk] = Held("restricted", Decimal("16.09344"))
    saying[due.pk] = Held(repair_due=TODAY + timedelta(days=7))
    saying[free.pk] = Held(repair_due=TODAY + timedelta(days=8))
    offending(bad)
    warned(near)
    found = {
        show: [s.turnout.code for s in only(spot).spots if s.is_in(show)]
        for show in Show
        if show is not Show.ALL
    }
    assert found == {
        Show.RESTRICTED: [slow.code],
        Show.DUE: [due.code],
        Show.REPEAT: [bad.code],
        Show.WARNED: [near.code],
    }


def test_a_warning_that_the_last_night_did_not_stand_by_is_over(spot: Turnout) -> None:
    other = railway.turnout(spot.track)
    warned(spot, TODAY - timedelta(days=1))
    warned(other)
    by_code = {s.turnout.code: s.warnings for s in only(spot).spots}
    assert by_code == {spot.code: 0, other.code: 1}


def test_an_inspection_wanted_before_trains_run_is_due(
    spot: Turnout, saying: dict[int, Held]
) -> None:
    saying[spot.pk] = Held(inspect_now=True)
    assert only(spot).spots[0].due_soon


def drawn(spot: Turnout, show: Show = Show.ALL) -> LineDrawing:
    found = line_drawing(only(spot), show, lambda s: ("", s.turnout.code))
    assert found is not None
    return found


def test_turnouts_are_drawn_in_their_order_and_never_on_one_another(spot: Turnout) -> None:
    at_miles(spot, "5", "5.01", "19", "0.5")
    marks = drawn(spot).marks
    assert marks[0].code != spot.code  # half a mile comes before five
    assert all(after.y - before.y >= LEAST_APART for before, after in pairwise(marks))


def test_a_post_is_drawn_between_the_turnouts_it_stands_between(spot: Turnout) -> None:
    at_miles(spot, "11")
    posts = {post.words: post.y for post in drawn(spot).posts}
    first, last = (mark.y for mark in drawn(spot).marks)
    between = [y for words, y in posts.items() if 5 < Decimal(words) < 11]
    assert between
    assert all(first < y < last for y in between)
    assert all(y <= first for words, y in posts.items() if Decimal(words) <= 5)


def test_a_line_without_posts_is_drawn_too(spot: Turnout) -> None:
    Milepost.objects.all().delete()
    at_miles(spot, "6")
    assert len(drawn(spot).marks) == 2
    assert drawn(spot).posts == []


def test_what_is_not_picked_out_is_drawn_small(spot: Turnout, saying: dict[int, Held]) -> None:
    (slow,) = at_miles(spot, "6")
    saying[slow.pk] = Held("stop")
    found = drawn(spot, Show.RESTRICTED)
    assert [(mark.code, mark.shape) for mark in found.marks] == [(slow.code, "square")]
    assert [mark.code for mark in found.small] == [spot.code]


def test_a_siding_has_a_rail_of_its_own(spot: Turnout) -> None:
    siding = railway.track(spot.track.line, "Siding 1", "siding")
    railway.turnout(siding, mile="6")
    found = drawn(spot)
    assert [rail.name for rail in found.rails] == ["Main", "Siding 1"]
    assert len({mark.x for mark in found.marks}) == 2


def text(client: Client, where: str) -> str:
    return " ".join(client.get(where).content.decode().split())


def test_the_page_says_the_restriction_in_the_readers_units(
    as_engineer: Client, spot: Turnout, saying: dict[int, Held]
) -> None:
    saying[spot.pk] = Held("restricted", Decimal("16.09344"), repair_due=localdate())
    page = text(as_engineer, "/network/")
    assert f"10 mph, due {localdate():%d %b}" in page
    assert "Of 1 turnout:" in page
    assert f'href="/turnouts/{spot.code}/"' in page
    assert "1 under a restriction" in page


def test_the_page_picks_out_and_the_table_says_the_same(
    as_engineer: Client, spot: Turnout, saying: dict[int, Held]
) -> None:
    (slow,) = at_miles(spot, "6")
    saying[slow.pk] = Held("stop")
    page = text(as_engineer, "/network/?show=restricted")
    assert page.count(f"/turnouts/{slow.code}/") == 2  # in the drawing and in the table
    assert f"/turnouts/{spot.code}/" not in page
    assert "1 of 2 turnouts" in page


def test_it_is_a_table_for_a_spreadsheet(
    as_engineer: Client, spot: Turnout, saying: dict[int, Held]
) -> None:
    saying[spot.pk] = Held("restricted", Decimal("16.09344"))
    at_miles(spot, "6")
    head, *rows = csv.reader(as_engineer.get("/network/table.csv").content.decode().splitlines())
    assert len(rows) == 2
    said = dict(zip(head, rows[0], strict=True))
    assert (said["turnout"], said["traffic"], said["speed_kmh"]) == (
        spot.code, "restricted", "16.09344"
    )  # fmt: skip


def test_another_territory_is_not_there(client: Client, spot: Turnout) -> None:
    other = railway.turnout()
    client.force_login(railway.person("engineer", other.territory))
    page = text(client, "/network/")
    assert spot.code not in page
    assert other.code in page
    asked = client.get(f"/network/?territory={spot.territory.code}")
    assert asked.status_code == 400
    assert "or it is not yours to see" in asked.content.decode()
    assert client.get(f"/api/network/{spot.territory.code}/").status_code == 404
    assert overview_of(railway.person("welder", other.territory), spot.territory, TODAY) == []


def test_who_may_see_nothing_is_refused(client: Client, spot: Turnout) -> None:
    client.force_login(railway.person())
    assert client.get("/network/").status_code == 403
    assert client.get(f"/api/network/{spot.territory.code}/").status_code == 403


def test_a_program_reads_the_same(
    as_engineer: Client, spot: Turnout, saying: dict[int, Held]
) -> None:
    saying[spot.pk] = Held("restricted", Decimal("16.09344"))
    (line,) = as_engineer.get(f"/api/network/{spot.territory.code}/").json()
    assert line["line"] == spot.track.line.code
    assert len(line["mileposts"]) == 21
    (one,) = line["turnouts"]
    assert (one["turnout"], one["traffic"]) == (spot.code, "restricted")
    assert Decimal(one["speed_kmh"]) == Decimal("16.09344")


def test_it_asks_as_often_for_many_turnouts_and_lines_as_for_few(
    as_engineer: Client, spot: Turnout
) -> None:
    counts = []
    for more in (3, 20):
        for _ in range(more):
            railway.spalled_frog(railway.turnout(spot.track))
            railway.turnout(railway.track(railway.line(spot.territory)))
        as_engineer.get("/network/")
        with CaptureQueriesContext(connection) as asked:
            assert as_engineer.get("/network/").status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_spot_with_nothing_to_say_is_not_due(spot: Turnout, saying: dict[int, Held]) -> None:
    found: Spot = only(spot).spots[0]
    assert found.due_on is None
    assert not found.due_soon
