"""Whether a file has the entries of a bench description, each of the right form; and the bench, as far as it has."""

import copy
from collections.abc import Iterable, Mapping
from typing import Any, Final, NamedTuple

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from interlock.bench.models import Bench
from interlock.bench.refusal import near_words
from interlock.bench.schema import entries, example, schema_at
from interlock.bench.structure_words import describe, path_of
from interlock.bench.yaml_source import Mistake, Path, YamlSource

__all__ = ["Structure", "read_structure"]

_MOST_ROUNDS: Final = 4


class Structure(NamedTuple):
    """What was wrong, and the bench with an example in the place of each wrong entry (None: beyond repair)."""

    bench: Bench | None
    mistakes: list[Mistake]


def read_structure(source: YamlSource) -> Structure:
    """Validate the data of `source`; each mistake's path is added to `source.broken`.

    The bench returned beside mistakes serves only to look for further ones.
    """
    data, mistakes = copy.deepcopy(source.data), list[Mistake]()
    for _ in range(_MOST_ROUNDS):
        try:
            return Structure(Bench.model_validate(data), mistakes)
        except ValidationError as error:
            details = error.errors(include_url=False)
        meant = _meant(source, details)
        mistakes += _mistakes(source, details, meant)
        data = _repaired(data, details, meant)
        for path, word in meant.items():
            source.rename(path, word)
    return Structure(None, mistakes)


def _mistakes(
    source: YamlSource, details: Iterable[ErrorDetails], meant: Mapping[Path, str]
) -> list[Mistake]:
    found = {(*path[:-1], word) for path, word in meant.items()}
    new = [detail for detail in details if not _known(source, detail) and path_of(detail) not in found]
    source.broken |= {path_of(detail) for detail in new}
    return [describe(detail) for detail in new]


def _known(source: YamlSource, detail: ErrorDetails) -> bool:
    path = path_of(detail)
    return source.is_broken(path) or (detail["type"] == "value_error" and source.holds_broken(path))


def _meant(source: YamlSource, details: Iterable[ErrorDetails]) -> dict[Path, str]:
    """The entry that each unknown key was probably meant to be: the likest of those that do not stand there."""
    meant: dict[Path, str] = {}
    for path in (path_of(detail) for detail in details if detail["type"] == "extra_forbidden"):
        taken = {word for other, word in meant.items() if other[:-1] == path[:-1]}
        absent = {name for name in entries(path[:-1]) if (*path[:-1], name) not in source.keys} - taken
        if near := near_words(str(path[-1]), absent):
            meant[path] = near[0]
    return meant


def _repaired(data: Any, details: Iterable[ErrorDetails], meant: Mapping[Path, str]) -> Any:
    for detail in sorted(details, key=_order):
        holder, path = _holder(data, path_of(detail))
        if not path:
            return example(schema_at(()))
        if _is_of_key(detail):
            value = holder.pop(path[-1], None)
            if path in meant:
                holder[meant[path]] = value
        else:
            holder[path[-1]] = example(schema_at(path))
    return data


def _holder(data: Any, path: Path) -> tuple[Any, Path]:
    """What holds the entry at `path`, and that path; shorter where one text stands for a list of one."""
    holder = data
    for end, step in enumerate(path[:-1], 1):
        if not isinstance(holder[step], dict | list):
            return holder, path[:end]
        holder = holder[step]
    return holder, path


def _order(detail: ErrorDetails) -> tuple[bool, int]:
    """Keys go last, the deepest first: after what is below them was mended."""
    return _is_of_key(detail), -len(path_of(detail))


def _is_of_key(detail: ErrorDetails) -> bool:
    return detail["type"] == "extra_forbidden" or "[key]" in detail["loc"]
