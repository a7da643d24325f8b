"""Text in a cell: tidied, and never taken for a formula by a spreadsheet."""

import re
from typing import Any

from turnouts.services.sheets.faults import CellFault

_FORMULA_STARTS = ("=", "+", "-", "@")
_GUARD = "'"
_GUARDED = (*_FORMULA_STARTS, _GUARD)
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_QUOTED_AT_MOST = 60


def tidy(text: str) -> str:
    """A text as a sheet can carry it: line ends of one kind, no control characters, no margins."""
    return _CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n")).strip()


def read_text(text: str) -> str:
    """A text from a cell, without the guard that :func:`guarded` put before it."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    if _CONTROL.search(plain):
        raise CellFault("There is a control character in this text; type the text again.")
    plain = plain.strip()
    return plain[1:] if plain[:1] == _GUARD and plain[1:2] in _GUARDED else plain


def guarded(text: str) -> str:
    """A text that no spreadsheet runs as a formula: an apostrophe goes before = + - and @.

    One also goes before a leading apostrophe, so that reading takes off what was put on, no more.
    """
    plain = tidy(text)
    return _GUARD + plain if plain.startswith(_GUARDED) else plain


def quoted(cell: Any) -> str:
    """A cell's content for a sentence, cut to a length that can be read."""
    text = str(cell).replace("\n", " ")
    return f'"{text[:_QUOTED_AT_MOST]}..."' if len(text) > _QUOTED_AT_MOST else f'"{text}"'
