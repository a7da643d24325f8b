"""Groups of components against one another."""

import numpy as np
import pytest
from scipy.stats import binomtest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.ranking.groups import Groups, compare_groups, overdispersion
from turnouts.analysis.ranking.offenders import Observed


def group(name: str, counts: list[int], expected: float = 2.0) -> list[Observed]:
    return [Observed(f"{name}{n}", count, expected) for n, count in enumerate(counts)]


def compared(members: dict[str, list[Observed]]) -> Groups:
    found = compare_groups(members)
    assert isinstance(found, Groups)
    return found


def drawn(seed: int, groups: int, bad: float = 1.0) -> dict[str, list[Observed]]:
    rng = np.random.default_rng(seed)
    members = {}
    for n in range(groups):
        expected, rates = rng.uniform(0.5, 4, 15), rng.gamma(4, 0.25, 15)
        counts = rng.poisson(rates * expected * (bad if n == 0 else 1.0))
        members[f"B{n}"] = [
            Observed(f"{n}-{k}", int(c), float(e))
            for k, (c, e) in enumerate(zip(counts, expected, strict=True))
        ]
    return members


def test_alike_components_are_compared_by_the_exact_test_corrected_for_both_looks() -> None:
    found = compared({"A": group("A", [4, 4, 4, 4]), "B": group("B", [2, 2, 2, 2])})
    assert found.overdispersion == 1
    # 16 of 24 events where half are expected, looked at twice
    raw = binomtest(16, 24, 0.5).pvalue
    assert [g.p_value for g in found.groups] == pytest.approx([min(2 * raw, 1)] * 2)


def test_a_bad_batch_is_found() -> None:
    found = compared(drawn(2, 6, bad=3.0))
    assert [g.name for g in found.groups if g.differs] == ["B0"]
    assert found.groups[0].low < 3.0 < found.groups[0].high


def test_groups_that_are_alike_are_called_different_at_most_one_time_in_twenty() -> None:
    called = sum(any(g.differs for g in compared(drawn(s, 6)).groups) for s in range(200))
    assert called / 200 <= 0.05 + 3 * (0.05 * 0.95 / 200) ** 0.5


def test_components_that_differ_much_widen_the_limits() -> None:
    uneven = {"A": group("A", [0, 0, 9, 9]), "B": group("B", [0, 0, 5, 5])}
    even = {"A": group("A", [4, 5, 4, 5]), "B": group("B", [2, 3, 2, 3])}
    assert overdispersion(list(uneven.values())) > 3
    wide, narrow = compared(uneven).groups[0], compared(even).groups[0]
    assert wide.high / wide.low > narrow.high / narrow.low


def test_a_group_with_four_events_is_left_out_and_one_with_five_is_not() -> None:
    others = {"A": group("A", [4, 4]), "B": group("B", [3, 3])}
    assert compared({**others, "C": group("C", [2, 2], 1.0)}).left_out == ("C",)
    assert compared({**others, "C": group("C", [2, 3], 1.0)}).left_out == ()


def test_a_group_that_should_have_had_many_and_had_none_is_compared() -> None:
    found = compared({"A": group("A", [0] * 10), "B": group("B", [3] * 10)})
    assert found.groups[-1].name == "A"
    assert found.groups[-1].differs


def test_one_group_alone_is_not_compared() -> None:
    assert isinstance(compare_groups({"A": group("A", [9, 9])}), NotEnough)
