"""Counters are found whatever their modulo, start and place, and nothing else is taken for one."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from interlock.look.counters import FEWEST, counter_in, counters_in_bytes


@given(st.integers(2, 16), st.integers(0, 10**6), st.integers(40, 400))
def test_every_counter_that_went_round_is_found_with_its_modulo(modulo, start, count):
    values = (start + np.arange(max(count, 3 * modulo))) % modulo
    counter = counter_in("x", values, 8)
    assert counter is not None
    assert (counter.modulo, counter.share, counter.stands, counter.jumps) == (modulo, 1.0, 0, 0)


def test_end_to_end_profile_1_counts_from_0_to_14():
    # AUTOSAR E2E protocol specification, profile 1: the counter goes from 0 to 14 (from memory)
    counter = counter_in("x", np.arange(100) % 15, 4)
    assert counter is not None
    assert counter.modulo == 15


@given(st.integers(1, 64), st.integers(0, 255))
def test_a_counter_that_did_not_go_round_has_the_modulo_of_its_bits(bits, start):
    counter = counter_in("x", start + np.arange(50), bits) if bits > 8 else None
    assert counter is None or counter.modulo == 2**bits


def test_lost_and_repeated_frames_are_counted():
    values = np.delete(np.arange(300) % 256, [50, 120])
    values = np.insert(values, 10, values[10])
    counter = counter_in("x", values, 8)
    assert counter is not None
    assert (counter.stands, counter.jumps, counter.modulo) == (1, 2, 256)


def test_what_does_not_count_is_no_counter():
    rng = np.random.default_rng(5)
    for values in (
        np.zeros(100, np.int64),
        np.arange(100) // 2 % 256,
        np.arange(100) * 3 % 256,
        rng.integers(0, 256, 100),
        np.arange(FEWEST - 1),
        np.arange(100) % 256 * (np.arange(100) % 7 > 0),
    ):
        assert counter_in("x", values, 8) is None
    assert counter_in("x", np.arange(100) % 2, 1) is None  # one bit that toggles tells nothing of lost frames


def test_bytes_are_searched_whole_before_their_halves():
    count = np.arange(600)
    data = np.zeros((600, 4), np.uint8)
    data[:, 0] = count % 256
    data[:, 2] = 0x50 | count % 16
    data[:, 3] = (count % 15) << 4 | 0x03
    found = [(one.where, one.modulo) for one in counters_in_bytes(data)]
    assert found == [("byte 0", 256), ("byte 2, low half", 16), ("byte 3, high half", 15)]


def test_empty_payloads_hold_no_counter():
    assert counters_in_bytes(np.zeros((20, 0), np.uint8)) == ()


def test_lost_frames_that_a_half_byte_does_not_notice_leave_the_whole_byte():
    count = np.delete(np.arange(2000), np.arange(500, 516))  # sixteen in a row
    found = counters_in_bytes((count % 256).astype(np.uint8)[:, None])
    assert [(one.where, one.modulo, one.jumps) for one in found] == [("byte 0", 256, 1)]
