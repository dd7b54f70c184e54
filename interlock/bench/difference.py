"""What changed from one bench description to another."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath

from pydantic import BaseModel

from interlock.bench.eds_difference import eds_changes
from interlock.bench.expr import And, Const, Name, Not, Or, render
from interlock.bench.fingerprint import canonical
from interlock.bench.models import Bench
from interlock.bench.observe import Amount, Condition
from interlock.bench.quantity import time_text
from interlock.bench.schema import schema_at
from interlock.bench.yaml_source import Path

__all__ = ["Change", "difference"]

Leaves = dict[Path, tuple[str, str]]  # canonical form and text by path


@dataclass(frozen=True, slots=True, order=True)
class Change:
    """One entry that is not what it was; `old` or `new` is None where it does not stand."""

    path: Path
    old: str | None
    new: str | None

    def __str__(self) -> str:
        return f"{'.'.join(map(str, self.path))}: {_said(self.old)} -> {_said(self.new)}"


def difference(
    old: Bench,
    new: Bench,
    *,
    dbc: tuple[bytes, bytes] | None = None,
    folders: tuple[FilePath, FilePath] | None = None,
) -> tuple[Change, ...]:
    """Every entry that differs in meaning, in the order of the old file, then of the new one.

    Empty exactly if the fingerprints are equal, given the bytes of both DBC files, old and new, in `dbc`, and in
    `folders` where the EDS files lie that the benches name: comments, order of keys and spelling of units are no
    change. Raises InterlockError for an EDS that cannot be read.
    """
    before, after = dict(_leaves(old, ())), dict(_leaves(new, ()))
    found = [
        Change(path, _text(before, path), _text(after, path))
        for path in dict.fromkeys([*before, *after])
        if before.get(path) != after.get(path) and _counts(path, before, after)
    ]
    if dbc is not None and dbc[0] != dbc[1]:
        sums = [f"SHA-256 {hashlib.sha256(content).hexdigest()}" for content in dbc]
        found.append(Change(("shows", "dbc", "content"), *sums))
    return (*found, *(() if folders is None else _nodes(old, new, folders)))


def _nodes(old: Bench, new: Bench, folders: tuple[FilePath, FilePath]) -> Iterator[Change]:
    """What the EDS files of nodes say otherwise that both benches have; a node that came or went is told already."""
    before, after = ({} if one.shows is None else one.shows.canopen for one in (old, new))
    for name, was in before.items():
        if (now := after.get(name)) is not None:
            files = (folders[0] / was.eds, was.node), (folders[1] / now.eds, now.node)
            for what, earlier, later in eds_changes(*files):
                yield Change(("shows", "canopen", name, "eds", what), earlier, later)


def _counts(path: Path, before: Leaves, after: Leaves) -> bool:
    """Whether two leaves differ in meaning, and not only since one of them is a mapping that was, or is, empty."""
    both = (before.get(path), after.get(path))
    if None not in both:
        return both[0] is not None and both[1] is not None and both[0][0] != both[1][0]
    other = after if both[1] is None else before
    return not any(len(longer) > len(path) and longer[: len(path)] == path for longer in other)


def _text(leaves: Leaves, path: Path) -> str | None:
    return leaves[path][1] if path in leaves else None


def _said(text: str | None) -> str:
    return "(nothing)" if text is None else text


def _leaves(value: object, path: Path) -> Iterator[tuple[Path, tuple[str, str]]]:
    match value:
        case BaseModel():
            for name, field in type(value).model_fields.items():
                part = getattr(value, name)
                if part is not None:
                    yield from _leaves(part, (*path, field.alias or name))
        case Mapping() if value:
            for key, part in value.items():
                yield from _leaves(part, (*path, str(key)))
        case list() if any(isinstance(part, BaseModel | Mapping | list) for part in value):
            for index, part in enumerate(value):
                yield from _leaves(part, (*path, index))
        case _:
            yield path, (canonical(value), _shown(value, path))


def _shown(value: object, path: Path) -> str:
    match value:
        case Const() | Name() | Not() | And() | Or():
            return render(value)
        case Condition():
            return value.text
        case Amount():
            return f"{value.value:g} {value.unit}".strip()
        case bool():
            return str(value).lower()
        case int() if schema_at(path).get("pattern", "").endswith("h$"):
            return f"{value:X}h"
        case int() if schema_at(path).get("type") == "string":
            return time_text(value)
        case list():
            return ", ".join(_shown(part, path) for part in value)
        case Mapping():
            return "(empty)"
        case None:
            return "(none)"
    return str(value)
