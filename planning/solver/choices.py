"""The railway's own choices about planning, by name and day, from ``choices.toml``."""

from datetime import date
from pathlib import Path

from turnouts.analysis.dated import value_in_force

CHOICES = Path(__file__).with_name("choices.toml")


def choice(name: str, on: date) -> float:
    """The value in force on a day; DatedError when there is none."""
    return value_in_force(CHOICES, name, on)
