"""No machine code outlives a change of any file it may have been made of."""

import os
from pathlib import Path

import pytest

from planning.solver.stale_code import forget_stale_code

CHANGED_S = 1_000_000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "__pycache__").mkdir()
    _written(tmp_path / "walk.py", "@compiled\ndef walk(): ...", CHANGED_S - 50)
    _written(tmp_path / "sums.py", "@compiled\ndef add(): ...", CHANGED_S)
    _written(tmp_path / "words.py", "def say(): ...", CHANGED_S + 50)
    return tmp_path


def _written(file: Path, text: str, at_s: int) -> Path:
    file.write_text(text)
    os.utime(file, (at_s, at_s))
    return file


@pytest.mark.parametrize("kind", ["nbi", "nbc"])
def test_code_from_before_the_newest_change_goes_and_later_code_stays(
    folder: Path, kind: str
) -> None:
    kept = folder / "__pycache__"
    before = _written(kept / f"walk.walk-1.py311.{kind}", "", CHANGED_S - 1)
    after = _written(kept / f"sums.add-1.py311.{kind}", "", CHANGED_S + 1)
    python = _written(kept / "walk.cpython-311.pyc", "", CHANGED_S - 1)
    assert forget_stale_code(folder) == [before]
    assert not before.exists()
    assert after.exists()
    assert python.exists()


def test_a_change_of_a_file_that_is_not_compiled_costs_nothing(folder: Path) -> None:
    code = _written(folder / "__pycache__" / "walk.walk-1.py311.nbi", "", CHANGED_S + 1)
    assert forget_stale_code(folder) == []
    assert code.exists()
