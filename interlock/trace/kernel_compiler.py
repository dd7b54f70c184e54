"""The compiler of loops over text, if it is installed (the extra `fast`); without it they are ordinary functions."""

import importlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, TypeVar
from zlib import crc32

import numpy as np

__all__ = ["COMPILER", "U", "compiled", "part"]

Function = TypeVar("Function", bound=Callable[..., Any])
COMPILER: Any = None
with suppress(ImportError):
    COMPILER = importlib.import_module("numba").njit


def _version() -> int:
    """A number that changes with any kernel: what the compiler keeps of one must not outlive a change of its parts."""
    return crc32(b"".join(path.read_bytes() for path in sorted(Path(__file__).parent.glob("*kernel*.py"))))


_VERSION: Final = 0 if COMPILER is None else _version()


def compiled(function: Function) -> Function:
    """The loop compiled, if the compiler is installed (the extra `fast`)."""
    if COMPILER is None:
        return function
    function.__qualname__ += f"_{_VERSION:08x}"  # part of the name under which it is kept
    made: Function = COMPILER(function, cache=True, error_model="numpy")
    return made


def part(function: Function) -> Function:
    """A part of loops, put into each of them where it is called."""
    if COMPILER is None:
        return function
    made: Function = COMPILER(function, inline="always", error_model="numpy")
    return made


U: Any = int if COMPILER is None else np.uint64
"""A place in the text, which is never negative: compiled, it need not be asked whether it counts from the end."""
