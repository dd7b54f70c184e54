"""A new text file, whole or not at all, and never in the place of an old one."""

import os
import tempfile
from pathlib import Path

from interlock.errors import InterlockError

__all__ = ["refuse_old", "write_new"]


def refuse_old(path: Path) -> None:
    """Raises InterlockError if something stands at the path already."""
    if path.exists() or path.is_symlink():
        raise InterlockError(f"{path}: it exists already and is not overwritten; name a new file")


def write_new(path: Path, text: str) -> None:
    """Put `text` as UTF-8 at `path` in one step; raises InterlockError if the path is taken or cannot be written."""
    refuse_old(path)
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
    except OSError as error:
        raise _unwritten(path, error) from error
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(text.encode())
            out.flush()
            os.fsync(out.fileno())
        part.chmod(0o666 & ~_umask())
        _put(part, path)
    except OSError as error:
        raise _unwritten(path, error) from error
    finally:
        part.unlink(missing_ok=True)


def _put(part: Path, path: Path) -> None:
    """By a second name for the file, which fails if the path is taken; not every file system has second names."""
    try:
        path.hardlink_to(part)
    except FileExistsError:
        refuse_old(path)
        raise
    except OSError:
        refuse_old(path)
        part.replace(path)


def _unwritten(path: Path, error: OSError) -> InterlockError:
    return InterlockError(f"{path}: cannot write there: {error.strerror}; choose another place")


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
