"""The sections that no log tells: the example in their comments is a bench, once its limits are decided."""

import re

import pytest
from look_material import DATA, DBC

from interlock.bench import load_bench
from interlock.bench.load import builtin_kinds
from interlock.errors import BenchError
from interlock.look import draft, look
from interlock.look.draft_bench import EXAMPLE, bench_lines

HEAD = """\
bench:
  id: example
  name: example
  place: nowhere
  ratings: {bus_voltage: 48 V, max_speed: 1500 1/min}
"""


def uncommented(section: str) -> str:
    """A section as a person leaves it who takes the # of the example away."""
    lines = list(bench_lines())
    at = next(k for k, line in enumerate(lines) if line.startswith(f"{section}: undecided"))
    end = next(k for k in range(at + 1, len(lines)) if not lines[k].startswith("#  "))
    return "\n".join([f"{section}:", *(line[1:] for line in lines[at + 1 : end])]) + "\n"


def decided(text: str) -> str:
    text = text.replace("source: [undecided]", "source: the engineer")
    return text.replace("no_sooner_than: undecided", "no_sooner_than: 200 ms").replace(
        "within: undecided", "within: 1 s"
    )


@pytest.fixture
def bench_file(tmp_path):
    def write(text):
        (tmp_path / "bench.yaml").write_text(text, encoding="utf-8")
        return tmp_path / "bench.yaml"

    return write


def test_the_example_is_a_bench_once_it_is_decided(bench_file) -> None:
    text = HEAD + "".join(uncommented(name) for name in EXAMPLE)
    bench = load_bench(bench_file(decided(text)))
    assert list(bench.devices) == ["hood", "reset", "relay", "drive"]
    assert bench.required.functions["hood_stop"].effects == ["torque_off"]


def test_undecided_it_lists_each_limit_and_source(bench_file) -> None:
    text = HEAD + "".join(uncommented(name) for name in EXAMPLE)
    with pytest.raises(BenchError) as refused:
        load_bench(bench_file(text))
    assert [one.what for one in refused.value.problems] == [
        *("source", "no_sooner_than", "source"),
        *("within", "source", "source"),
    ]
    assert len(refused.value.problems) == text.count("undecided")


def test_every_kind_stands_there_with_what_it_shows() -> None:
    told = {
        found[1]: found[2].split(", ")
        for line in bench_lines()
        if (found := re.fullmatch(r"#   ([a-z_]+): ([a-z].*)", line)) and found[1] in builtin_kinds()
    }
    assert set(told) == set(builtin_kinds())
    for name, kind in builtin_kinds().items():
        assert [one.partition(" ")[0] for one in told[name]] == [*kind.outputs, *kind.values]


def test_every_section_is_marked_and_none_is_taken_for_decided(tmp_path) -> None:
    text = draft(look([DATA / "short.log"], DBC), DBC, tmp_path / "bench.yaml").text
    plain = re.sub(r"(?m)#.*$", "", text)
    for section in EXAMPLE:
        assert re.search(rf"(?m)^{section}: undecided\s*$", plain)
