"""The search for planted truths: makes a railway, looks through it, and says what was found."""

import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from fixtures.make import make
from fixtures.planted import Planted
from tests.turnouts.analysis.railway import Frog, chips, frogs_of, observed, weld_lives
from turnouts.analysis.hints.hints import hints_for
from turnouts.analysis.ranking.groups import Group, Groups, compare_groups
from turnouts.analysis.ranking.offenders import Observed
from turnouts.analysis.recurrence.log_rank import By, LogRank, log_rank

TURNOUTS = 120
TODAY = date(2026, 11, 25)
BATCH = (date(2022, 1, 1), date(2022, 6, 30))
BATCH_NAMED = "2022/1"


def everything() -> Planted:
    """All three truths at once, each to be found in spite of the others."""
    return Planted(batch=BATCH, tight_guards=12, hot_share=0.25)


def nothing() -> Planted:
    """Pass temperatures are noted, but hot welds last like any other, and nothing else is bad."""
    return Planted(hot_share=0.25, hot_returns=0.0)


@dataclass(frozen=True)
class Found:
    """What the analysis says of one railway, at its usual levels of significance."""

    batches: tuple[Group, ...]
    tight_guards_chip: bool
    hot_welds_differ: bool
    hinted_guards: frozenset[str]
    hinted_welds: frozenset[str]
    frogs: tuple[Frog, ...]


def search(seed: int, planted: Planted) -> Found:
    """Makes the railway of a seed with what is planted, and analyses its files."""
    with tempfile.TemporaryDirectory() as folder:
        make(Path(folder), turnouts=TURNOUTS, seed=seed, planted=planted)
        frogs = frogs_of(Path(folder))
    batches, guards = compare_groups(_batches(frogs)), compare_groups(chips(frogs))
    welds = log_rank(By.HEAT, weld_lives(frogs))
    hinted = [(f, h) for f in frogs for h in hints_for(f.facts, TODAY).hints]
    return Found(
        batches=tuple(g for g in batches.groups if g.differs)
        if isinstance(batches, Groups)
        else (),
        tight_guards_chip=isinstance(guards, Groups)
        and any(g.differs and g.name == "tight" for g in guards.groups),
        hot_welds_differ=isinstance(welds, LogRank) and welds.p_value < 0.05,
        hinted_guards=frozenset(f.turnout for f, h in hinted if h.rule.rule == "chip-tight-guard"),
        hinted_welds=frozenset(
            h.defect.reference for _, h in hinted if h.rule.rule == "spall-hot-weld"
        ),
        frogs=tuple(frogs),
    )


def _batches(frogs: list[Frog]) -> dict[str, list[Observed]]:
    """Frogs by the half-year they were made in."""
    rows, batches = observed(frogs), dict[str, list[Observed]]()
    for frog in frogs:
        row = rows.get(f"{frog.serial} {frog.turnout}")
        if row is not None:
            batches.setdefault(frog.half_year, []).append(row)
    return batches
