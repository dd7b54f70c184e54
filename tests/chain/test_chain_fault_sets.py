"""Sets of faults as columns of bits: which sets there are, what arrives, what is packed and unpacked."""

from itertools import combinations
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from interlock.chain.fault_sets import FaultSets
from interlock.chain.fault_table import minimal

NAMES = [f"f{number}" for number in range(9)]


def truths(sets: FaultSets) -> st.SearchStrategy[np.ndarray]:
    return npst.arrays(np.bool_, (3, len(sets.sets)))


@pytest.mark.parametrize("most", [0, 1, 2, 3])
def test_every_set_of_so_many_faults_is_there_once_smaller_ones_first(most: int) -> None:
    sets = FaultSets(NAMES, most)
    assert len(sets.sets) == sum(comb(len(NAMES), size) for size in range(most + 1))
    assert len(set(sets.sets)) == len(sets.sets)
    assert list(map(len, sets.sets)) == sorted(map(len, sets.sets))
    assert sets.sets[0] == ()


@pytest.mark.parametrize("most", [1, 2, 3])
def test_smaller_sets_keep_their_numbers_when_larger_ones_are_added(most: int) -> None:
    fewer, more = FaultSets(NAMES, most - 1), FaultSets(NAMES, most)
    assert more.sets[: len(fewer.sets)] == fewer.sets


@given(st.data(), st.integers(0, 3))
def test_packing_loses_nothing(data: st.DataObject, most: int) -> None:
    sets = FaultSets(NAMES, most)
    rows = data.draw(truths(sets))
    assert (sets.unpack(sets.pack(rows)) == rows).all()


@given(st.data(), st.integers(1, 3))
def test_one_more_fault_arrives(data: st.DataObject, most: int) -> None:
    """A set arises exactly from the sets that lack one of its faults."""
    sets = FaultSets(NAMES, most)
    rows = data.draw(truths(sets))
    grown = sets.unpack(sets.one_more(sets.pack(rows)))
    for number, one in enumerate(sets.sets):
        smaller = [sets.number[each] for each in combinations(one, len(one) - 1)] if one else []
        assert (grown[:, number] == rows[:, smaller].any(axis=1)).all()


def test_which_sets_hold_a_fault() -> None:
    sets = FaultSets(NAMES, 2)
    for at, name in enumerate(NAMES):
        held = sets.unpack(sets.having(name)[None, :])[0]
        assert [at in one for one in sets.sets] == held.tolist()


def test_a_bench_without_faults_has_the_empty_set_alone() -> None:
    sets = FaultSets([], 2)
    assert sets.sets == ((),)
    assert not sets.one_more(sets.every[None, :]).any()


@given(st.sets(st.sampled_from(FaultSets(NAMES[:5], 3).sets)))
def test_minimal_sets(chosen: set[tuple[int, ...]]) -> None:
    """Those of which no proper subset is among the chosen ones."""
    sets = FaultSets(NAMES[:5], 3)
    found = minimal(sets, [sets.number[one] for one in chosen])
    expected = {one for one in chosen if not any(set(other) < set(one) for other in chosen)}
    assert {sets.sets[number] for number in found} == expected


@pytest.mark.parametrize("faults", [5, 12, 13, 30])
def test_one_more_fault_where_sets_fill_more_than_a_word(faults: int) -> None:
    """Against unions of Python's sets, for widths below, at and beyond whole words, and many rows at a time."""
    sets = FaultSets([str(one) for one in range(faults)], 2)
    rng = np.random.default_rng(faults)
    rows = rng.random((40, len(sets.sets))) < rng.random((40, 1)) / 4
    grown = sets.unpack(sets.one_more(sets.pack(rows)))
    for row, found in zip(rows, grown, strict=True):
        members = [set(sets.sets[at]) for at in np.flatnonzero(row)]
        expected = {tuple(sorted(one | {more})) for one in members for more in set(range(faults)) - one}
        assert {sets.sets[at] for at in np.flatnonzero(found)} == expected & sets.number.keys()
