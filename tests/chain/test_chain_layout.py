"""States packed into one word or two and back: nothing is lost, nothing spills over, too much is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.chain.ir import Field
from interlock.chain.layout import Layout, TooWide, Words, either, keys, same, unique

FIELDS = [
    Field("lamp", ("red", "yellow", "green"), "red"),
    Field("shaft", ("still",), "still"),
    Field("door", ("closed", "open"), "closed"),
    Field("gear", ("first", "second", "third", "fourth", "back"), "first"),
]


def bits(count: int, name: str = "f") -> list[Field]:
    return [Field(f"{name}{number}", ("no", "yes"), "no") for number in range(count)]


PADDING = bits(58, "pad")  # moves the fields to both sides of the end of the first word
FILLED = {field.name: "no" for field in PADDING}
LAYOUTS = [Layout(FIELDS), Layout([*PADDING, *FIELDS]), Layout([*FIELDS, *PADDING])]
states = st.fixed_dictionaries({field.name: st.sampled_from(field.values) for field in FIELDS}).map(
    lambda state: {**FILLED, **state}
)
each_layout = pytest.mark.parametrize("layout", LAYOUTS, ids=["one word", "two words", "second word short"])


def short(layout: Layout, state: dict[str, str]) -> dict[str, str]:
    return {name: state[name] for name in layout.places}


def packed(layout: Layout, many: list[dict[str, str]]) -> Words:
    return layout.words(layout.pack(state) for state in many)


def test_the_layouts_have_one_word_and_two() -> None:
    assert [layout.columns for layout in LAYOUTS] == [1, 2, 2]


@each_layout
@given(st.lists(states, max_size=5))
def test_packing_loses_nothing(layout: Layout, many: list[dict[str, str]]) -> None:
    found = [layout.unpack(number) for number in layout.numbers(packed(layout, many))]
    assert found == [short(layout, state) for state in many]


@each_layout
@given(states, states)
def test_different_states_have_different_numbers(
    layout: Layout, one: dict[str, str], other: dict[str, str]
) -> None:
    assert (layout.pack(one) == layout.pack(other)) is (short(layout, one) == short(layout, other))
    assert same(packed(layout, [one]), packed(layout, [other])).tolist() == [one == other]


@given(states)
def test_numbers_of_one_word_fit_its_bits(state: dict[str, str]) -> None:
    assert 0 <= LAYOUTS[0].pack(state) < 1 << LAYOUTS[0].bits


def test_a_field_takes_as_few_bits_as_it_can() -> None:
    assert LAYOUTS[0].bits == 2 + 0 + 1 + 3


@each_layout
@given(st.lists(states, max_size=5), st.sampled_from(FIELDS), st.data())
def test_within_tells_which_words_have_the_value(
    layout: Layout, many: list[dict[str, str]], field: Field, data: st.DataObject
) -> None:
    values = data.draw(st.frozensets(st.sampled_from(field.values)))
    words = packed(layout, many)
    assert layout.within(words, field.name, values).tolist() == [
        state[field.name] in values for state in many
    ]
    assert layout.index(words, field.name).tolist() == [
        field.values.index(state[field.name]) for state in many
    ]


@each_layout
@given(st.lists(states, max_size=5), st.sampled_from(FIELDS), st.data())
def test_put_changes_one_field_and_no_other(
    layout: Layout, many: list[dict[str, str]], field: Field, data: st.DataObject
) -> None:
    value = data.draw(st.sampled_from(field.values))
    words = packed(layout, many)
    changed = layout.put(words, field.name, value)
    assert same(changed, packed(layout, [{**state, field.name: value} for state in many])).all()
    assert same(words, packed(layout, many)).all()


@each_layout
@given(st.lists(states, max_size=8))
def test_unique_states_are_in_the_order_of_their_numbers(layout: Layout, many: list[dict[str, str]]) -> None:
    words = packed(layout, many)
    distinct, back = unique(words)
    numbers = [layout.pack(state) for state in many]
    assert layout.numbers(distinct) == sorted(set(numbers))
    assert layout.numbers(distinct[back]) == numbers
    assert np.argsort(keys(words), kind="stable").tolist() == sorted(
        range(len(many)), key=numbers.__getitem__
    )


@each_layout
@given(st.lists(st.tuples(states, states, st.booleans()), max_size=6))
def test_either_takes_row_by_row(
    layout: Layout, rows: list[tuple[dict[str, str], dict[str, str], bool]]
) -> None:
    one, other = (packed(layout, [row[at] for row in rows]) for at in (0, 1))
    which = np.array([first for _, _, first in rows], np.bool_)
    expected = [layout.pack(row[0] if row[2] else row[1]) for row in rows]
    assert layout.numbers(either(which, one, other)) == expected


@each_layout
@given(states, st.frozensets(st.sampled_from(FIELDS)))
def test_a_mask_keeps_its_fields_and_clears_the_others(
    layout: Layout, state: dict[str, str], kept: frozenset[Field]
) -> None:
    blank = {name: place.values[0] for name, place in layout.places.items()}
    found = packed(layout, [state]) & layout.mask(field.name for field in kept)
    expected = {**blank, **{field.name: state[field.name] for field in kept}}
    assert layout.unpack(layout.numbers(found)[0]) == expected


def test_fields_of_others_are_left_out() -> None:
    state = {"lamp": "green", "shaft": "still", "door": "open", "gear": "back", "weather": "rain"}
    assert "weather" not in LAYOUTS[0].unpack(LAYOUTS[0].pack(state))


@pytest.mark.parametrize(("count", "columns"), [(0, 1), (63, 1), (64, 2), (126, 2)])
def test_up_to_126_bits_are_packed(count: int, columns: int) -> None:
    layout = Layout(bits(count))
    assert (layout.bits, layout.columns) == (count, columns)


def test_more_is_refused_with_its_number() -> None:
    with pytest.raises(TooWide, match="needs 127 bits, and at most 126") as caught:
        Layout(bits(127))
    assert caught.value.bits == 127


@pytest.mark.parametrize(("count", "highest"), [(63, 62), (126, 62), (126, 63), (126, 125)])
def test_the_highest_bits_survive(count: int, highest: int) -> None:
    layout = Layout(bits(count))
    state = {f"f{number}": "yes" if number == highest else "no" for number in range(count)}
    words = layout.words([layout.pack(state)])
    assert layout.within(words, f"f{highest}", frozenset({"yes"})).tolist() == [True]
    assert layout.unpack(layout.numbers(words)[0]) == state
    assert layout.numbers(words) == [layout.pack(state)]
