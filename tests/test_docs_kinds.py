"""The page on how to describe a bench is true: its table of kinds, and every YAML example on it."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from interlock.bench import Bench, Kind, builtin_kinds, parse_bench
from interlock.bench.expr import render
from interlock.bench.kind import Fault
from interlock.chain import CheckResult, check
from interlock.errors import BenchError
from interlock.rating.rate import rate
from interlock.rating.section import rating_of
from interlock.verdict import Verdict

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "interlock" / "bench" / "DESCRIBE.md"
SHAPES = ROOT / "tests" / "benches" / "shapes"
TEXT = PAGE.read_text("utf-8")
BLOCK = re.compile(r"^<!-- (?P<mark>[^\n]+?) -->\n```yaml\n(?P<yaml>.*?)^```$", re.MULTILINE | re.DOTALL)
HEAD = (
    "| kind | what it is | inputs | outputs | demands | delays | what people do | faults |\n"
    + "| --- " * 8
    + "|"
)


@dataclass(frozen=True)
class Example:
    """One YAML block of the page: what is said of it, and the whole bench that it stands for."""

    mark: str
    text: str

    @property
    def says(self) -> list[str]:
        return self.mark.split(": ", 1)[1].split(" ", 1)


def blocks() -> list[tuple[str, str]]:
    return [(found["mark"], found["yaml"]) for found in BLOCK.finditer(TEXT)]


def examples() -> Iterator[Example]:
    """The whole benches, and those that differ from the last whole one in some lines."""
    last = ""
    for mark, text in blocks():
        if mark.startswith("check: "):
            last = text
            yield Example(mark, text)
        elif mark.startswith("instead: "):
            yield Example(mark, replaced(last, text))


def replaced(bench: str, lines: str) -> str:
    """The bench with each of the lines in place of the one of the same key and depth, which stands there once."""
    for line in lines.splitlines():
        key = line.split(":")[0] + ":"
        [old] = [one for one in bench.splitlines() if one.startswith(key)]
        bench = bench.replace(f"{old}\n", f"{line}\n")
    return bench


EXAMPLES = list(examples())
PIECES = "\n".join(text for mark, text in blocks() if mark == "piece")


@cache
def checked(text: str) -> CheckResult:
    return check(parse_bench("page.yaml", text))


def failing(result: CheckResult) -> list[str]:
    return [one.id for one in result.properties if one.verdict is Verdict.FAIL]


def whole() -> Bench:
    """The bench of the first chapter, its log signals looked up in the demo's message database."""
    return parse_bench("page.yaml", PIECES, folder=ROOT / "interlock" / "demo")


def test_every_yaml_block_is_tested() -> None:
    elsewhere = sum(
        mark == "piece" or mark.startswith(("sources: ", "log: ", "rule: ")) for mark, _ in blocks()
    )  # see test_docs_sources, test_bench_log_messages, test_replay_repeat_rule
    assert TEXT.count("```yaml") == len(blocks()) == len(EXAMPLES) + elsewhere


def test_the_pieces_are_one_bench_with_every_section() -> None:
    bench = whole()
    assert check(bench).verdict is Verdict.PASS
    sections = set(Bench.model_fields) - {"kinds"}
    assert set(re.findall(r"^(\w+):", PIECES, re.MULTILINE)) == sections
    assert [heading for heading in re.findall(r"^### (\w+):", TEXT, re.MULTILINE) if heading in sections] == [
        *re.findall(r"^(\w+):", PIECES, re.MULTILINE)
    ]


def test_the_piece_on_rating_can_be_rated(tmp_path: Path) -> None:
    """What must be typed is read; whether the claims hold is for the structure and the logs to show."""
    file = tmp_path / "bench.yaml"
    file.write_text(PIECES, encoding="utf-8")
    [one] = rate(rating_of(file), supported_categories={"hood_stop": ["3"]}).functions
    assert one.name == "hood_stop"


@pytest.mark.parametrize("one", EXAMPLES, ids=lambda one: one.mark)
def test_an_example_gets_the_stated_verdict(one: Example) -> None:
    verdict, *more = one.says
    if verdict == "refused":
        with pytest.raises(BenchError) as refused:
            parse_bench("page.yaml", one.text)
        assert more[0] in str(refused.value)
        return
    result = checked(one.text)
    if verdict == "pass":
        assert result.verdict is Verdict.PASS
    else:
        assert failing(result)[:1] == more


@pytest.mark.parametrize(
    "one", [one for one in EXAMPLES if one.mark.startswith("check: pass ")], ids=lambda one: one.mark
)
def test_a_worked_example_is_the_bench_that_the_chain_s_tests_prove(one: Example) -> None:
    assert one.text == (SHAPES / f"{one.says[1]}.yaml").read_text("utf-8")


def test_the_worked_examples_are_all_there() -> None:
    titles = re.findall(r"^### (.+)", TEXT.split("## Worked examples")[1], re.MULTILINE)
    assert titles == [
        "A single contactor",
        "A rig without a reset",
        "Guard locking",
        "A guard that a timer frees",
        "Stop category 1 on one unit",
        "Three cover doors in series",
        "The emergency stop in the control of each drive",
        "An emergency stop that takes the supply alone",
        "Set-up mode with an enabling button",
        "Two zones",
        "Units that stop in different times",
    ]


def table() -> str:
    """The table of kinds as it must stand on the page."""
    return "\n".join([HEAD, *(_row(name, kind) for name, kind in builtin_kinds().items())])


def _row(name: str, kind: Kind) -> str:
    inputs = [one if default is None else f"{one} = {default}" for one, default in kind.inputs.items()]
    demands = [] if kind.demand is None else [render(kind.demand)]
    acts = list(dict.fromkeys(step.act for step in kind.transitions if step.act is not None))
    cells = [inputs, [*kind.outputs, *kind.values], demands, kind.delays, acts, list(kind.faults)]
    listed = (", ".join(f"`{one}`" for one in cell) or "-" for cell in cells)
    return " | ".join([f"| `{name}`", kind.text, *listed]) + " |"


def test_the_table_of_kinds_is_that_of_the_files() -> None:
    found = TEXT.split("<!-- kinds -->\n")[1].split("\n<!-- end of kinds -->")[0]
    assert found == table(), f"put this table on the page:\n{table()}"


def test_cautions_stand_before_the_first_example() -> None:
    assert TEXT.index("can kill") < TEXT.index("local codes and licensed practice") < TEXT.index("```yaml")


@pytest.mark.parametrize(
    "name",
    [
        "act",
        "when",
        "after",
        "takes",
        "demand",
        "channels",
        "momentary",
        "off_channels",
        "starts",
        "guard",
        "clears",
        "braking",
    ],
)
def test_every_part_of_a_kind_is_explained(name: str) -> None:
    assert f"`{name}" in TEXT.split("## A kind of your own")[1]
    assert name in {*Kind.model_fields, *Fault.model_fields, "act", "when", "after", "takes"}


def test_the_page_names_the_built_in_kinds_whose_channels_can_disagree() -> None:
    [row] = [line for line in TEXT.splitlines() if line.startswith("| `channels` |")]
    named = set(re.findall(r"`(\w+)`", row)) - {"channels"}
    assert named == {name for name, kind in builtin_kinds().items() if len(kind.channels) == 2}
