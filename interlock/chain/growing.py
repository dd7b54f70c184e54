"""Arrays that grow at their end, without copying all of it each time."""

from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = ["Growing"]

T = TypeVar("T", bound=np.generic)


class Growing(Generic[T]):
    """Rows of the type and shape of the first part."""

    def __init__(self, first: NDArray[T]) -> None:
        self._rows, self._count = first.copy(), len(first)

    def __len__(self) -> int:
        return self._count

    @property
    def rows(self) -> NDArray[T]:
        """All rows so far; not to be written to."""
        return self._rows[: self._count]

    @property
    def nbytes(self) -> int:
        """What is set aside, used or not."""
        return self._rows.nbytes

    def add(self, part: NDArray[Any]) -> None:
        """Some rows more."""
        end = self._count + len(part)
        if end > len(self._rows):
            room = np.empty((max(end, 2 * len(self._rows)), *self._rows.shape[1:]), self._rows.dtype)
            room[: self._count] = self._rows[: self._count]
            self._rows = room
        self._rows[self._count : end] = part
        self._count = end
