"""Loops compiled for the machine, with the types of the Python function kept for the reader."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast

import numba

from planning.solver.stale_code import forget_stale_code

Given = ParamSpec("Given")
Answer = TypeVar("Answer")


forget_stale_code(Path(__file__).parent)

# Counting references to the arrays of a named tuple at every call costs eighty times the work
# itself. Without it nothing may be allocated in here: working space is handed in.
_OPTIONS: dict[str, Any] = {"cache": True, "_nrt": False}


def compiled(function: Callable[Given, Answer]) -> Callable[Given, Answer]:
    """The function as machine code, kept on disk between runs; it may not make arrays."""
    return cast(Callable[Given, Answer], numba.njit(**_OPTIONS)(function))
