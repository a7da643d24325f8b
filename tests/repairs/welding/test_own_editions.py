"""The railway's own editions: laid over a shipped one, in force from their day, checked alike."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from repairs.welding.estimate import estimate
from repairs.welding.own_editions import Change, OwnEdition, laid_over
from repairs.welding.procedure_files import InterpassRule
from repairs.welding.procedures import procedure_in_force, procedures_for
from repairs.welding.refusals import NoProcedure, RowRefusal
from repairs.welding.rows_toml import Mark
from repairs.welding.work import Conditions, RepairWork
from turnouts.analysis.terms import ComponentKind, Steel

SHIPPED = date(2026, 1, 1)
START = date(2026, 6, 1)
RICHER = (
    Change("deposit_rate_kg_per_h", 5.0, "Weighed on four frogs"),
    Change("wire_feed_m_per_min", 2.55, "Read from the feeder"),
)


def own(*changes: Change, **values: Any) -> OwnEdition:
    given: dict[str, Any] = {
        "id": 7,
        "procedure": "manganese-wire",
        "base_since": SHIPPED,
        "start": START,
        "changes": changes,
        "interpass": "us-practice",
    }
    return OwnEdition(**(given | values))


def railways(limit: float, place: float = 25.0, note: str = "Our own trial") -> InterpassRule:
    return InterpassRule("railway", limit, place, Mark.RAILWAY, "", note)


def test_an_own_edition_governs_from_its_first_day_and_not_a_day_earlier() -> None:
    editions = [own(*RICHER)]
    before = procedure_in_force("manganese-wire", START - timedelta(days=1), editions)
    after = procedure_in_force("manganese-wire", START, editions)
    assert (before.start, before.own_edition) == (SHIPPED, None)
    assert before.settings.deposit_rate_kg_per_h == 4.5
    assert (after.start, after.own_edition) == (START, 7)
    assert after.settings.deposit_rate_kg_per_h == 5.0


def test_of_several_own_editions_the_one_that_began_last_governs() -> None:
    later = own(*RICHER, id=8, start=START + timedelta(days=30))
    editions = [later, own()]
    assert procedure_in_force("manganese-wire", later.start, editions).own_edition == 8
    assert procedure_in_force("manganese-wire", START, editions).own_edition == 7


def test_an_own_edition_of_another_procedure_changes_nothing() -> None:
    assert procedure_in_force("manganese-stick", START, [own(*RICHER)]).own_edition is None


def test_unchanged_rows_stay_as_shipped_and_changed_ones_say_whose_they_are() -> None:
    shipped, laid = procedure_in_force("manganese-wire", START), laid_over(own(*RICHER))
    changed = {key for key in laid.rows if laid.rows[key] != shipped.rows[key]}
    assert changed == {"deposit_rate_kg_per_h", "wire_feed_m_per_min"}
    row = laid.rows["deposit_rate_kg_per_h"]
    assert (row.mark, row.note) == (Mark.RAILWAY, "Weighed on four frogs")
    assert "deposit rate" in " ".join(shipped.assumptions())
    assert "deposit rate" not in " ".join(laid.assumptions())


def test_the_order_of_procedures_follows_the_railways_deposit_rate() -> None:
    slow = own(
        Change("deposit_rate_kg_per_h", 1.4, "Short arc time at night"),
        Change("wire_feed_m_per_min", 0.7, "Slow feeder"),
    )
    found = procedures_for(Steel.MANGANESE, ComponentKind.FROG, START, [slow])
    assert [p.id for p in found] == ["manganese-stick", "manganese-wire"]


def test_the_estimate_follows_the_own_edition(frog_work: RepairWork, mild: Conditions) -> None:
    shipped = procedure_in_force("manganese-wire", START)
    before, after = (estimate(frog_work, p, mild, 1) for p in (shipped, laid_over(own(*RICHER))))
    assert after.procedure_since == START
    # 4.5 to 5.0 kg/h: the same metal in nine tenths of the arc time.
    assert after.arc_min == pytest.approx(before.arc_min * 4.5 / 5.0)


def test_another_listed_interpass_rule_may_be_chosen() -> None:
    laid = laid_over(own(interpass="weld-note-2001"))
    assert (laid.interpass.limit_degc, laid.interpass.place_mm) == (250, 12)


def test_the_railways_own_rule_stands_beside_those_listed() -> None:
    laid = laid_over(own(interpass=railways(200)))
    assert laid.interpass == railways(200)
    assert [rule.key for rule in laid.interpass_rules][-2:] == ["foundry-repair", "railway"]


@pytest.mark.parametrize(
    ("edition", "sentence"),
    [
        (own(Change("current_a", 3300.0, "x")), "current_a: 3300 A is outside 30 to 600; check"),
        (own(Change("curent_a", 300.0, "x")), "curent_a is not a setting; respell or remove"),
        (own(Change("rod_length_mm", 355.0, "x")), "rod_length_mm is not a setting"),
        (own(Change("current_a", "much", "x")), "holds 'much' where a number is needed"),
        (own(Change("current_a", 310.0, " ")), "say why the railway sets it otherwise"),
        (own(Change("deposit_rate_kg_per_h", 8.0, "x")), "far from the deposit rate of 8 kg/h"),
        (own(Change("developing_min", 9.0, "x")), "developing time is under its published least"),
        (own(Change("developing_floor_min", 5.0, "x")), "not the railway's own"),
        (own(Change("preheat_max_degc", 101.0, "x")), "manganese steel is not preheated"),
        (own(Change("top_layers", ("long", "short"), "x")), "the last layer must be long"),
        (own(Change("cooling", "water", "x")), "cooling: use one of air_quench, still_air"),
        (own(interpass="mine"), "mine is not listed"),
        (own(interpass=railways(5)), "5 degC is outside 40 to 600"),
        (own(interpass=railways(260, 300)), "300 mm is outside 0 to 200"),
        (own(interpass=railways(260, note=" ")), "say why the railway sets its own"),
        (own(Change("preheat_min_degc", 50.0, "x"), interpass=railways(50)), "not above the pre"),
    ],
)
def test_what_cannot_stand_is_refused_with_the_readers_sentence(
    edition: OwnEdition, sentence: str
) -> None:
    with pytest.raises(RowRefusal) as refusal:
        laid_over(edition)
    assert sentence in str(refusal.value)


@pytest.mark.parametrize(
    ("key", "word"), [("cooling", "air_quench"), ("after_weld", "cool_to_touch")]
)
def test_rail_steel_is_never_quenched(key: str, word: str) -> None:
    # US DoD guide specification 14606N: post-heat at once, then slow cooling.
    edition = own(Change(key, word, "Faster"), procedure="carbon-wire", interpass="rail-practice")
    with pytest.raises(RowRefusal, match="rail steel hardens when it cools fast"):
        laid_over(edition)


def test_the_preheat_of_manganese_steel_is_held_on_both_sides_of_its_limit() -> None:
    # 100 degC, the coldest interpass ceiling listed (a foundry's repair procedure).
    laid = laid_over(own(Change("preheat_max_degc", 100.0, "Wet castings")))
    assert laid.settings.preheat_max_degc == 100


def test_a_shipped_edition_that_is_not_on_file_is_said_so() -> None:
    with pytest.raises(NoProcedure, match="starts on 2025-01-01 on file"):
        laid_over(replace(own(), base_since=date(2025, 1, 1)))
