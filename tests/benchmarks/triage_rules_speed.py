"""How long the rules alone take: no database, no queue, one core.

    .venv/bin/python -m tests.benchmarks.triage_rules_speed --defects 20000

Prints processor seconds of deciding under one rule set and under all, and of comparing the rules
with an edition in which a due date, a limit, a choice or several of them are other. The cases are
made by chance from a fixed seed.
"""

import argparse
import random
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from time import process_time

from repairs.triage.all_sets import decide_all
from repairs.triage.compare import compare
from repairs.triage.facts import Case, ComponentFacts, DefectFacts, Reading, TrackFacts
from repairs.triage.owner import OwnerChange, owner_rules
from repairs.triage.owner_figures import Figure
from repairs.triage.rules import RuleSet, federal_rules, rule_sets
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    FrogDesign,
    Orientation,
    Quantity,
    Steel,
    Zone,
)

DAY = date(2026, 11, 20)
AROUND = {
    Quantity.FLANGEWAY_DEPTH: (34, 48),
    Quantity.FLANGEWAY_WIDTH: (36, 50),
    Quantity.GUARD_CHECK_GAGE: (1374, 1395),
    Quantity.GUARD_FACE_GAGE: (1335, 1354),
    Quantity.POINT_WEAR_DEPTH: (0, 20),
    Quantity.TREAD_WEAR: (0, 14),
    Quantity.TRACK_GAGE: (1425, 1470),
    Quantity.HORN_CLEARANCE: (2, 8),
    Quantity.POINT_FIT_GAP: (0, 8),
}
DUE = ("owner/due-weld-low", Figure.DAYS, "9")
TREAD = ("213.137(c)", Figure.LIMIT, "6")
CHECK = ("213.143(a)/check", Figure.LIMIT, "1390")
DEEP = ("owner/shop-too-deep", Figure.DEPTH_OVER, "20")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--defects", type=int, default=20_000)
    rng = random.Random(7)
    cases = [_case(rng) for _ in range(parser.parse_args().defects)]
    rules = federal_rules()
    sets = tuple(rule_sets().values())
    _measure("decided, one set", lambda: [decide_all(case, (rules,)) for case in cases])
    _measure("decided, three sets", lambda: [decide_all(case, sets) for case in cases])
    for name, changes in {
        "a due date": [DUE],
        "a limit": [TREAD],
        "a choice": [DEEP],
        "limits and a due date": [TREAD, CHECK, DUE],
    }.items():
        edition = _edited(rules, changes)
        _measure(f"compared, {name} other", lambda e=edition: compare(cases, rules, e))  # type: ignore[misc]


def _measure(name: str, work: Callable[[], Sequence[object]]) -> None:
    start = process_time()
    found = work()
    print(f"{name}: {process_time() - start:.1f} s, {len(found)} answers", flush=True)


def _edited(rules: RuleSet, changes: list[tuple[str, Figure, str]]) -> RuleSet:
    since = date(2026, 1, 1)
    made = (OwnerChange(r, f, Decimal(v), since, "measured here") for r, f, v in changes)
    return owner_rules(rules, tuple(made))


def _case(rng: random.Random) -> Case:
    kind = rng.choice([*[ComponentKind.FROG] * 5, *ComponentKind])
    readings = tuple(
        Reading(
            quantity,
            Decimal(rng.randint(low * 16, high * 16)) / 16,
            DAY - timedelta(days=rng.randint(0, 40)),
            "made by chance",
            Decimal("0.5"),
        )
        for quantity, (low, high) in AROUND.items()
        if rng.random() < 0.8
    )
    defect = DefectFacts(
        rng.choice(list(DefectKind)),
        rng.choice(list(Zone)),
        length_mm=Decimal(rng.randint(5, 400)),
        depth_mm=Decimal(rng.randint(1, 400)) / 10,
        uncertainty_mm=Decimal("0.5"),
        orientation=rng.choice([None, *Orientation]),
        reaches_edge=False,
        reaches_base=rng.choice([None, False, False, True]),
    )
    frog = kind is ComponentKind.FROG
    design = rng.choice(list(FrogDesign)) if frog else None
    component = ComponentFacts(
        kind, design, rng.choice(list(Steel)), earlier_welds_here=rng.randint(0, 4)
    )
    track = TrackFacts(rng.choice([1, 2, 3, 4, 5]))
    return Case(component, defect, readings, track, DAY, DAY)


if __name__ == "__main__":
    main()
