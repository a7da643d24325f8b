"""The life of a defect: which state may follow which.

A defect is never deleted. ``closed`` and ``replaced`` end it; a failed proof sends it back to work,
also where a record put right later shows that it failed.
"""

from turnouts.analysis.terms import DefectState as S

NEXT_STATES: dict[S, frozenset[S]] = {
    S.REPORTED: frozenset({S.TRIAGED, S.REPLACED}),
    S.TRIAGED: frozenset({S.TRIAGED, S.PLANNED, S.IN_WORK, S.CLOSED, S.REPLACED}),
    S.PLANNED: frozenset({S.TRIAGED, S.PLANNED, S.IN_WORK, S.REPLACED}),
    S.IN_WORK: frozenset({S.TRIAGED, S.REPAIRED, S.REPLACED}),
    S.REPAIRED: frozenset({S.PROVED, S.IN_WORK}),
    S.PROVED: frozenset({S.CLOSED, S.IN_WORK}),
    S.CLOSED: frozenset(),
    S.REPLACED: frozenset(),
}

OPEN_STATES: frozenset[S] = frozenset(s for s, following in NEXT_STATES.items() if following)


def may_follow(present: S, wanted: S) -> bool:
    """Whether a defect in state ``present`` may go to ``wanted``."""
    return wanted in NEXT_STATES[present]


def why_not(present: S, wanted: S) -> str:
    """The sentence for a refused step, naming the states that are open from here."""
    allowed = sorted(s.label.lower() for s in NEXT_STATES[present])
    if not allowed:
        return f"A defect that is {present.label.lower()} is finished; report a new one instead."
    return (
        f"A defect that is {present.label.lower()} cannot become {wanted.label.lower()}; "
        f"from here it can become {', '.join(allowed)}."
    )
