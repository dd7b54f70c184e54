"""YAML read by its nodes: every value keeps its line and column, and nothing is guessed."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import yaml

from interlock.bench.refusal import quoted
from interlock.bench.yaml_compose import STR, Composed, Refused, compose
from interlock.bench.yaml_scalar import read_scalar
from interlock.errors import BenchError, Problem

__all__ = ["Mistake", "Path", "YamlSource", "read_composed", "read_yaml"]

Path = tuple[str | int, ...]
_UNPRINTABLE: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")  # by escapes in double quotes


@dataclass(frozen=True, slots=True)
class Mistake:
    """Something wrong with the entry at `path`; `YamlSource.place` finds its line and column."""

    path: Path
    what: str
    why: str
    instead: str
    at_key: bool = False
    word: str = ""  # the part of a text that is to blame
    column: int | None = None  # 0-based place in a text of what is to blame
    also: tuple[Path, ...] = ()  # other entries without which it would be no mistake


@dataclass(slots=True)
class YamlSource:
    """Plain values of one file, and where each of them stands."""

    file: str
    data: object = None
    places: dict[Path, tuple[int, int]] = field(default_factory=dict)  # of values
    keys: dict[Path, tuple[int, int]] = field(default_factory=dict)  # of mapping keys
    problems: list[Problem] = field(default_factory=list)
    texts: dict[Path, tuple[int, str]] = field(default_factory=dict)  # columns by which a text starts later
    broken: set[Path] = field(default_factory=set)  # entries of which a problem is known
    twice: set[Path] = field(
        default_factory=set
    )  # entries that stand there more than once; the first one is read

    def problem(self, path: Path, what: str, why: str, instead: str, *, at_key: bool = False) -> Problem:
        """A problem at the given path, or at its nearest parent that stands in the file."""
        return self.place(Mistake(path, what, why, instead, at_key))

    def place(self, mistake: Mistake) -> Problem:
        """The mistake with its line and column: of its word, of its entry or of the nearest parent."""
        path = mistake.path
        line, column = self._where(path, at_key=mistake.at_key)
        if path in self.texts and not mistake.at_key:
            column += _offset(mistake, *self.texts[path])
        return Problem(self.file, line, column, mistake.what, mistake.why, mistake.instead)

    def _where(self, path: Path, *, at_key: bool) -> tuple[int, int]:
        wanted = self.keys if at_key else self.places
        for end in range(len(path), -1, -1):
            for table in (wanted, self.keys, self.places):
                if path[:end] in table:
                    return table[path[:end]]
        return (1, 1)

    def is_broken(self, path: Path) -> bool:
        """Whether the entry at `path`, or one that holds it, has a problem already."""
        return any(path[:end] in self.broken for end in range(len(path) + 1))

    def explains(self, mistake: Mistake) -> bool:
        """Whether a known problem is enough to explain the mistake."""
        also = any(self.is_broken(path) or self.holds_broken(path) for path in mistake.also)
        return also or self.is_broken(mistake.path)

    def rename(self, path: Path, word: str) -> None:
        """Lets what stands at `path` be found as well by the key that it was meant to have."""
        for table in (self.places, self.keys, self.texts):
            for old in [old for old in table if old[: len(path)] == path]:
                table[(*path[:-1], word, *old[len(path) :])] = table[old]  # type: ignore[assignment]  # from a table to itself
        within = [old for old in self.broken if old[: len(path)] == path and old != path]
        self.broken |= {(*path[:-1], word, *old[len(path) :]) for old in within}

    def holds_broken(self, path: Path) -> bool:
        """Whether an entry within that at `path` has a problem already."""
        return any(other[: len(path)] == path for other in self.broken)


def read_yaml(file: str, text: str) -> YamlSource:
    """Read one document; problems are collected in the result, broken YAML raises BenchError."""
    return read_composed(file, text, compose(file, text))


def read_composed(file: str, text: str, composed: Composed) -> YamlSource:
    """The same of nodes that are there already."""
    root = composed.root
    if root is None or (root.tag.endswith(":null") and isinstance(root, yaml.ScalarNode)):
        raise BenchError([Problem(file, 1, 1, "empty file", "it holds no bench", "describe a bench in it")])
    source = YamlSource(file)
    source.data = _Reader(source, text, composed.refused).read(root, ())
    return source


class _Reader:
    def __init__(self, source: YamlSource, text: str, refused: dict[int, Refused]) -> None:
        self._source, self._text, self._refused = source, text, refused

    def read(self, node: yaml.Node, path: Path) -> object:
        self._source.places[path] = _place(node)
        if id(node) in self._refused:
            self._wrong(path, self._refused[id(node)])
            return None
        if isinstance(node, yaml.MappingNode):
            return dict(self._pairs(node, path))
        if isinstance(node, yaml.SequenceNode):
            return [self.read(item, (*path, index)) for index, item in enumerate(node.value)]
        return self._scalar(node, path)

    def _pairs(self, node: yaml.MappingNode, path: Path) -> Iterator[tuple[str, object]]:
        seen: set[str] = set()
        for key_node, value_node in node.value:
            if isinstance(key_node, yaml.ScalarNode) and key_node.value in seen:
                self._source.twice.add((*path, key_node.value))
            key = self._key(key_node, seen)
            if key is None or self._lacks_colon(key_node, value_node):
                continue
            seen.add(key)
            self._source.keys[(*path, key)] = _place(key_node)
            if key_node.tag != STR and key_node.style is None:
                self._source.broken.add((*path, key))
            yield key, self.read(value_node, (*path, key))

    def _key(self, node: yaml.Node, seen: set[str]) -> str | None:
        """The key's text; None, and a problem noted, if the pair is not to be read."""
        if refused := self._refusal(node, seen):
            self._note(_place(node), refused)
            return None
        key = str(node.value)
        if node.tag != STR and getattr(node, "style", None) is None:
            why = f"YAML reads this as {read_scalar(key, node.tag).name}, not as a word"
            self._note(_place(node), Refused(f"key {quoted(key)}", why, "put it in quotes"))
        return key

    def _lacks_colon(self, key: yaml.Node, value: yaml.Node) -> bool:
        """Whether YAML made a key of a mere word, as it does in braces; that is noted."""
        between = self._text[key.end_mark.index : value.start_mark.index + 1]
        lacks = value.start_mark.index == value.end_mark.index and ":" not in between
        if lacks:
            why, instead = (
                "it is a key with no value (in braces, a comma ends what is before it)",
                "write 'key: value'; 1.5, not 1,5",
            )
            self._note(_place(key), Refused(f"{quoted(key.value)} without a colon", why, instead))
        return lacks

    def _refusal(self, node: yaml.Node, seen: set[str]) -> Refused | None:
        if id(node) in self._refused:
            return self._refused[id(node)]
        if not isinstance(node, yaml.ScalarNode):
            return Refused("key", "only a word can be a key here", "write a word, a colon, a value")
        key = str(node.value)
        if node.tag.endswith(":merge"):
            why = "merge keys are not read here: each entry must stand where it is read"
            return Refused(f"key {quoted(key)}", why, "write the entries out")
        if key in seen:
            return Refused(f"key {quoted(key)}", "it stands here twice", "keep one of the two")
        if hidden := _hidden(key):
            return Refused(f"key {quoted(key)}", hidden, "write a plain word")
        return None

    def _note(self, place: tuple[int, int], refused: Refused) -> None:
        self._source.problems.append(Problem(self._source.file, *place, *refused))

    def _wrong(self, path: Path, refused: Refused) -> None:
        self._note(self._source.places[path], refused)
        self._source.broken.add(path)

    def _scalar(self, node: yaml.Node, path: Path) -> object:
        text, style = str(node.value), getattr(node, "style", None)
        if hidden := _hidden(text):
            self._wrong(path, Refused(quoted(text), hidden, "write plain text"))
            return None
        self._remember(node, path, text)
        if style is not None or node.tag == STR:
            return text
        read = read_scalar(text, node.tag)
        if read.refused is not None and not (text == "" and path[-2:-1] == ("inputs",)):
            what = quoted(text) if text else "empty value"
            self._wrong(path, Refused(what, *read.refused))
            return text or None
        return read.value

    def _remember(self, node: yaml.Node, path: Path, text: str) -> None:
        raw = self._text[node.start_mark.index : node.end_mark.index]
        if text and raw in {text, f'"{text}"', f"'{text}'"}:
            self._source.texts[path] = (int(raw != text), text)


def _place(node: yaml.Node) -> tuple[int, int]:
    return node.start_mark.line + 1, node.start_mark.column + 1


def _hidden(text: str) -> str:
    """Why the text cannot be printed; empty if it can."""
    wrong = _UNPRINTABLE.search(text)
    return f"it holds the character U+{ord(wrong[0]):04X}, which cannot be printed" if wrong else ""


def _offset(mistake: Mistake, later: int, text: str) -> int:
    if mistake.column is not None:
        return later + mistake.column
    found = re.search(rf"(?<![\w.]){re.escape(mistake.word)}(?!\w)", text) if mistake.word else None
    return later + found.start() if found else 0
