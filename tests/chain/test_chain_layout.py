"""States packed into words and back: nothing is lost, nothing spills over, too much is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.chain.ir import Field
from interlock.chain.layout import Layout, TooWide

FIELDS = [
    Field("lamp", ("red", "yellow", "green"), "red"),
    Field("shaft", ("still",), "still"),
    Field("door", ("closed", "open"), "closed"),
    Field("gear", ("first", "second", "third", "fourth", "back"), "first"),
]
states = st.fixed_dictionaries({field.name: st.sampled_from(field.values) for field in FIELDS})
LAYOUT = Layout(FIELDS)


@given(states)
def test_unpack_undoes_pack(state) -> None:
    assert LAYOUT.unpack(LAYOUT.pack(state)) == state


@given(states, states)
def test_different_states_have_different_words(one, other) -> None:
    assert (LAYOUT.pack(one) == LAYOUT.pack(other)) is (one == other)


@given(states)
def test_words_fit_the_bits(state) -> None:
    assert 0 <= LAYOUT.pack(state) < 1 << LAYOUT.bits


def test_a_field_takes_as_few_bits_as_it_can() -> None:
    assert LAYOUT.bits == 2 + 0 + 1 + 3


@given(st.lists(states, max_size=5), st.sampled_from(FIELDS), st.data())
def test_within_tells_which_words_have_the_value(many, field, data) -> None:
    values = data.draw(st.frozensets(st.sampled_from(field.values)))
    words = np.array([LAYOUT.pack(state) for state in many], dtype=np.uint64)
    assert LAYOUT.within(words, field.name, values).tolist() == [
        state[field.name] in values for state in many
    ]


@given(st.lists(states, max_size=5), st.sampled_from(FIELDS), st.data())
def test_put_changes_one_field_and_no_other(many, field, data) -> None:
    value = data.draw(st.sampled_from(field.values))
    words = np.array([LAYOUT.pack(state) for state in many], dtype=np.uint64)
    changed = LAYOUT.put(words, field.name, value)
    assert [LAYOUT.unpack(int(word)) for word in changed] == [{**state, field.name: value} for state in many]
    assert words.tolist() == [LAYOUT.pack(state) for state in many]


def test_fields_of_others_are_left_out() -> None:
    state = {"lamp": "green", "shaft": "still", "door": "open", "gear": "back", "weather": "rain"}
    assert "weather" not in LAYOUT.unpack(LAYOUT.pack(state))


def test_63_bits_are_accepted_and_one_more_refused() -> None:
    fields = [Field(f"f{number}", ("no", "yes"), "no") for number in range(64)]
    assert Layout(fields[:63]).bits == 63
    with pytest.raises(TooWide, match="64 bits"):
        Layout(fields)


def test_the_highest_bit_of_63_survives() -> None:
    fields = [Field(f"f{number}", ("no", "yes"), "no") for number in range(63)]
    layout = Layout(fields)
    state = {field.name: "no" for field in fields} | {"f62": "yes"}
    word = np.array([layout.pack(state)], dtype=np.uint64)
    assert layout.within(word, "f62", frozenset({"yes"})).tolist() == [True]
    assert layout.unpack(int(word[0])) == state
