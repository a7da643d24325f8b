"""The rule set: what its rows hold, when they are in force, and what is refused in a file."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from repairs.triage.read import RuleError
from repairs.triage.rules import RuleSet, federal_rules, load_rules, rules_in_force

TODAY = date(2026, 11, 20)

# The clauses of 49 CFR that each rule is named after, in inches for class 1 to class 5.
BY_CLASS = {
    "213.137(a)": ["1 3/8", "1 1/2", "1 1/2", "1 1/2", "1 1/2"],
    "213.143(a)/check": ["54 1/8", "54 1/4", "54 3/8", "54 3/8", "54 1/2"],
    "213.143(a)/face": ["53 1/4", "53 1/8", "53 1/8", "53 1/8", "53"],
    "213.133(c)": ["1 1/2"] * 5,
    "213.137(b)/down": ["5/8"] * 5,
    "213.137(b)/back": ["6"] * 5,
    "213.137(c)": ["3/8"] * 5,
    "213.139(e)": ["1/4"] * 5,
    "213.141(a)": ["3/8"] * 5,
    "213.53(b)/min": ["56"] * 5,
    "213.53(b)/max": ["58", "57 3/4", "57 3/4", "57 1/2", "57 1/2"],
}

# 49 CFR 213.9(a): freight and passenger speed in mph
SPEEDS = {0: (10, None), 1: (10, 15), 2: (25, 30), 3: (40, 60), 4: (60, 80), 5: (80, 90)}


@pytest.mark.parametrize("rule", BY_CLASS)
def test_a_federal_limit_is_exactly_the_inches_of_its_clause(rule: str) -> None:
    (row,) = [row for row in federal_rules().limits if row.rule == rule]
    for track_class, inches in enumerate(BY_CLASS[rule], start=1):
        exact = sum(Fraction(part) for part in inches.split()) * Fraction("25.4")
        assert Fraction(row.limit_for(track_class)) == exact


def test_the_speeds_are_those_of_213_9a() -> None:
    rows = federal_rules().speeds
    assert {r.track_class: (r.freight_mph, r.passenger_mph) for r in rows} == SPEEDS


def test_every_row_names_a_clause_and_a_source_that_is_listed() -> None:
    rules = federal_rules()
    assert len(rules.rows()) > 60
    for row in rules.rows():
        assert row.clause.startswith(("49 CFR", "railway's own rule"))
        assert row.source in rules.sources
        assert row.checked


def test_a_row_that_no_text_stands_behind_says_why() -> None:
    unread = [r for r in federal_rules().rows() if r.source in ("assumed", "common-practice")]
    assert len(unread) > 20
    assert all(len(row.why) > 20 for row in unread)


def test_the_sizes_of_the_rail_defect_table_are_marked_as_from_memory() -> None:
    assert {row.checked for row in federal_rules().rail_defects} == {"from memory"}


@pytest.mark.parametrize(
    ("rule", "begins"),
    [
        ("213.137(e)", date(2020, 10, 7)),  # 85 FR 63388, in force on publication
        ("213.143(b)", date(2020, 10, 7)),
        ("213.113(c)/A", date(2014, 3, 25)),  # 79 FR 4234, in force 25 March 2014
        ("213.137(c)", date(1998, 9, 21)),  # 63 FR 34029
    ],
)
def test_a_rule_is_in_force_from_its_first_day(rule: str, begins: date) -> None:
    def known(on: date) -> set[str]:
        return {row.rule for row in rules_in_force(federal_rules(), on).rows()}

    assert rule in known(begins)
    if begins > date(1998, 9, 21):
        assert rule not in known(begins - timedelta(days=1))


def test_before_the_first_row_nothing_is_decided() -> None:
    with pytest.raises(RuleError, match="1998-09-21"):
        rules_in_force(federal_rules(), date(1998, 9, 20))


HEAD = '[rule_set]\nid = "x"\ntitle = "X"\nedition = "1"\n'
SPEED = """
[[speed]]
rule = "s/{c}"
start = 2000-01-01
clause = "49 CFR 213.9(a)"
title = "Speed"
source = "law"
track_class = {c}
freight_mph = 10
"""
LIMIT = """
[[limit]]
rule = "w"
start = 2000-01-01
clause = "49 CFR 213.137(c)"
title = "Tread"
source = "law"
quantity = "tread_wear"
compare = "not_more_than"
value = "3/8 in"
effect = "cap"
cap_mph = 10
remedy = "weld_in_track"
remedy_says = "build up"
"""
SOURCES = """
[law]
title = "Law"
publisher = "State"
edition = "1"
year = 2000
checked = "text read"
[assumed]
title = "Assumed"
publisher = ""
edition = ""
checked = "assumed"
[gone]
title = "Gone"
publisher = "State"
edition = "1"
checked = "not read"
"""


@pytest.fixture
def load(tmp_path: Path) -> Callable[[str], RuleSet]:
    sources = tmp_path / "sources.toml"
    sources.write_text(SOURCES, encoding="utf-8")

    def read(text: str) -> RuleSet:
        file = tmp_path / "rules.toml"
        file.write_text(text, encoding="utf-8")
        return load_rules(file, sources=sources)

    return read


Load = Callable[[str], RuleSet]


def test_a_small_file_loads(load: Load) -> None:
    rules = load(HEAD + SPEED.format(c=1) + LIMIT)
    assert rules.limits[0].value == Decimal("9.525")
    assert rules.limits[0].checked == "text read"


def test_a_new_edition_replaces_the_old_row_on_its_day(load: Load) -> None:
    newer = LIMIT.replace("2000-01-01", "2020-05-01").replace("3/8 in", "8 mm")
    rules = load(HEAD + SPEED.format(c=1) + LIMIT + newer)
    assert rules_in_force(rules, date(2020, 4, 30)).limits[0].value == Decimal("9.525")
    assert rules_in_force(rules, date(2020, 5, 1)).limits[0].value == 8
    assert len(rules_in_force(rules, TODAY).limits) == 1


def test_a_row_ends_on_its_end_date(load: Load) -> None:
    ended = LIMIT.replace('rule = "w"', 'rule = "v"\nend = 2020-05-01')
    rules = load(HEAD + SPEED.format(c=1) + LIMIT + ended)
    assert {r.rule for r in rules_in_force(rules, date(2020, 4, 30)).limits} == {"w", "v"}
    assert {r.rule for r in rules_in_force(rules, date(2020, 5, 1)).limits} == {"w"}


EXCEPTION = """
[[exception]]
rule = "e"
start = 2000-01-01
clause = "c"
title = "t"
source = "law"
relaxes = "nothing"
classes = [1]
condition = "heavy_point"
"""
CRACK = """
[[rail_defect]]
rule = "r"
start = 2000-01-01
clause = "c"
title = "t"
source = "law"
where = { kinds = ["crack"] }
actions = ["Z"]
"""


ACTIONS = """
[[action]]
rule = "A"
start = 2000-01-01
clause = "c"
title = "t"
source = "law"
letter = "A"
effect = "stop"
says = "watch"

[[action]]
rule = "H"
start = 2000-01-01
clause = "c"
title = "t"
source = "law"
letter = "H"
effect = "judge"
cap_mph = 50
says = "slow"
"""
INSPECTION = """
[[inspection]]
rule = "i"
start = 2000-01-01
clause = "c"
title = "t"
source = "law"
kind = "on_foot"
says = "look"
"""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (LIMIT.replace("cap_mph", "speed_mph"), "speed_mph is not a key here"),
        (LIMIT.replace("cap_mph = 10", ""), "effect cap needs `cap_mph`"),
        (LIMIT.replace('"law"', '"gossip"'), "'gossip' is not in sources.toml"),
        (LIMIT.replace('"law"', '"assumed"'), "needs a sentence in `why`"),
        (LIMIT.replace('"3/8 in"', '"3/8 furlong"'), "is not a length"),
        (LIMIT.replace('"3/8 in"', "9.525"), "is not a length"),
        (LIMIT.replace('"3/8 in"', '"9.525"'), "no unit"),
        (LIMIT.replace('value = "3/8 in"', ""), "either `value` or `by_class`"),
        (LIMIT.replace("not_more_than", "below"), "Use one of not_more_than"),
        (LIMIT.replace("tread_wear", "tread"), "quantity = 'tread' is not known"),
        (LIMIT.replace('title = "Tread"', ""), "title is missing"),
        (LIMIT.replace("start = 2000-01-01", 'start = "2000"'), "must be of type date"),
        (LIMIT.replace('"cap"', '"stop"'), "effect of a limit is class, cap or judge"),
        (LIMIT.replace('"cap"', '"class"'), "takes its speed from the class"),
        (LIMIT + 'checked = "heard of"', "checked must be one of"),
        (LIMIT + 'from_defect = { kinds = ["wear"] }', "go together"),
        (LIMIT + 'where = { colour = ["red"] }', "colour is not a key here"),
        (LIMIT + LIMIT, "two rows that start on 2000-01-01"),
        (LIMIT + EXCEPTION, "relaxes nothing, which is no limit row"),
        (LIMIT + CRACK, r"No \[\[action\]\] row has the letter Z"),
        (LIMIT.replace("[[limit]]", "[[limits]]"), r"\[\[limits\]\] is not a table"),
        (LIMIT.replace('"w"', '"w'), "cannot be read as TOML"),
        (LIMIT + SPEED.format(c=2) + "any_class = true\n", "either `track_class` or `any_class"),
        (LIMIT + INSPECTION + "days = 7\nmonths = 1\n", "one of `days`, `months`"),
        (LIMIT + INSPECTION, "one of `days`, `months`"),
        (LIMIT.replace('"law"', '"gone"'), r"not read gives no rule; use \[\[left_out\]\]"),
        (
            LIMIT + ACTIONS + CRACK.replace('["Z"]', '["H"]\nor_actions = ["A"]'),
            "`or_actions` are stricter than `actions`",
        ),
    ],
)
def test_a_wrong_file_is_refused_with_a_sentence(load: Load, text: str, said: str) -> None:
    with pytest.raises(RuleError, match=said):
        load(HEAD + SPEED.format(c=1) + text)


def test_a_limit_by_class_names_every_class(load: Load) -> None:
    text = LIMIT.replace('value = "3/8 in"\n', "") + '[limit.by_class]\n1 = "1 in"\n'
    with pytest.raises(RuleError, match="each class from 1 to 5"):
        load(HEAD + SPEED.format(c=1) + text)


def test_a_file_without_its_head_is_refused(load: Load) -> None:
    with pytest.raises(RuleError, match=r"\[rule_set\]"):
        load(LIMIT)


def test_a_setting_that_is_not_there_is_named(load: Load) -> None:
    with pytest.raises(LookupError, match="reading_age_days"):
        load(HEAD + SPEED.format(c=1) + LIMIT).setting("reading_age_days")


def test_a_text_read_in_a_later_state_is_from_memory_before_that_day(tmp_path: Path) -> None:
    sources, file = tmp_path / "sources.toml", tmp_path / "rules.toml"
    dated = SOURCES.replace('checked = "text read"', 'checked = "text read"\nsince = 2015-03-02')
    sources.write_text(dated, encoding="utf-8")
    file.write_text(HEAD + SPEED.format(c=1) + LIMIT, encoding="utf-8")
    rules = load_rules(file, sources=sources)
    before = rules_in_force(rules, date(2015, 3, 1)).limits[0]
    after = rules_in_force(rules, date(2015, 3, 2)).limits[0]
    assert (before.checked, after.checked) == ("from memory", "text read")
    assert "read as of 02 Mar 2015" in before.checked_note
    assert after.checked_note == ""
