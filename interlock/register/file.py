"""The register as a file: created once, read whole, and one line longer or not changed at all.

A writer makes `NAME.lock`, which nobody else can make meanwhile, writes the whole new register into it, and puts it
in the place of the old one in one step. A reader sees the old register or the new one, never a part.
"""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, BinaryIO, Final

from interlock.errors import RegisterError
from interlock.register.book import Register, read_register
from interlock.register.chain import line_of
from interlock.register.entries import FORMAT, VERSION, BenchName, Content, Entry, Person
from interlock.register.rules import refuse_unfit

__all__ = ["append", "create", "load_register", "register_bytes"]

_WAIT_S: Final = 10.0
_TRY_EVERY_S: Final = 0.05


def load_register(path: Path) -> Register:
    """Read a register and verify its chain; RegisterError if it cannot be read or is not as it was written."""
    return read_register(str(path), register_bytes(path))


def register_bytes(path: Path) -> bytes:
    """The bytes of a register, not looked at; RegisterError if they cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise RegisterError(
            f"{path}: cannot read: {error.strerror}; name a register, or make one: interlock register new"
        ) from error


def create(path: Path, *, now: datetime) -> Register:
    """A new register of one line, its head; RegisterError if something stands at the path already."""
    line, _ = line_of({"format": FORMAT, "version": VERSION, "entry": 0, "made": _instant(now)})
    with _writing(path, 0.0) as out:
        if path.exists() or path.is_symlink():
            raise RegisterError(f"{path}: it exists already and is not overwritten; name a new file")
        out.write(line.encode() + b"\n")
    return load_register(path)


def append(
    path: Path,
    bench: BenchName,
    content: Content,
    *,
    now: datetime,
    by: Person | None = None,
    note: str = "",
    wait_s: float = _WAIT_S,
) -> tuple[Register, Entry]:
    """Add one entry and give the register as it then is; RegisterError, and nothing changed, if it does not fit.

    `wait_s`: how long to wait for another writer.
    """
    target = path.resolve()
    with _writing(target, wait_s) as out:
        register = load_register(path)
        entry, line = _numbered(register, bench, content, now, by, note)
        refuse_unfit(register, entry)
        out.write(target.read_bytes() + line.encode() + b"\n")
    return load_register(path), entry


def _numbered(
    register: Register, bench: BenchName, content: Content, now: datetime, by: Person | None, note: str
) -> tuple[Entry, str]:
    body: dict[str, Any] = {
        "entry": len(register.entries) + 1,
        "made": _instant(now),
        "bench": bench.model_dump(mode="json"),
        "content": content.model_dump(mode="json"),
    }
    if by is not None:
        body["by"] = by.model_dump(mode="json", exclude_defaults=True)
    if note:
        body["note"] = note
    line, _ = line_of({**body, "previous": register.sha256})
    return Entry.model_validate_json(line), line


def _instant(now: datetime) -> str:
    return f"{now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


@contextmanager
def _writing(path: Path, wait_s: float) -> Iterator[BinaryIO]:
    """A file that takes the place of `path` once the block is done without error; the only one at a time."""
    lock = path.with_name(f"{path.name}.lock")
    out = _alone(path, lock, wait_s)
    try:
        with out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        if path.exists():
            lock.chmod(path.stat().st_mode & 0o777)
        lock.replace(path)
    except OSError as error:
        lock.unlink(missing_ok=True)
        raise RegisterError(f"{path}: cannot write there: {error.strerror}; nothing was changed") from error
    except BaseException:
        lock.unlink(missing_ok=True)
        raise
    _keep_name(path.parent)


def _alone(path: Path, lock: Path, wait_s: float) -> BinaryIO:
    ends = time.monotonic() + wait_s
    while True:
        try:
            return lock.open("xb")
        except FileExistsError:
            if time.monotonic() >= ends:
                raise RegisterError(
                    f"{path}: another program is writing to it since {_since(lock)} ({lock} is there); wait for "
                    "it, or, if none is running, delete that file"
                ) from None
        except OSError as error:
            raise RegisterError(
                f"{path}: cannot write there: {error.strerror}; choose another place"
            ) from error
        time.sleep(_TRY_EVERY_S)


def _since(lock: Path) -> str:
    try:
        return _instant(datetime.fromtimestamp(lock.stat().st_mtime, UTC))
    except OSError:
        return "just now"


def _keep_name(folder: Path) -> None:
    """Make the new name last through a loss of power, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # a folder cannot be opened on every system; the file itself is on the disk already
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
