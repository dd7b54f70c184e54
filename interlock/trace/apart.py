"""A library that may crash or never end on a damaged file is called in a process of its own."""

import faulthandler
import importlib
import os
import pickle
import signal
import sys
import warnings
from collections.abc import Callable
from typing import Any, BinaryIO, NoReturn, TypeVar

from interlock.errors import LogError
from interlock.trace.memory import room

__all__ = ["Died", "apart"]

Result = TypeVar("Result")


class Died(Exception):
    """The process ended without an answer; the text says how."""


def apart(call: Callable[[], Result], seconds: float) -> Result:
    """What the call gives, made in a copy of this process; Died if that crashes or takes longer than it may.

    A LogError of the call is raised here as well. What the copy may take of memory is bounded by what is free. Where a
    process cannot be copied the call is made in this one.
    """
    if not hasattr(os, "fork"):
        return call()
    answer, ask = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter(
            "ignore", DeprecationWarning
        )  # no other thread of this process is needed in the copy
        child = os.fork()
    if child == 0:
        os.close(answer)
        _answer(call, ask, seconds)
    os.close(ask)
    try:
        with os.fdopen(answer, "rb") as source:
            good, result = _loaded(source)
    finally:
        _, status = os.waitpid(child, 0)
    if good:
        return result  # type: ignore[no-any-return]
    if isinstance(result, str):
        raise LogError(result)
    signalled = os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
    if signalled == signal.SIGALRM:
        raise Died(f"it did not end within {seconds:.0f} s")
    raise Died(f"it crashed (signal {signalled})" if signalled else "it gave no answer")


def _loaded(source: BinaryIO) -> tuple[bool, Any]:
    """Whether the call gave a result, and it, or the text of its error; None: there is no answer."""
    try:
        good, result = pickle.load(source)  # noqa: S301 written by this program's own copy
    except (EOFError, pickle.UnpicklingError):
        return False, None
    return good, result


def _answer(call: Callable[[], object], ask: int, seconds: float) -> NoReturn:
    """In the copy: write what the call gives, and end at once; if it takes longer the system ends the copy."""
    faulthandler.disable()
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):  # what the library says of its own troubles is told by the other
        os.dup2(nowhere, stream)
    sys.stdout = sys.stderr = os.fdopen(nowhere, "w")
    try:
        try:
            _bound_memory()
            answer: tuple[bool, object] = True, call()
        except LogError as error:
            answer = False, str(error)
        with os.fdopen(ask, "wb") as out:
            pickle.dump(answer, out, protocol=5)
    finally:
        os._exit(0)


def _bound_memory() -> None:
    """In the copy: whoever asks for more memory than is free gets an error, and no other program suffers."""
    resource = importlib.import_module("resource")
    _, most = resource.getrlimit(resource.RLIMIT_DATA)
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss << 10
    limit = own + room()
    resource.setrlimit(resource.RLIMIT_DATA, (limit if most < 0 else min(limit, most), most))
