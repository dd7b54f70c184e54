"""The sample bench as text, changed word by word, and the places where its mistakes must be found."""

from pathlib import Path
from typing import NamedTuple

from interlock.bench import Bench, parse_bench
from interlock.errors import BenchError, Problem

FOLDER = Path(__file__).parents[1] / "benches" / "sample"
FILE = FOLDER / "bench.yaml"
WHOLE = FILE.read_text(encoding="utf-8")
TEXT = WHOLE.partition("\nrating:")[0] + "\n"  # what the rating needs is its own room's business
MARK = "‸"  # stands in a text before the place at which a mistake must be found


class Found(NamedTuple):
    """A problem without its file."""

    line: int
    column: int
    said: str


def load(text: str) -> Bench:
    """The bench in the text, checked against the DBC of the sample."""
    return parse_bench("bench.yaml", text, folder=FOLDER)


def edited(*changes: tuple[str, str]) -> str:
    """The sample's text with the first occurrence of each old text replaced; marks may stand in the new ones."""
    text = TEXT
    for old, new in changes:
        assert old in text, f"the sample no longer holds {old!r}"
        text = text.replace(old, new, 1)
    return text


def problems(text: str) -> list[Problem]:
    """Every problem of the text; fails if it loads."""
    try:
        load(text)
    except BenchError as error:
        return list(error.problems)
    raise AssertionError("the text loads")


def found(text: str) -> list[Found]:
    """Every problem of the text with the marks taken out, without its file."""
    return [
        Found(one.line, one.column, f"{one.what}: {one.why}; {one.instead}")
        for one in problems(text.replace(MARK, ""))
    ]


def marks(text: str) -> list[tuple[int, int]]:
    """Line and column of each mark, as they are once the marks are taken out."""
    places = []
    for number, line in enumerate(text.split("\n"), 1):
        parts = line.split(MARK)
        places += [(number, sum(map(len, parts[:end])) + 1) for end in range(1, len(parts))]
    return places


def check(text: str, *said: str) -> None:
    """The problems of the text are exactly these, at its marks, in order."""
    assert found(text) == [Found(*place, one) for place, one in zip(marks(text), said, strict=True)]
