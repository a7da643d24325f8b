"""What is refused in a file of worked cases."""

from decimal import Decimal
from pathlib import Path

import pytest

from repairs.triage.worked import read_worked_cases

FILE = """
[sound]
flangeway_depth = "1 7/8 in"

[[case]]
name = "one"
clause = "49 CFR 213.137(a)"
[case.given]
component = { kind = "frog" }
track_class = 3
[case.expect]
traffic = "unknown"
"""


def test_a_case_is_read_with_the_readings_of_a_sound_part(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(FILE, encoding="utf-8")
    (case,) = read_worked_cases(tmp_path)
    assert (case.file, case.name, case.rules) == ("a", "one", "us-49cfr213")
    assert [str(r.value) for r in case.case.readings] == ["47.6250000"]


def test_a_value_typed_in_the_other_unit_makes_a_second_case(tmp_path: Path) -> None:
    both = FILE.replace(
        "track_class = 3", 'track_class = 3\nor_typed = { flangeway_depth = "38.1 mm" }'
    )
    (tmp_path / "a.toml").write_text(both, encoding="utf-8")
    first, second = read_worked_cases(tmp_path)
    assert (first.typed, second.typed) == ({}, {"flangeway_depth": "38.1 mm"})
    assert second.name == "one, as 38.1 mm"
    assert [r.value for r in second.case.readings] == [Decimal("38.1")]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (FILE.replace("track_class", "class_of_track"), "a.toml, one: class_of_track is not a key"),
        ('rules = "moon"\n' + FILE, "a.toml: rules = 'moon'; use one of us-49cfr213"),
    ],
)
def test_a_wrong_file_is_refused_by_name(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=said):
        read_worked_cases(tmp_path)
