"""Setting PDFs: what is said goes in as JSON, never as markup, so no text can change a layout."""

from functools import cache
from pathlib import Path
from threading import Lock
from typing import cast

import typst

HERE = Path(__file__).parent
_one_at_a_time = Lock()


def pressed(layout: str, said: str, folder: Path = HERE) -> bytes:
    """The PDF of a layout, ``sheet.typ``, with what it says as JSON text; by default of a layout
    in this folder, where the letters of all of them lie."""
    with _one_at_a_time:  # the compiler keeps fonts and layout between calls, for one at a time
        printed = _compiler(folder / layout).compile(format="pdf", sys_inputs={"sheet": said})
    return cast(bytes, printed)  # a list only where every page is asked for as a picture


@cache
def _compiler(layout: Path) -> typst.Compiler:
    return typst.Compiler(
        input=str(layout),
        root=str(layout.parent),
        font_paths=[str(HERE / "fonts")],
        ignore_system_fonts=True,
    )
