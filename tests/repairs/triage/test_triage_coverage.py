"""The page that says what the rules cover is the one the rules and cases of today give."""

from repairs.triage.coverage import CASES, TABLE, table
from repairs.triage.rules import rule_sets
from repairs.triage.worked import read_worked_cases


def test_the_coverage_page_is_not_stale() -> None:
    fresh = table(read_worked_cases(CASES))
    assert TABLE.read_text(encoding="utf-8") == fresh, "run python -m repairs.triage.coverage"


def test_every_row_of_every_set_stands_on_the_page_with_how_its_text_was_checked() -> None:
    page = TABLE.read_text(encoding="utf-8")
    for rules in rule_sets().values():
        for row in rules.rows():
            (line,) = {
                one for one in page.splitlines() if f"(`{row.rule}`, from {row.start})" in one
            }
            assert row.clause in line
            assert row.checked in line


def test_no_row_is_without_a_worked_case() -> None:
    page = TABLE.read_text(encoding="utf-8")
    assert " in 0 " not in page
