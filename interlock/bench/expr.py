"""Boolean expressions over named contacts: the language of wiring and of device kinds.

expression = term {"or" term}        term = factor {"and" factor}
factor = "not" factor | "(" expression ")" | "always" | "never" | name
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, assert_never

from interlock.bench.refusal import Refusal, quoted

__all__ = [
    "WORDS",
    "And",
    "Const",
    "Expr",
    "ExprError",
    "Name",
    "Not",
    "Or",
    "evaluate",
    "names",
    "parse",
    "rename",
    "render",
]


@dataclass(frozen=True, slots=True)
class Const:
    """`always` (true) or `never` (false)."""

    value: bool


@dataclass(frozen=True, slots=True)
class Name:
    """A contact, output, input or state that is true or false."""

    name: str


@dataclass(frozen=True, slots=True)
class Not:
    """True where its part is false."""

    part: "Expr"


@dataclass(frozen=True, slots=True)
class And:
    """True where all parts are: contacts in series."""

    parts: tuple["Expr", ...]


@dataclass(frozen=True, slots=True)
class Or:
    """True where any part is: contacts in parallel."""

    parts: tuple["Expr", ...]


Expr = Const | Name | Not | And | Or


class ExprError(Refusal):
    """Text that is no expression; `column` is the 0-based place in the text."""

    column: int

    def __init__(self, column: int, why: str) -> None:
        super().__init__(why, "write names joined by and, or, not and brackets", column)


WORDS: Final = frozenset({"and", "or", "not", "always", "never"})
"""What no name may be."""

_TOKEN: Final = re.compile(r"\s*(?:([A-Za-z_][A-Za-z0-9_]*(?:\.[A-Za-z_][A-Za-z0-9_]*)?)|([()]))")
_DEEPEST: Final = 50


def parse(text: str) -> Expr:
    """Read an expression; raises ExprError with the column of the first thing that does not fit."""
    parser = _Parser(list(_tokens(text)), len(text))
    found = parser.either(0)
    parser.end()
    return found


def names(expr: Expr) -> frozenset[str]:
    """Every name that the expression mentions."""
    match expr:
        case Const():
            return frozenset()
        case Name(name):
            return frozenset({name})
        case Not(part):
            return names(part)
        case And(parts) | Or(parts):
            return frozenset().union(*(names(part) for part in parts))
        case _:
            assert_never(expr)


def evaluate(expr: Expr, value: Callable[[str], bool]) -> bool:
    """The expression's truth when `value` tells that of each name."""
    match expr:
        case Const(truth):
            return truth
        case Name(name):
            return value(name)
        case Not(part):
            return not evaluate(part, value)
        case And(parts):
            return all(evaluate(part, value) for part in parts)
        case Or(parts):
            return any(evaluate(part, value) for part in parts)
        case _:
            assert_never(expr)


def rename(expr: Expr, new: Callable[[str], "Expr"]) -> Expr:
    """The expression with each name replaced by what `new` gives for it."""
    match expr:
        case Const():
            return expr
        case Name(name):
            return new(name)
        case Not(part):
            return Not(rename(part, new))
        case And(parts):
            return And(tuple(rename(part, new) for part in parts))
        case Or(parts):
            return Or(tuple(rename(part, new) for part in parts))
        case _:
            assert_never(expr)


def render(expr: Expr) -> str:
    """The expression as text that `parse` reads back to an equal one."""
    match expr:
        case Const(value):
            return "always" if value else "never"
        case Name(name):
            return name
        case Not(part):
            return f"not {_bracket(part, (And, Or))}"
        case And(parts):
            return " and ".join(_bracket(part, (And, Or)) for part in parts)
        case Or(parts):
            return " or ".join(_bracket(part, (Or,)) for part in parts)
        case _:
            assert_never(expr)


def _bracket(part: Expr, inside: tuple[type, ...]) -> str:
    return f"({render(part)})" if isinstance(part, inside) else render(part)


def _tokens(text: str) -> Iterator[tuple[int, str]]:
    at, end = 0, len(text.rstrip())
    while at < end:
        match = _TOKEN.match(text, at)
        if match is None:
            at += len(text[at:]) - len(text[at:].lstrip())
            raise ExprError(at, f"{quoted(text[at])} has no meaning here")
        yield match.start(match.lastindex or 0), match[match.lastindex or 0]
        at = match.end()


class _Parser:
    def __init__(self, tokens: list[tuple[int, str]], length: int) -> None:
        self._tokens, self._next, self._length = tokens, 0, length

    def either(self, depth: int) -> Expr:
        parts = [self._both(depth)]
        while self._take("or"):
            parts.append(self._both(depth))
        return parts[0] if len(parts) == 1 else Or(tuple(parts))

    def end(self) -> None:
        if self._next < len(self._tokens):
            at, word = self._tokens[self._next]
            raise ExprError(at, f"{quoted(word)} follows a complete expression")

    def _both(self, depth: int) -> Expr:
        parts = [self._factor(depth)]
        while self._take("and"):
            parts.append(self._factor(depth))
        return parts[0] if len(parts) == 1 else And(tuple(parts))

    def _factor(self, depth: int) -> Expr:
        if depth > _DEEPEST:
            raise ExprError(self._place(), f"brackets and 'not' nest deeper than {_DEEPEST}")
        if self._take("not"):
            return Not(self._factor(depth + 1))
        if self._take("("):
            inner = self.either(depth + 1)
            if not self._take(")"):
                raise ExprError(self._place(), "a closing bracket is missing")
            return inner
        return self._name()

    def _name(self) -> Expr:
        if self._next == len(self._tokens):
            raise ExprError(self._length, "the expression ends where a name should stand")
        at, word = self._tokens[self._next]
        if word in {"and", "or", ")"}:  # "not" and "(" were taken before
            raise ExprError(at, f"'{word}' stands where a name should")
        self._next += 1
        return {"always": Const(True), "never": Const(False)}.get(word, Name(word))

    def _take(self, word: str) -> bool:
        taken = self._next < len(self._tokens) and self._tokens[self._next][1] == word
        self._next += taken
        return taken

    def _place(self) -> int:
        return self._tokens[self._next][0] if self._next < len(self._tokens) else self._length
