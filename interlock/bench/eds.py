"""The object dictionary of a CANopen node, out of its EDS or DCF (CiA 306), read by the package `canopen`."""

import io
import re
from collections.abc import Iterator, Mapping
from configparser import RawConfigParser
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from interlock.bench.refusal import Refusal, quoted

__all__ = ["Dictionary", "Entry", "read_eds"]

_MOST_BYTES: Final = 20_000_000
_MOST_SUBS: Final = 254
_ENTRIES: Final = re.compile(r"^\s*NrOfEntries\s*=\s*(\w+)", re.IGNORECASE | re.MULTILINE)
_SECTION: Final = re.compile(r"\[\s*([0-9A-Fa-f]{4})(?:sub([0-9A-Fa-f]{1,2}))?\s*\]", re.IGNORECASE)
_OWN_NODE: Final = re.compile(r"^\s*NodeID\s*=\s*(\w+)", re.IGNORECASE | re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry that holds a value: an object, or a sub-object."""

    name: str
    kind: int  # data type by CiA 301, table of data types
    value: int | None  # as the DCF sets it, else the default; None: the file gives none
    line: int


@dataclass(frozen=True, slots=True)
class Dictionary:
    """The entries of one node by object and sub-object."""

    file: str
    entries: Mapping[tuple[int, int], Entry]

    def find(self, index: int, sub: int = 0) -> Entry | None:
        """The entry, if the file has it."""
        return self.entries.get((index, sub))

    def value(self, index: int, sub: int = 0) -> int | None:
        """The value of an entry; None if there is no entry or it gives none."""
        entry = self.find(index, sub)
        return None if entry is None else entry.value


def read_eds(path: Path, node: int) -> Dictionary:
    """The dictionary of the node with this number; raises Refusal with one line of reason."""
    text = _text(path)
    own = _OWN_NODE.search(text)
    if own is not None and own[1] != str(node) and own[1].lower() != f"{node:#04x}":
        why = f"{path.name} is made out for node {own[1]}, not {node}"
        raise Refusal(why, "give the file of this node, or its true number")
    for count in _ENTRIES.finditer(text):  # the package would count up to any number
        line = text.count("\n", 0, count.start()) + 1
        if _number(path, count[1], line) > _MOST_SUBS:
            raise Refusal(f"{path.name}:{line}: an object has no {count[1]} entries", "mend the EDS")
    dictionary = _parsed(path, text, node)
    lines = _lines(text)
    entries = {
        place: _entry(path, variable, name, lines[place])
        for place, name, variable in _variables(dictionary)
        if place in lines  # the package makes up entries that the file lacks
    }
    return Dictionary(path.name, {**entries, **_compact(path, text, lines)})


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return file.read(_MOST_BYTES).decode("cp1252")
    except UnicodeDecodeError as error:
        why = f"byte {error.start} of {path.name} is no character in Windows-1252"
        raise Refusal(why, "export the EDS anew") from error
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte
        why = getattr(error, "strerror", None) or str(error)
        raise Refusal(f"the EDS cannot be read ({why})", "name an EDS or DCF file beside this one") from error


def _parsed(path: Path, text: str, node: int) -> Any:
    try:
        from canopen.objectdictionary import eds
    except ImportError as error:
        why = "reading an EDS needs the package 'canopen', which is not installed"
        raise Refusal(why, "install interlock with its extra 'canopen'") from error
    try:
        read: Any = eds.import_eds  # the library gives it no types
        return read(io.StringIO(text), node)
    except Exception as error:
        said = " ".join(str(error).split()).replace("<???>", path.name)
        why = f"{path.name} is no sound EDS ({type(error).__name__}: {said})"[:200]
        raise Refusal(why, "mend the EDS, or ask the maker of the device for it") from error


def _variables(dictionary: Any) -> Iterator[tuple[tuple[int, int], str, Any]]:
    """Each variable with its place and its name, which holds that of the object it belongs to."""
    for index in dictionary:
        item = dictionary[index]
        if not hasattr(item, "values"):
            yield (index, 0), item.name, item
            continue
        for sub in item:
            part = item[sub]
            whole = part.name if part.name.startswith(item.name) else f"{item.name} {part.name}"
            yield (index, sub), whole, part


def _lines(text: str) -> dict[tuple[int, int], int]:
    found: dict[tuple[int, int], int] = {}
    for number, line in enumerate(text.splitlines(), 1):
        if match := _SECTION.match(line.strip()):
            found.setdefault((int(match[1], 16), int(match[2] or "0", 16)), number)
    return found


def _compact(path: Path, text: str, lines: Mapping[tuple[int, int], int]) -> dict[tuple[int, int], Entry]:
    """Sub-objects whose values stand in one section, which the package leaves out (CiA 306, CompactSubObj)."""
    file = RawConfigParser(inline_comment_prefixes=(";",), strict=False)
    file.read_string(text)
    found: dict[tuple[int, int], Entry] = {}
    for section in file.sections():
        match = re.fullmatch(r"([0-9A-Fa-f]{4})Value", section, re.IGNORECASE)
        wanted = match is not None and 0x1400 <= int(match[1], 16) < 0x1C00  # set-up of process data
        if match is None or not wanted or not file.has_option(match[1], "CompactSubObj"):
            continue
        index = int(match[1], 16)
        found |= dict(_values(path, index, file[match[1]], file[section], lines[index, 0]))
    return found


def _values(
    path: Path, index: int, parent: Mapping[str, str], values: Mapping[str, str], line: int
) -> Iterator[tuple[tuple[int, int], Entry]]:
    """The number of entries, and each entry: with its own value, or the default of all."""
    name, kind = parent.get("ParameterName", ""), _number(path, parent.get("DataType", ""), line)
    count = _number(path, parent["CompactSubObj"], line)
    if not 0 <= count <= _MOST_SUBS:
        raise Refusal(f"{path.name}:{line}: an object has no {count} entries", "mend the EDS")
    yield (index, 0), Entry(name, 0x5, count, line)
    for sub in range(1, count + 1):
        given = values.get(str(sub), parent.get("DefaultValue", ""))
        yield (index, sub), Entry(f"{name} {sub}", kind, _number(path, given, line) if given else None, line)


def _number(path: Path, text: str, line: int) -> int:
    try:
        return int(text, 0)
    except ValueError as error:
        raise Refusal(f"{path.name}:{line}: {quoted(text)} is no number", "mend the EDS") from error


def _entry(path: Path, variable: Any, name: str, line: int) -> Entry:
    values = [variable.value, variable.default]
    raws = [getattr(variable, "value_raw", None), getattr(variable, "default_raw", None)]
    for value, raw in zip(values, raws, strict=True):
        if isinstance(value, int):
            return Entry(name, variable.data_type, value, line)
        if raw not in (None, "") and value is None and 0x1000 <= variable.index < 0x2000:
            why = f"{path.name}:{line}: the value {quoted(raw)} of {quoted(name)} is no number"
            raise Refusal(why, "mend the EDS")
    return Entry(name, variable.data_type, None, line)
