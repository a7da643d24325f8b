"""Whether the analysis finds what was planted: ``python -m tests.benchmarks.planted --seeds 40``.

For each seed one railway with a bad batch, tight guards and hot welds, and one with nothing. Prints
how often each truth was found where it was put, and how often something was found where nothing
was, with the limits those shares truly lie in (Clopper-Pearson, 95 %).
"""

import argparse
from collections import Counter

from scipy.stats import binomtest

from tests.turnouts.analysis.planted_search import BATCH_NAMED, everything, nothing, search


def main() -> None:
    """Searches and prints."""
    parser = argparse.ArgumentParser(description="Whether planted truths are found.")
    parser.add_argument("--seeds", type=int, default=40)
    seeds = parser.parse_args().seeds
    hits, alarms = Counter[str](), Counter[str]()
    for seed in range(1, seeds + 1):
        there, quiet = search(seed, everything()), search(seed, nothing())
        names = {group.name for group in there.batches}
        hits.update(batch=BATCH_NAMED in names)
        hits.update(guards=there.tight_guards_chip, welds=there.hot_welds_differ)
        alarms.update({"another batch": bool(names - {BATCH_NAMED})})
        alarms.update(
            batch=bool(quiet.batches), guards=quiet.tight_guards_chip, welds=quiet.hot_welds_differ
        )
    _say("Found where it was put", hits, seeds)
    _say("Found where nothing was put", alarms, seeds)


def _say(title: str, counts: Counter[str], of: int) -> None:
    print(title)
    for name in sorted(counts):
        share = binomtest(counts[name], of).proportion_ci(method="exact")
        print(f"  {name:<16}{counts[name]:>4} of {of} ({share.low:.0%} to {share.high:.0%})")


if __name__ == "__main__":
    main()
