"""The rule sets as shipped: their sources, and the metric figures of their texts."""

from decimal import Decimal

import pytest

from repairs.triage.rules import rule_sets


@pytest.mark.parametrize("name", rule_sets())
def test_every_set_as_shipped_stands_on_listed_sources_and_says_why_where_none_is_read(
    name: str,
) -> None:
    rules = rule_sets()[name]
    assert rules.id == name
    for row in rules.rows():
        assert row.source in rules.sources
        if row.source in ("assumed", "common-practice"):
            assert len(row.why) > 20


# S-3.3, r. 2, in cm, and Reg. (EU) 1299/2014, 4.2.8.6, in mm (the latter from memory)
METRIC = {
    "ca-qc-s33r2": {
        "s.61/min": "1422.4",
        "s.61/max": "1473.2",
        "s.76(4)/width-min": "38.1",
        "s.76(4)/width-max": "50.8",
        "s.76(4)/depth": "38.1",
        "s.80/horn": "6.3",
        "s.81/wear": "9.5",
    },
    "eu-inf-tsi": {
        "4.2.8.6(b)": "1392",
        "4.2.8.6(c)": "1356",
        "4.2.8.6(e)": "38",
        "4.2.8.6(f)": "40",
    },
}


@pytest.mark.parametrize("name", METRIC)
def test_a_metric_limit_is_exactly_the_figure_of_its_text(name: str) -> None:
    held = {r.rule: r.value for r in rule_sets()[name].limits if not r.railway_may_set}
    assert held == {rule: Decimal(mm) for rule, mm in METRIC[name].items()}


def test_every_figure_of_the_european_set_is_marked_as_from_memory() -> None:
    limits = [r for r in rule_sets()["eu-inf-tsi"].limits if not r.railway_may_set]
    assert {row.checked for row in limits} == {"from memory"}
