"""The hash chain: each line carries the SHA-256 of its own text, and that of the line before it.

A line changed, cut, swapped, doubled or taken out shows. What no chain can show: lines cut off at the end, or
the whole written anew from some line on. For that the last hash is noted elsewhere (a signed report) and compared.
"""

import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from interlock.errors import RegisterError
from interlock.register.entries import FORMAT, VERSION

__all__ = ["Row", "line_of", "read_chain"]

_TAIL: Final = re.compile(rb',"sha256":"([0-9a-f]{64})"\}')
_CURE: Final = "restore the file from a copy"


@dataclass(frozen=True, slots=True)
class Row:
    """One line whose text agrees with its own hash."""

    line: int  # 1-based
    text: str
    body: Mapping[str, Any]
    sha256: str


def line_of(body: Mapping[str, Any]) -> tuple[str, str]:
    """The line, without its end, that holds `body` and its hash; and that hash. Same body, same bytes."""
    text = json.dumps(body, ensure_ascii=False, allow_nan=False, separators=(",", ":"))[:-1]
    digest = hashlib.sha256(text.encode()).hexdigest()
    return f'{text},"sha256":"{digest}"}}', digest


def read_chain(name: str, data: bytes) -> tuple[Row, ...]:
    """Every line of a whole chain, the head first; RegisterError that says which line is wrong, and how."""
    if not data:
        raise RegisterError(f"{name}: it is empty, so it is no register; {_CURE}")
    first = data.split(b"\n", 1)[0]
    if f'"format":"{FORMAT}"'.encode() not in first:
        raise RegisterError(
            f"{name}:1: no register begins like this; name a file made by: interlock register"
        )
    lines = data.split(b"\n")
    if lines.pop() != b"":
        raise RegisterError(f"{name}:{len(lines) + 1}: cut: the file ends inside this line; {_CURE}")
    rows = tuple(_row(name, number, line) for number, line in enumerate(lines, 1))
    head = rows[0].body
    if head.get("version") != VERSION or "previous" in head:
        raise RegisterError(
            f"{name}:1: its format has version {head.get('version')!r}, this software reads {VERSION}; use the "
            "software that wrote it"
        )
    for problem in _disorder(rows):
        raise RegisterError(f"{name}:{problem}; {_CURE}")
    return rows


def _row(name: str, number: int, line: bytes) -> Row:
    where = f"{name}:{number}"
    if line.endswith(b"\r"):
        raise RegisterError(f"{where}: changed: an editor or a copy made its line end anew; {_CURE}")
    tail = _TAIL.fullmatch(line[-77:])
    if tail is None:
        raise RegisterError(f"{where}: changed: it does not end with its own SHA-256; {_CURE}")
    found, said = hashlib.sha256(line[:-77]).hexdigest(), tail[1].decode()
    if found != said:
        raise RegisterError(
            f"{where}: changed: the SHA-256 of its text is {found[:12]}…, it says {said[:12]}…; {_CURE}"
        )
    try:
        text = line.decode()
        body = json.loads(text, object_pairs_hook=_once)
    except ValueError as error:
        raise RegisterError(
            f"{where}: its hash holds, but it is no line of a register ({error}); {_CURE}"
        ) from None
    return Row(number, text, body, said)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


def _disorder(rows: Sequence[Row]) -> Iterator[str]:
    """The first line that does not follow the one above it, and why."""
    numbers = [row.body.get("entry") for row in rows]
    for due, row in enumerate(rows):
        number = numbers[due]
        if number != due:
            yield f"{row.line}: {_misplaced(numbers, due, number)}"
        elif due and row.body.get("previous") != rows[due - 1].sha256:
            yield (
                f"{row.line - 1}: replaced: line {row.line} was written after another line than this one; the "
                f"hash of the line before it was {str(row.body.get('previous'))[:12]}…"
            )


def _misplaced(numbers: Sequence[object], due: int, number: object) -> str:
    if not isinstance(number, int) or number < due:
        return f"doubled: entry {number} stands here, where entry {due} should"
    if due in numbers[due + 1 :]:
        at = numbers.index(due, due + 1) + 1
        return f"changed places: entry {number} stands here, entry {due} stands on line {at}"
    gone = f"entry {due}" if number == due + 1 else f"entries {due} to {number - 1}"
    return f"missing: {gone} should stand before entry {number}"
