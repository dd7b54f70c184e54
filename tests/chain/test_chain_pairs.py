"""The table of pairs against a dictionary, growing arrays against a list, masks against Python's sets."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.chain import masks as room
from interlock.chain.fault_sets import FaultSets
from interlock.chain.growing import Growing
from interlock.chain.masks import ALL, NONE, Held, Masks
from interlock.chain.pairs import UNKNOWN, Pairs

numbers = st.one_of(st.integers(0, 40), st.integers(0, (1 << 32) - 2))
batches = st.lists(
    st.dictionaries(st.tuples(numbers, numbers), st.integers(0, 1 << 30), max_size=40), max_size=6
)


def columns(pairs: list[tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    both = np.array(pairs, np.int64).reshape(-1, 2)
    return both[:, 0], both[:, 1]


@given(batches, st.lists(st.tuples(numbers, numbers)))
def test_pairs_are_found_like_in_a_dictionary(many, asked) -> None:
    table, known = Pairs(), {}
    for batch in many:
        new = {pair: value for pair, value in batch.items() if pair not in known}
        table.add(*columns(list(new)), np.array(list(new.values()), np.int64))
        known |= new
    asked = [*asked, *known]
    assert table.get(*columns(asked)).tolist() == [known.get(pair, UNKNOWN) for pair in asked]
    assert len(table) == len(known)


def test_thousands_of_pairs_survive_the_table_growing() -> None:
    table = Pairs()
    one, other = np.divmod(np.arange(60_000), 250)
    for at in range(0, len(one), 7_000):
        part = slice(at, at + 7_000)
        table.add(one[part], other[part], np.arange(len(one))[part])
    assert (table.get(one, other) == np.arange(len(one))).all()
    assert (table.get(other + 1000, one) == UNKNOWN).all()
    assert table.nbytes >= 12 * len(table)


@given(st.lists(st.lists(st.integers(0, 9), max_size=5)))
def test_growing_keeps_all_rows_in_order(parts: list[list[int]]) -> None:
    growing = Growing(np.empty(0, np.int64))
    for part in parts:
        growing.add(np.array(part, np.int64))
    assert growing.rows.tolist() == [one for part in parts for one in part]
    assert len(growing) == len(growing.rows)


def test_what_was_given_first_is_not_written_to() -> None:
    first = np.zeros((1, 2), np.int64)
    growing = Growing(first)
    growing.add(np.ones((3, 2), np.int64))
    growing.rows[0] = 7
    assert first.tolist() == [[0, 0]]


NAMES = ("a", "b", "c", "d")
SETS = FaultSets(NAMES, 2)
chosen = st.lists(st.sets(st.integers(0, len(SETS.sets) - 1)), min_size=1, max_size=6)


def rows(many: list[set[int]]) -> np.ndarray:
    return SETS.pack(np.array([[one in some for one in range(len(SETS.sets))] for some in many]))


def sets_of(bits: np.ndarray) -> list[set[int]]:
    return [set(np.flatnonzero(row).tolist()) for row in SETS.unpack(bits)]


@given(chosen, st.data(), st.booleans())
def test_masks_are_sets(many, data, as_a_table) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "_PLACES", 1 << 24 if as_a_table else 0)
        masks = Masks(SETS)
        number = masks.numbers(rows(many))
        assert sets_of(masks.bits[number]) == many
        pairs = data.draw(st.lists(st.tuples(*(st.integers(0, len(many) - 1),) * 2), max_size=8))
        one, other = (np.array([pair[at] for pair in pairs], np.int64) for at in (0, 1))
        for _ in range(2):  # worked out, then looked up
            found = masks.both(number[one], number[other])
            assert sets_of(masks.bits[found]) == [many[a] & many[b] for a, b in pairs]


@settings(max_examples=25)
@given(chosen, chosen, st.booleans())
def test_what_is_held_meets_joins_and_grows_like_sets(many, others, narrow) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "_NARROW", 32 if narrow else 0)
        masks = Masks(SETS)
        held = Held(SETS, masks)
        some = [one for one in many if one] or [{0}]
        number, mask = held.numbers(rows(some)), masks.numbers(rows([one or {1} for one in others]))
        at, to = (part.ravel() for part in np.meshgrid(np.arange(len(some)), np.arange(len(mask))))
        for _ in range(2):
            found = held.meet(number[at], mask[to]).tolist()
            assert found == [bool(some[a] & (others[b] or {1})) for a, b in zip(at, to, strict=True)]
        joined = held.either(number[at], held.numbers(rows(others))[to])
        assert sets_of(held.bits[joined]) == [some[a] | others[b] for a, b in zip(at, to, strict=True)]
        grown = held.one_more(number)
        assert sets_of(held.bits[grown]) == sets_of(SETS.one_more(rows(some)))


@pytest.mark.parametrize("places", [1 << 24, 1 << 13], ids=["a table", "a table, then pairs"])
def test_hundreds_of_masks_and_columns_outgrow_the_table(places: int, monkeypatch) -> None:
    """Rows and columns are added while older places are still looked up; too large, it gives way to pairs."""
    monkeypatch.setattr(room, "_PLACES", places)
    rng, wide = np.random.default_rng(1), FaultSets([str(one) for one in range(20)], 2)
    masks = Masks(wide)
    many = rng.random((300, len(wide.sets))) < 0.5
    for at in range(0, 300, 60):
        number = masks.numbers(wide.pack(many[: at + 60]))
        one, other = rng.integers(0, at + 60, (2, 500))
        expected = wide.pack(many[one] & many[other])
        for _ in range(2):
            found = masks.both(number[one], number[other])
            assert (masks.bits[found] == expected).all()
    assert masks.nbytes > 2 * masks.bits.nbytes


def test_none_and_all_have_their_numbers() -> None:
    masks = Masks(SETS)
    assert masks.numbers(np.stack([np.zeros_like(SETS.every), SETS.every])).tolist() == [NONE, ALL]
    assert masks.numbers(~SETS.every[None, :]).tolist() == [NONE]  # bits beyond the sets say nothing
