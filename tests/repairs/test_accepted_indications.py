"""What the job sheet says may show under penetrant, by the level the railway set."""

import pytest

from repairs.field.indications import LEVELS
from repairs.services.acceptance import accepted_at


def test_without_a_level_nothing_may_show() -> None:
    """Common practice on castings in service: no line and no open hole."""
    said = accepted_at("none")
    assert said["accept_mm"] is None
    assert said["accept"].startswith("No line and no open hole may show.")
    assert said["accept_source"] == "common-practice"


@pytest.mark.parametrize(("level", "line", "rounded"), [("1", 2, 4), ("2X", 4, 6), ("3X", 8, 8)])
def test_a_level_is_said_with_its_sizes_and_that_they_are_from_memory(
    level: str, line: int, rounded: int
) -> None:
    """ISO 23277, acceptance levels; the standard's table was not read (from memory)."""
    said = accepted_at(level)
    assert said["accept_mm"] == {"linear": line, "rounded": rounded}
    assert f"Level {level} of ISO 23277: a line of at most {line} mm" in said["accept"]
    assert f"a round one of at most {rounded} mm" in said["accept"]
    assert said["accept_source"] == "from-memory"
    assert level in LEVELS
