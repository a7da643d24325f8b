"""Loops compiled for the machine, with the types of the Python function kept for the reader."""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba

Given = ParamSpec("Given")
Answer = TypeVar("Answer")


def compiled(function: Callable[Given, Answer]) -> Callable[Given, Answer]:
    """The function as machine code, kept on disk between runs."""
    return cast(Callable[Given, Answer], numba.njit(cache=True, _nrt=False)(function))
