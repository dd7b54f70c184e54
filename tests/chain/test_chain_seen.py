"""The growing set of words: numbers never change, new words come in the order in which they were met."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from interlock.chain.seen import Seen

batches = st.lists(st.lists(st.integers(0, 30), max_size=12), max_size=8)


def words(numbers: list[int]) -> np.ndarray:
    return np.array(numbers, dtype=np.uint64)


@given(batches)
def test_it_numbers_words_like_a_dictionary(many) -> None:
    seen, known = Seen(), {}
    for batch in many:
        before = len(known)
        for word in batch:
            known.setdefault(word, len(known))
        numbers, fresh = seen.add(words(batch))
        assert numbers.tolist() == [known[word] for word in batch]
        assert fresh.tolist() == list(known)[before:]
        assert len(seen) == len(known)


@given(batches, st.lists(st.integers(0, 40)))
def test_a_word_is_found_exactly_if_it_was_added(many, asked) -> None:
    seen, known = Seen(), {}
    for batch in many:
        seen.add(words(batch))
        for word in batch:
            known.setdefault(word, len(known))
        assert seen.find(words(asked)).tolist() == [known.get(word, -1) for word in asked]
    assert len(seen) == len(known)


def test_finding_adds_nothing() -> None:
    seen = Seen()
    assert seen.find(words([4, 4])).tolist() == [-1, -1]
    assert len(seen) == 0
    seen.add(words([]))
    assert seen.find(words([4])).tolist() == [-1]


def test_nothing_is_new_twice() -> None:
    seen = Seen()
    seen.add(words([5, 3]))
    numbers, fresh = seen.add(words([3, 5, 5]))
    assert numbers.tolist() == [1, 0, 0]
    assert fresh.tolist() == []


def test_words_above_63_bits_keep_their_order() -> None:
    seen = Seen()
    high = (1 << 63) - 1
    numbers, fresh = seen.add(words([high, 0, high]))
    assert numbers.tolist() == [0, 1, 0]
    assert fresh.tolist() == [high, 0]
