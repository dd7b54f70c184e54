"""How much memory and disk there is for what a file holds, so that a file too large is refused in good time."""

import ctypes
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Final

__all__ = ["disk_room", "give_back", "room"]

_MEMORY: Final = Path("/proc/meminfo")
_UNKNOWN: Final = 4 << 30


def room() -> int:
    """Bytes of memory that are free without harm to other programs; where the system does not tell, some 4 GiB."""
    with suppress(OSError, ValueError, IndexError):
        for line in _MEMORY.read_text(encoding="ascii").splitlines():
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) << 10
    return _UNKNOWN


def disk_room() -> int:
    """Bytes of a file that the folder for temporary files has room for: at most half of what is free."""
    return shutil.disk_usage(tempfile.gettempdir()).free // 2


def give_back() -> None:
    """Let the system have the memory that is free again; the C library may keep hundreds of MiB of it otherwise.

    `malloc_trim` is the GNU C library's; where there is none nothing happens.
    """
    with suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).malloc_trim(0)
