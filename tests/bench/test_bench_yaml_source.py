"""Plain data and places: PyYAML's own reading is the oracle for the data, the text itself for the places."""

import pytest
import yaml
from bench_sample import FOLDER, TEXT, WHOLE
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.bench.yaml_source import Mistake, Path, YamlSource, read_yaml
from interlock.errors import BenchError, Problem

words = st.from_regex(r"[a-z][a-z0-9_. ]{0,8}[a-z0-9]", fullmatch=True).filter(
    lambda text: text not in {"yes", "no", "on", "off", "null", "true", "false"}
)
scalars = st.one_of(
    words,
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(codec="utf-8", exclude_categories=("C", "Zl", "Zp")), max_size=12),
)
data = st.recursive(
    scalars,
    lambda below: st.one_of(st.lists(below, max_size=4), st.dictionaries(words, below, max_size=4)),
    max_leaves=12,
)


@settings(deadline=None)
@given(
    st.one_of(st.lists(data, min_size=1, max_size=3), st.dictionaries(words, data, min_size=1)), st.booleans()
)
def test_clean_files_are_read_as_pyyaml_reads_them(value: object, flow: bool) -> None:
    text = yaml.safe_dump(value, default_flow_style=flow, allow_unicode=True, width=10_000)
    source = read_yaml("f", text)
    assert source.problems == []
    assert source.data == yaml.safe_load(text) == value


def test_the_sample_is_read_as_pyyaml_reads_it() -> None:
    source = read_yaml("f", WHOLE)
    assert source.data == yaml.safe_load(WHOLE)
    assert source.problems == []


def test_the_wrong_benches_are_read_as_pyyaml_reads_them() -> None:
    for path in (FOLDER.parent / "wrong").glob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        source = read_yaml(path.name, text)
        if not source.problems:
            assert source.data == yaml.safe_load(text)


def at(source: YamlSource, path: Path) -> object:
    found: object = source.data
    for step in path:
        assert isinstance(found, dict | list)
        found = found[step]  # type: ignore[index]
    return found


def test_every_value_of_the_sample_stands_where_it_is_said_to_stand() -> None:
    source, lines = read_yaml("f", TEXT), TEXT.split("\n")
    for path, (line, column) in source.places.items():
        value, rest = at(source, path), lines[line - 1][column - 1 :]
        if isinstance(value, str):
            assert rest.lstrip("\"'").startswith(value), path
        elif isinstance(value, list):
            assert rest.startswith("["), path
        elif isinstance(value, int | float):
            assert rest.startswith(str(value)), path


def test_every_key_of_the_sample_stands_where_it_is_said_to_stand() -> None:
    source, lines = read_yaml("f", TEXT), TEXT.split("\n")
    for path, (line, column) in source.keys.items():
        assert lines[line - 1][column - 1 :].startswith(f"{path[-1]}:"), path
    assert len(source.keys) > 150


def test_every_text_of_the_sample_can_be_pointed_into() -> None:
    source, lines = read_yaml("f", TEXT), TEXT.split("\n")
    for path, (later, text) in source.texts.items():
        line, column = source.places[path]
        assert lines[line - 1][column - 1 + later :].startswith(text)


SMALL = "a: {b: one and two, c: 'x y'}\nd: [e, \"f g\"]\nh: >\n  folded\n  text\n"


@pytest.mark.parametrize(
    ("mistake", "place"),
    [
        (Mistake((), "w", "y", "i"), (1, 1)),
        (Mistake(("a",), "w", "y", "i"), (1, 4)),
        (Mistake(("a",), "w", "y", "i", at_key=True), (1, 1)),
        (Mistake(("a", "b"), "w", "y", "i"), (1, 8)),
        (Mistake(("a", "b"), "w", "y", "i", at_key=True), (1, 5)),
        (Mistake(("a", "b"), "w", "y", "i", word="two"), (1, 16)),
        (Mistake(("a", "b"), "w", "y", "i", word="wo"), (1, 8)),  # no word of the text
        (Mistake(("a", "b"), "w", "y", "i", word="three"), (1, 8)),
        (Mistake(("a", "b"), "w", "y", "i", column=4), (1, 12)),
        (Mistake(("a", "b"), "w", "y", "i", at_key=True, word="two"), (1, 5)),
        (Mistake(("a", "c"), "w", "y", "i"), (1, 24)),
        (Mistake(("a", "c"), "w", "y", "i", word="y"), (1, 27)),
        (Mistake(("a", "z"), "w", "y", "i"), (1, 4)),  # not there: the value that lacks it
        (Mistake(("a", "z"), "w", "y", "i", at_key=True), (1, 1)),  # not there: the key that lacks it
        (Mistake(("a", "z", 3, "k"), "w", "y", "i", at_key=True), (1, 1)),
        (Mistake(("d", 1), "w", "y", "i", word="g"), (2, 11)),
        (Mistake(("d", 1), "w", "y", "i", at_key=True), (2, 8)),
        (Mistake(("h",), "w", "y", "i", word="text"), (3, 4)),  # on several lines: the value's beginning
        (Mistake(("z",), "w", "y", "i"), (1, 1)),
    ],
)
def test_places_of_mistakes(mistake: Mistake, place: tuple[int, int]) -> None:
    assert read_yaml("f", SMALL).place(mistake) == Problem("f", *place, "w", "y", "i")


def test_a_name_is_found_as_a_whole_word() -> None:
    source = read_yaml("f", "a: x.ab and ab.x and xab and ab\n")
    assert source.problem(("a",), "w", "y", "i").column == 4
    assert source.place(Mistake(("a",), "w", "y", "i", word="ab.x")).column == 13
    assert source.place(Mistake(("a",), "w", "y", "i", word="ab")).column == 13  # also before a dot
    assert source.place(Mistake(("a",), "w", "y", "i", word="xab")).column == 22


def test_broken_entries_explain_what_refers_to_them() -> None:
    source = read_yaml("f", SMALL)
    source.broken.add(("a", "b"))
    assert source.is_broken(("a", "b"))
    assert source.is_broken(("a", "b", "c"))
    assert not source.is_broken(("a",))
    assert not source.is_broken(("a", "bb"))
    assert source.holds_broken(("a",))
    assert not source.holds_broken(("d",))
    assert source.explains(Mistake(("a", "b", 0), "w", "y", "i"))
    assert source.explains(Mistake(("d",), "w", "y", "i", also=(("a",),)))
    assert not source.explains(Mistake(("d",), "w", "y", "i", also=(("a", "c"),)))


def test_a_renamed_entry_keeps_its_places() -> None:
    source = read_yaml("f", SMALL)
    source.broken |= {("a",), ("a", "b")}
    source.rename(("a",), "alpha")
    assert source.places["alpha", "b"] == source.places["a", "b"]
    assert source.keys["alpha", "b"] == source.keys["a", "b"]
    assert source.texts["alpha", "b"] == source.texts["a", "b"]
    assert source.is_broken(("alpha", "b"))
    assert not source.is_broken(("alpha",))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("true", True),
        ("false", False),
        ("0", 0),
        ("-12", -12),
        ("+3", 3),
        ("1.50", 1.5),
        ("-0.0", -0.0),
        ("1e3", "1e3"),  # YAML 1.1 takes this for text, as PyYAML does
        ("1.0e+3", 1000.0),
        ("'yes'", "yes"),
        ('"12:30"', "12:30"),
        ("'010'", "010"),
        ("0o17", "0o17"),
        ("1.2.3", "1.2.3"),
        ("2024-01-01", "2024-01-01"),  # and not a date
    ],
)
def test_plain_scalars(text: str, value: object) -> None:
    source = read_yaml("f", f"a: {text}\n")
    assert source.problems == []
    assert source.data == {"a": value}
    assert type(at(source, ("a",))) is type(value)


@pytest.mark.parametrize(
    "text", ["1:30", "0x1F", "0b11", "017", "1_000", "1.", ".5", "1_0.5", "1:30.5", ".inf", "-.INF", ".NaN"]
)
def test_numbers_that_people_write_otherwise_are_refused(text: str) -> None:
    source = read_yaml("f", f"a: {text}\n")
    assert len(source.problems) == 1
    assert source.is_broken(("a",))


def test_an_input_may_be_left_without_default_but_nothing_else_may() -> None:
    assert read_yaml("f", "k: {inputs: {a: , b: never}}").problems == []
    assert read_yaml("f", "inputs: {a: ~}").problems != []
    assert read_yaml("f", "inputs: {a: {b: }}").problems != []
    assert read_yaml("f", "outputs: {a: }").problems != []


@given(st.text(alphabet="ab: -[]{},&*!|>'\"#?%@\n~0.", max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        source = read_yaml("f", text)
    except BenchError as error:
        assert error.problems
    else:
        assert set(source.places) >= {()}
