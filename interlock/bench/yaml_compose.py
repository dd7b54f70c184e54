"""From text to YAML nodes, without the parts of YAML that hide what a file says."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, NamedTuple

import yaml
from yaml.composer import ComposerError

from interlock.bench.refusal import quoted
from interlock.bench.text_file import place_after
from interlock.errors import BenchError, Problem

__all__ = ["DEEPEST", "MOST_NODES", "STR", "Composed", "Refused", "compose", "compose_own", "legible"]

DEEPEST: Final = 40
MOST_NODES: Final = 20_000
STR: Final = "tag:yaml.org,2002:str"

# What YAML forbids, and what editors count otherwise than YAML does: line ends other than CR and LF, marks
# within the text, characters that change the direction of writing.
_FORBIDDEN: Final = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\u2027\u202f-\u2065\u206a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)


class Refused(NamedTuple):
    """A node that is not read, and why."""

    what: str
    why: str
    instead: str


@dataclass(frozen=True, slots=True)
class Composed:
    """The root node (None: the file is empty), and the nodes that are not to be read, by their id()."""

    root: yaml.Node | None
    refused: dict[int, Refused]


@lru_cache(maxsize=8)  # a verb reads its bench file more than once; nobody changes a node
def compose(file: str, text: str) -> Composed:
    """The nodes of the only document in `text`; raises BenchError where it is no YAML."""
    if hidden := [_forbidden(file, text, found.start()) for found in _FORBIDDEN.finditer(text)]:
        raise BenchError(hidden)
    loader = _Loader(text)
    try:
        return Composed(loader.get_single_node(), loader.refused)
    except yaml.MarkedYAMLError as error:
        raise BenchError([_broken(file, error, loader.get_mark())]) from error
    except (ValueError, OverflowError) as error:  # the number of a \\U escape or of a %YAML line
        mark = loader.get_mark()
        why = "no character or version has this number"
        raise BenchError(
            [Problem(file, mark.line + 1, mark.column + 1, "broken YAML", why, "mend the number")]
        ) from error


def compose_own(text: str) -> Composed:
    """The nodes of a file of this package, by the quicker parser where there is one: its YAML is known to be sound."""
    root = yaml.compose(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    for node in [] if root is None else _scalars(root):
        node.style = node.style or None  # of plain text; the quicker parser says ''
    return Composed(root, {})


def _scalars(node: yaml.Node) -> Iterator[yaml.ScalarNode]:
    match node:
        case yaml.ScalarNode():
            yield node
        case yaml.SequenceNode():
            yield from (scalar for item in node.value for scalar in _scalars(item))
        case yaml.MappingNode():
            yield from (scalar for pair in node.value for item in pair for scalar in _scalars(item))


def legible(text: str) -> bool:
    """Whether each character of the text may stand in a file that is read here."""
    return _FORBIDDEN.search(text) is None


class _Loader(yaml.SafeLoader):
    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.refused: dict[int, Refused] = {}
        self._depth, self._nodes = 0, 0

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        event: Any = self.peek_event()  # type: ignore[no-untyped-call]  # the stubs leave it untyped
        if isinstance(event, yaml.AliasEvent):
            return self._alias(self.get_event())  # type: ignore[no-untyped-call]  # as above
        if self._depth >= DEEPEST:
            raise ComposerError(None, None, f"nested deeper than {DEEPEST} levels", event.start_mark)
        self._depth, self._nodes = self._depth + 1, self._nodes + 1
        if self._nodes > MOST_NODES:
            raise ComposerError(None, None, "too many entries", event.start_mark)
        self.anchors.clear()  # nothing refers to them
        node = super().compose_node(parent, index)
        self._depth -= 1
        if event.tag is not None:
            what = f"tag {quoted(event.tag.replace('tag:yaml.org,2002:', '!!'))}"
            why = "tags are not read here: a value is what it looks like"
            self.refused[id(node)] = Refused(what, why, "remove the tag; put text in quotes")
        return node

    def _alias(self, event: Any) -> yaml.Node:
        node = yaml.ScalarNode(STR, "", event.start_mark, event.end_mark, style="'")
        why = "aliases are not read here: each entry must stand where it is read"
        self.refused[id(node)] = Refused(f"alias {quoted(f'*{event.anchor}')}", why, "write the entry out")
        return node


def _forbidden(file: str, text: str, at: int) -> Problem:
    what, why = f"character U+{ord(text[at]):04X}", "YAML forbids it, or no editor shows it"
    return Problem(file, *place_after(text[:at]), what, why, "remove it; save as UTF-8")


_TAB = ("a tab cannot indent or separate here", "write spaces")
_PHRASES: Final[tuple[tuple[str, str, str], ...]] = (
    (r"found character '\\t'", *_TAB),
    (r"found character '(.)'", r"no value can begin with \1", "put the value in quotes"),
    (
        "mapping values are not",
        "this colon makes a second key of the line",
        "put text that holds ': ' in quotes",
    ),
    ("could not find expected ':'", "this line is no 'key: value'", "add the colon, or mend its indentation"),
    (
        "expected <block end>",
        "this line fits neither the entry above it nor its keys",
        "mend its indentation",
    ),
    (r"expected ',' or '([]}])'", r"a comma or '\1' is missing before this", "add it"),
    ("unexpected (end of stream|document separator)", "this quote is never closed", "close it"),
    ("unknown escape", "a backslash in double quotes begins a code", r"write '\\', or use single quotes"),
    ("sequence entries are not", "a list cannot begin on the line of its key", "begin it on the next line"),
    ("but found another document", "a second document begins here", "keep one bench a file"),
    ("nested deeper", f"entries nest deeper than {DEEPEST} levels", "no bench needs that: flatten it"),
    ("too many entries", f"keys and values are more than {MOST_NODES:,}", "describe one bench a file"),
    ("expected the node content", "a value is missing before this", "write it, or remove what asks for it"),
    ("undefined tag handle", "tags are not read here", "remove the tag"),
)
_AT_BEGINNING: Final = re.compile("could not find expected ':'|end of stream|document separator")


def _broken(file: str, error: yaml.MarkedYAMLError, end: yaml.Mark) -> Problem:
    said = str(error.problem or error.context)
    marks = (error.context_mark, error.problem_mark)
    first, second = marks if _AT_BEGINNING.search(said) else reversed(marks)
    mark = first or second or end
    why, instead = " ".join(said.split())[:120], "mend the syntax here"
    for pattern, phrase, cure in _PHRASES:
        if found := re.search(pattern, said):
            why, instead = found.expand(phrase), cure
            break
    return Problem(file, mark.line + 1, mark.column + 1, "broken YAML", why, instead)
