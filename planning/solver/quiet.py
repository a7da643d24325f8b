"""HiGHS without a word: it greets on standard output when the first solver of a process is made."""

from __future__ import annotations

import os
from functools import cache

import highspy


def quiet_solver(seed: int) -> highspy.Highs:
    """A solver that prints nothing and, on one thread, repeats itself for a seed."""
    _hear_the_greeting()
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("random_seed", seed % 2_147_483_647)
    return solver


@cache
def _hear_the_greeting() -> None:
    """Make a first solver while standard output leads nowhere: no option comes before its words."""
    try:
        kept = os.dup(1)
    except OSError:  # no standard output to keep clean
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()  # type: ignore[no-untyped-call]
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
