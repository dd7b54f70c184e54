"""What a function carries as a whole, and how it is told: ISO 13849-1:2015, 6.2. The benches are invented."""

from functools import cache

import pytest
from chain_shapes import shape

from interlock.bench import Bench
from interlock.chain import CategoryResult, judge_faults

SHAPES = ["diagnostic_feedback", "discharge_by_contact", "enabling_button", "relay_behind_relay"]


@cache
def bench(name: str) -> Bench:
    return shape(name)


@cache
def carried(name: str) -> tuple[CategoryResult, ...]:
    return judge_faults(bench(name), 2).categories


def of(name: str, function: str) -> tuple[CategoryResult, list[CategoryResult]]:
    """The function as a whole, and its effects."""
    mine = [one for one in carried(name) if one.function == function]
    [whole] = [one for one in mine if one.effect is None]
    return whole, [one for one in mine if one.effect is not None]


@pytest.mark.parametrize("name", SHAPES)
def test_a_function_carries_what_all_its_effects_carry(name: str) -> None:
    for function in bench(name).required.functions:
        whole, effects = of(name, function)
        assert set(whole.categories) == set.intersection(*(set(one.categories) for one in effects))


@pytest.mark.parametrize("name", SHAPES)
def test_each_result_names_its_function_in_words(name: str) -> None:
    for one in carried(name):
        assert one.title == bench(name).required.functions[one.function].title
        assert one.as_json()["title"] == one.title


@pytest.mark.parametrize("name", SHAPES)
def test_every_result_ends_by_saying_what_structure_does_not_show(name: str) -> None:
    [last] = {one.sentences[-1] for one in carried(name)}
    assert last.startswith("Structure alone is no performance level")
    assert all(len(one.sentences) > 1 for one in carried(name))


@pytest.mark.parametrize("name", SHAPES)
def test_what_limits_a_function_is_told_in_words(name: str) -> None:
    for function in bench(name).required.functions:
        whole, effects = of(name, function)
        said = whole.sentences[0]
        assert "_" not in said
        if len(effects) == 1:
            assert said.endswith("as its only effect does.")
            continue
        named = said.removesuffix(".").rpartition(": ")[2].split(", ")
        assert named == [
            str(one.effect).replace("_", " ") for one in effects if one.categories == whole.categories
        ]


def test_some_of_these_benches_have_several_effects_and_some_one() -> None:
    counts = {len(of(name, function)[1]) for name in SHAPES for function in bench(name).required.functions}
    assert min(counts) == 1
    assert max(counts) > 1


@pytest.mark.parametrize("name", SHAPES)
def test_a_category_beyond_one_needs_that_no_single_fault_loses_the_function(name: str) -> None:
    report = judge_faults(bench(name), 2)
    lost = {function for one in report.faults if len(one.set) == 1 for function in one.lost}
    for one in report.categories:
        if one.effect is None and one.function in lost:
            assert not {"3", "4"} & set(one.categories)
        if one.effect is None and one.function not in lost:
            assert "3" in one.categories
