"""A recorder that stamps in blocks what it has gathered: no pass with bounds that the blocks make untrue."""

from dataclasses import replace

import numpy as np
import pytest
from replay_tape import BENCH, Tape, heard, sound

from interlock.bench.source_models import StampDelay
from interlock.bench.sources import reference_of
from interlock.replay.stamps import gathered_ns, late_stamps
from interlock.verdict import Verdict

SHOWS = BENCH.shows
assert SHOWS is not None
MS = 1_000_000
SHORTEST_US = 47  # the shortest data frame (ISO 11898-1: 47 bits with the space after it) at 1 Mbit/s


def in_blocks(every_ms: float, apart_us: int = 5, stray_us: int = 0) -> Tape:
    """A sound tape of which each frame bears the end of the block in which it was gathered."""
    tape, random = sound(), np.random.default_rng(1)
    every = round(every_ms * 1000)
    lengths = every + random.integers(-stray_us, stray_us + 1, int(tape.us.max()) // (every - stray_us) + 2)
    stamps = np.cumsum(lengths)
    stamps = stamps[np.searchsorted(stamps, tape.us)]
    first = np.concatenate(([True], np.diff(stamps) != 0))
    rows = np.arange(len(stamps))
    tape.us = stamps + apart_us * (rows - np.maximum.accumulate(np.where(first, rows, 0)))
    return tape


def gathered_ms(tape: Tape) -> float:
    return gathered_ns(tape.trace(), SHOWS, reference_of(SHOWS)) / MS


@pytest.mark.parametrize("stray_us", [0, 200])
@pytest.mark.parametrize("every_ms", [5, 6, 8, 10, 12, 20, 40])
def test_how_far_apart_blocks_are_is_found(every_ms: float, stray_us: int) -> None:
    assert gathered_ms(in_blocks(every_ms, stray_us=stray_us)) == pytest.approx(every_ms, abs=0.2)


@pytest.mark.parametrize("every_ms", [5, 10, 20])
def test_blocks_longer_than_the_stated_delay_are_told_once_a_message(every_ms: float) -> None:
    """4 ms are stated. At 5 and 10 ms, no message leaves its own period by enough to show it."""
    found = list(late_stamps(in_blocks(every_ms).trace(), SHOWS))
    assert sorted(one.message or "" for one in found) == sorted(SHOWS.messages)
    for one in found:
        assert (one.blinds, one.span.lo, one.span.hi) == (True, 0, None)
        assert f"in blocks {every_ms:.1f} ms apart" in one.sentence
        assert "'most' of 'stamp_delay'" in one.sentence


@pytest.mark.parametrize("every_ms", [5, 10])
def test_no_pass_with_such_blocks(every_ms: float) -> None:
    assert heard(in_blocks(every_ms)).verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize("every_ms", [2, 3, 4])
def test_blocks_within_the_stated_delay_are_no_doubt(every_ms: float) -> None:
    assert list(late_stamps(in_blocks(every_ms).trace(), SHOWS)) == []


def test_a_delay_that_is_stated_for_the_blocks_is_believed() -> None:
    stated = SHOWS.model_copy(update={"stamp_delay": StampDelay(least="0 ms", most="11 ms")})
    trace = in_blocks(10).trace()
    assert list(late_stamps(trace, SHOWS)) != []
    assert list(late_stamps(trace, stated)) == []


@pytest.mark.parametrize("stamp_s", [0.00015, 0.002, 0.004])
def test_frames_stamped_as_they_come_are_in_no_blocks(stamp_s: float) -> None:
    assert gathered_ms(sound(stamp_s=stamp_s)) == 0


@pytest.mark.parametrize(("apart_us", "blocks"), [(0, True), (20, True), (SHORTEST_US, False), (100, False)])
def test_frames_that_a_bus_can_carry_one_after_the_other_are_no_block(apart_us: int, blocks: bool) -> None:
    """Senders that send at one moment: their frames follow on each other as fast as the bus allows."""
    assert bool(gathered_ms(in_blocks(10, apart_us))) is blocks


def test_stamps_too_coarse_to_tell_are_wide_instead() -> None:
    """Whole tenths of a millisecond: frames that share a stamp may have come one after the other."""
    trace = in_blocks(10).trace()
    assert gathered_ns(replace(trace, resolution_ns=100_000), SHOWS, reference_of(SHOWS)) == 0


def test_one_message_or_a_short_log_tells_nothing() -> None:
    trace = in_blocks(10).trace()
    (name, times), *_ = trace.messages.items()
    short = {key: one[one < 100 * MS] for key, one in trace.messages.items()}
    for messages in ({name: times}, short, {}):
        assert gathered_ns(replace(trace, messages=messages), SHOWS, reference_of(SHOWS)) == 0


@pytest.mark.parametrize("after_us", [0, 20])
def test_frames_that_stand_twice_are_no_block(after_us: int) -> None:
    tape = sound()
    rows = np.repeat(np.arange(len(tape.us)), 2)
    tape.take(rows)
    tape.us[1::2] += after_us
    assert gathered_ms(tape.take(np.argsort(tape.us, kind="stable"))) == 0
