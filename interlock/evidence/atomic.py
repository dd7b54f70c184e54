"""Files appear whole or not at all."""

import hashlib
import os
import tempfile
from pathlib import Path

from interlock.errors import EvidenceError

__all__ = ["read_whole", "sha256_of", "write_whole"]


def write_whole(path: Path, data: bytes) -> None:
    """Put `data` at `path` in one step: a reader sees the old file or the new one, never a part.

    A file that stands there keeps its rights; a link is followed. Raises EvidenceError if the place cannot be written,
    or is a device or pipe, which a file must not replace; what was there is then as it was.
    """
    path = path.resolve()
    if path.exists() and not path.is_file():
        raise EvidenceError(f"{path}: cannot write there: it is no ordinary file; name a new file")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
    except OSError as error:
        raise EvidenceError(f"{path}: cannot write there: {error.strerror}; choose another place") from error
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        part.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise EvidenceError(f"{path}: cannot write there: {error.strerror}; choose another place") from error
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def read_whole(path: Path) -> bytes:
    """Every byte of the file; raises EvidenceError if it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise EvidenceError(f"{path}: cannot read: {error.strerror}; give the path of a file") from error


def sha256_of(path: Path) -> str:
    """The digest of the file, of any size; raises EvidenceError if it cannot be read."""
    try:
        with path.open("rb") as file:  # a log may be larger than the memory
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise EvidenceError(f"{path}: cannot read: {error.strerror}; give the path of a file") from error


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
