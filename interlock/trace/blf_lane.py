"""Chains of BLF objects walked and read by a compiled loop, if there is a compiler and it is worth to load it."""

import importlib
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.blf_objects import Chain, Linker, Read
from interlock.trace.lane import worth_compiling

__all__ = ["linked", "linker_for", "spread"]

_USUAL: Final = 48  # bytes of an object


def linker_for(data: bytes | bytearray) -> Linker | None:
    """The compiled loop if it is to be used for so many data."""
    return linked if worth_compiling(len(data) // _USUAL) else None


def linked(data: bytes | bytearray, here: int) -> Chain:
    """The chain from the good object here on, read on the way."""
    most = (len(data) - here) // _USUAL + 1  # a chain of smaller objects is cut, and goes on as another
    offsets = np.empty(most, np.int64)
    read = Read(
        kinds=np.empty(most, np.uint32),
        status=np.empty(most, np.int8),
        times_ns=np.empty(most, np.int64),
        flags=np.zeros(most, np.uint32),  # that of an object without a frame is not read
        idents=np.empty(most, np.uint32),
        extended=np.empty(most, np.bool_),
        lengths=np.empty(most, np.uint8),
        words=np.empty(most, np.uint64),
        channels=np.empty(most, np.uint16),
        spans=np.empty((most, 2), np.int64),
    )
    fields = [getattr(read, name) for name in Read.__slots__]
    halves: NDArray[np.uint32] = np.ndarray((len(data) - 3,), "<u4", data, 0, (1,))
    words: NDArray[np.uint64] = np.ndarray((len(data) - 7,), "<u8", data, 0, (1,))
    count = _kernels().chain(np.frombuffer(data, np.uint8), halves, words, here, (offsets, *fields))
    return Chain(offsets[:count], (), read=Read(*(field[:count] for field in fields)))


def spread(data: bytes | bytearray, spans: NDArray[np.int64], block: NDArray[np.uint8]) -> None:
    """Write what stands of payloads into the rows of a block."""
    _kernels().spread(np.frombuffer(data, np.uint8), spans, block)


def _kernels() -> Any:
    return importlib.import_module("interlock.trace.blf_kernel")
