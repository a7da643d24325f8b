"""What will reach a limit before anybody looks again."""

from datetime import date

import numpy as np
import pytest

from turnouts.analysis.early_warning import Watched, look_ahead
from turnouts.analysis.wear.limits import Limit, chance_by
from turnouts.analysis.wear.runs import Reading, Run
from turnouts.analysis.wear.wear import Now, Wear, family_beside, wear_of

LIMIT = Limit(9.525, rising=True, name="3/8 in")


def run(key: str, rate: float, seed: int, readings: int = 10, upto: float = 40.0) -> Run:
    rng = np.random.default_rng(seed)
    at = np.linspace(1, upto, readings)
    values = 1 + rate * at + rng.normal(0, 0.2, readings)
    pairs = zip(at, values, strict=True)
    return Run(key, 0.0, tuple(Reading(float(x), float(y)) for x, y in pairs))


def watched(one: Run, family: str = "frogs", now: float = 42.0, look: float = 47.0) -> Watched:
    return Watched(one, family, LIMIT, now, look)


def railway(members: int = 30) -> list[Watched]:
    rng = np.random.default_rng(1)
    return [watched(run(f"T{n}", 0.1 + 0.02 * rng.normal(), n)) for n in range(members)]


def test_the_one_that_wears_fast_is_warned_of_and_nobody_else() -> None:
    night = look_ahead([*railway(), watched(run("bad", 0.19, 77))], least_sd=0.1)
    assert [w.key for w in night.warnings] == ["bad"]
    # 1 + 0.19 x 47 = 9.93 mm at the next look, 0.4 past the limit
    assert night.warnings[0].chance_by_next_look > 0.9
    assert night.looked_at == 31
    assert "1 of 31" in night.sentence


def test_a_quiet_railway_raises_no_warning() -> None:
    night = look_ahead(railway(), least_sd=0.1)
    assert night.warnings == ()
    assert "none is likely" in night.sentence


def test_the_chances_are_those_of_the_single_look_at_each_component() -> None:
    everyone = [*railway(), watched(run("bad", 0.19, 77))]
    night = look_ahead(everyone, least_sd=0.1)
    others = [one.run for one in everyone[:-1]]
    family = family_beside([everyone[-1].run, *others], 0.1)
    alone = wear_of(
        everyone[-1].run, family, [LIMIT], Now(42, date(2026, 11, 25), 20), least_sd=0.1
    )
    assert isinstance(alone, Wear)
    assert night.warnings[0].chance_by_next_look == pytest.approx(
        chance_by(alone.line, LIMIT, 42, 47), abs=1e-6
    )


def test_a_component_just_below_the_line_is_not_raised_and_just_above_is() -> None:
    everyone = [*railway(), watched(run("bad", 0.17, 77))]
    chance = look_ahead(everyone, least_sd=0.1, raised_from=1e-9).warnings[0].chance_by_next_look
    assert look_ahead(everyone, least_sd=0.1, raised_from=chance).warnings[0].key == "bad"
    above = look_ahead(everyone, least_sd=0.1, raised_from=chance * 1.000001)
    assert "bad" not in {w.key for w in above.warnings}


def test_a_small_family_is_looked_at_one_by_one_and_short_records_are_named() -> None:
    few = [watched(run(f"S{n}", 0.1, n), "spring frogs") for n in range(3)]
    short = watched(run("short", 0.1, 9, readings=3), "spring frogs")
    night = look_ahead([*few, short], least_sd=0.1)
    assert night.looked_at == 3
    assert night.not_enough == ("short",)


def test_finished_runs_tell_how_a_new_frog_will_wear() -> None:
    gone = [("frogs", one.run) for one in railway()]
    fresh = watched(run("new", 0.1, 5, readings=1, upto=5.0), now=80.0, look=90.0)
    night = look_ahead([fresh], gone, least_sd=0.1)
    # 1 + 0.1 x 90 = 10 mm: a frog like the others is worn by then, one reading or not
    assert night.warnings[0].key == "new"


def test_about_as_many_reach_their_limit_as_expected() -> None:
    rng = np.random.default_rng(3)
    rates = 0.1 + 0.03 * rng.normal(size=300)
    everyone = [watched(run(f"T{n}", rate, n), now=60.0, look=80.0) for n, rate in enumerate(rates)]
    night = look_ahead(everyone, least_sd=0.1)
    truly = int((1 + rates * 80 >= 9.525).sum())
    assert night.expected == pytest.approx(truly, abs=12)


def test_a_next_look_in_the_past_is_refused() -> None:
    with pytest.raises(ValueError, match="between the reset and the next look"):
        watched(run("A", 0.1, 1), now=50.0, look=49.9)
