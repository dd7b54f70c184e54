"""What stands in the place of a wrong entry lets the rest be checked, and is never handed out."""

import copy
from typing import Any

import pytest
import yaml
from bench_sample import TEXT, edited
from hypothesis import given, settings
from hypothesis import strategies as st
from test_bench_schema import LEAVES, holder

from interlock.bench import Bench, parse_bench
from interlock.bench.structure import read_structure
from interlock.bench.structure_words import describe, path_of
from interlock.bench.yaml_source import read_yaml
from interlock.errors import BenchError

DATA = yaml.safe_load(TEXT)


def test_a_right_file_gives_its_bench_and_nothing_else() -> None:
    source = read_yaml("f", TEXT)
    bench, mistakes = read_structure(source)
    assert mistakes == []
    assert source.broken == set()
    assert bench == Bench.model_validate(DATA)


def test_the_data_of_the_file_stay_as_they_are() -> None:
    source = read_yaml("f", edited(("within: 100 ms", "wthin: 100"), ("kind: guard_switch", "kind: 7")))
    before = copy.deepcopy(source.data)
    read_structure(source)
    assert source.data == before


def test_what_is_wrong_is_marked_and_the_rest_is_kept() -> None:
    source = read_yaml("f", edited(("within: 100 ms", "within: 100"), ("place: not stated", "plce: here")))
    bench, mistakes = read_structure(source)
    assert [mistake.path for mistake in mistakes] == [
        ("bench", "plce"),
        ("required", "effects", "torque_off", "within"),
    ]
    assert source.is_broken(("required", "effects", "torque_off", "within"))
    assert not source.is_broken(("required", "effects", "torque_off", "of"))
    assert bench is not None
    assert bench.bench.place == "here"  # read as if the key were spelt rightly
    assert bench.required.effects.torque_off.of == ["drive", "load"]


def test_a_misspelt_section_is_read_to_its_end() -> None:
    source = read_yaml("f", edited(("devices:  #", "device:  #"), ("kind: stop_button", "kind: 7")))
    _, mistakes = read_structure(source)
    assert [mistake.path for mistake in mistakes] == [("device",), ("devices", "button", "kind")]
    place = source.place(mistakes[1])
    assert (place.line, place.column) == (10, 18)


def test_two_misspelt_keys_are_not_taken_for_one() -> None:
    source = read_yaml("f", edited(("of: [drive, load], within: 100 ms", "wthin: 100 ms, witin: 200 ms")))
    _, mistakes = read_structure(source)
    said = [(mistake.what, mistake.instead) for mistake in mistakes]
    assert ("unknown key 'wthin'", "did you mean within?") in said
    assert ("missing entry 'of'", "add 'of:'") in said


values = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=5),
    st.just([]),
    st.just({}),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)
PLACES = sorted({path[:end] for path in LEAVES for end in range(1, len(path) + 1)}, key=str)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(PLACES), values), min_size=1, max_size=3))
def test_whatever_stands_anywhere_it_is_repaired_or_right(
    changes: list[tuple[tuple[str | int, ...], Any]],
) -> None:
    """No wrong value, at whatever depth, is beyond repair; and a repaired bench always comes with mistakes."""
    source = read_yaml("f", TEXT)
    data: Any = source.data
    for path, value in changes:
        try:
            holder(data, path[:-1])[path[-1]] = copy.deepcopy(value)  # YAML shares nothing either
        except (KeyError, IndexError, TypeError):
            return  # an earlier change took the place away
    bench, mistakes = read_structure(source)
    assert bench is not None
    if bench != Bench.model_validate(DATA) and not mistakes:
        assert Bench.model_validate(data) == bench


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(PLACES))
def test_whatever_is_lost_is_said_or_was_not_needed(path: tuple[str | int, ...]) -> None:
    data = copy.deepcopy(DATA)
    del holder(data, path[:-1])[path[-1]]
    text = yaml.safe_dump(data, sort_keys=False, allow_unicode=True)
    try:
        bench = parse_bench("f", text)
    except BenchError as error:
        assert error.problems
    else:
        assert bench != Bench.model_validate(DATA) or path[-1] == "alive_modulo"  # 256 is its default


def test_a_repaired_bench_is_never_handed_out() -> None:
    for old, new in (
        ("within: 100 ms", "within: 100"),
        ("place: not stated", "plce: not stated"),
        ("id: s", "id: S"),
    ):
        with pytest.raises(BenchError):
            parse_bench("f", edited((old, new)))


def test_an_error_that_nobody_foresaw_has_words_too() -> None:
    detail = {"type": "brand_new", "loc": ("bench", "name"), "msg": "It should be nicer", "input": "x"}
    mistake = describe(detail)  # type: ignore[arg-type]
    assert (mistake.what, mistake.why) == ("name", "'x' does not fit (It should be nicer)")
    assert mistake.instead == "see the schema of the bench file"
    assert path_of(detail) == ("bench", "name")  # type: ignore[arg-type]
