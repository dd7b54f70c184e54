"""What one log counts, by what was done to it: no more than it shows, and said where it may be more.

The sound tape holds three openings of the cover, two presses of the button and one emergency stop under torque, by
its generator's own list of stops.
"""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from replay_tape import BENCH, BITS, COVER, DRV, ESTOP, LOD, SAFE, Tape, heard, lines, sound

from interlock.interval import Interval
from interlock.replay import judge_trace
from interlock.replay.counts import LogCounts, Openings, counts_of
from interlock.trace.model import Quality, QualityKind

FB = "MainContactorFb"
ALL = {"cover": 3, "button": 2, "estop": 1}


def counted(tape: Tape) -> LogCounts:
    return counts_of(heard(tape))


def without_torque(tape: Tape, lo: float, hi: float) -> Tape:
    for unit in ("Drv", "Lod"):
        tape.put(f"{unit}Current", 0.0, lo, hi)
    return tape


def with_gap(tape: Tape, message: str, lo: float, hi: float) -> LogCounts:
    """The counts where the reader says that frames of a message are missing."""
    start = int(tape.us.min()) / 1e6
    span = Interval(round((lo - start) * 1e9), round((hi - start) * 1e9))
    doubt = Quality(QualityKind.GAP, message, None, span, "a.log:1", True, "gap")
    return counts_of(judge_trace(BENCH, replace(tape.trace(), quality=(doubt,))))


def test_a_sound_log() -> None:
    found = counted(sound())
    assert (found.demands, found.whole) == (ALL, True)
    assert found.contactors == {"contactor": Openings(1, 1, 0, True)}


def test_an_emergency_stop_without_torque_breaks_no_load() -> None:
    found = counted(without_torque(sound(), ESTOP.on - 1, ESTOP.on + 2))
    assert found.contactors["contactor"] == Openings(1, 0, 0, True)


def test_torque_until_the_demand_counts_though_safe_torque_off_was_sooner() -> None:
    """The current was gone 60 ms before the contactor opened, within the 100 ms that it has."""
    tape = sound().move(FB, 0.06, ESTOP.on, ESTOP.on + 1)
    assert counted(tape).contactors["contactor"].under_load == 1


def test_torque_that_ended_long_before_does_not_count() -> None:
    tape = without_torque(sound(), ESTOP.on - 0.2, ESTOP.on + 2)
    assert counted(tape).contactors["contactor"] == Openings(1, 0, 0, True)


@pytest.mark.parametrize("early_ms", range(88, 128, 2))
def test_torque_is_excluded_only_if_a_sample_shows_it_gone_before_the_window(early_ms) -> None:
    """The window: 100 ms before the contactor may have opened, 4 ms (stamp delay) before its last closed frame.

    Whatever lies between the last sample with torque and the first without may have been torque.
    """
    tape = sound()
    closed = bits(tape, FB)
    stamps = tape.us[tape.rows(SAFE)]
    last_closed = next(
        int(stamps[k])
        for k in range(len(closed) - 1)
        if closed[k] and not closed[k + 1] and stamps[k] > ESTOP.on * 1e6
    )
    ends = last_closed / 1e6 - early_ms / 1e3
    without_torque(tape, ends, ESTOP.on + 2)
    gone = max(int(tape.us[tape.rows(unit, ends)][0]) for unit in (DRV, LOD))
    surely = gone <= last_closed - 4_000 - 100_000 - 2  # microseconds; stamps are known to one each
    found = counted(tape).contactors["contactor"]
    assert (found.under_load + found.doubtful == 0) is surely


@pytest.mark.parametrize("unit", ["Drv", "Lod"])
def test_one_unit_under_torque_is_enough(unit) -> None:
    other = {"Drv": "Lod", "Lod": "Drv"}[unit]
    tape = sound().put(f"{other}Current", 0.0, ESTOP.on - 1, ESTOP.on + 2)
    assert counted(tape).contactors["contactor"].under_load == 1


def test_a_current_too_near_to_its_bound_is_doubtful() -> None:
    """0.25 A, known to 0.1 A, against 0.3 A: neither shown nor excluded."""
    tape = sound()
    for unit in ("Drv", "Lod"):
        tape.put(f"{unit}Current", 0.25, ESTOP.on - 1, ESTOP.on + 2)
    assert counted(tape).contactors["contactor"] == Openings(1, 0, 1, True)


def test_missing_currents_are_doubtful_not_zero() -> None:
    """Without torque on both sides of a gap it might have been there within."""
    tape = without_torque(sound(), ESTOP.on - 3, ESTOP.on + 4)
    assert counted(tape).contactors["contactor"] == Openings(1, 0, 0, True)
    found = with_gap(tape, "DRV_Actual", ESTOP.on - 1, ESTOP.on + 2)
    assert found.contactors["contactor"] == Openings(1, 0, 1, True)


def test_currents_that_the_log_lacks_are_doubtful() -> None:
    tape = sound()
    found = counted(tape.drop(DRV).drop(LOD)).contactors["contactor"]
    assert (found.openings, found.under_load, found.doubtful) == (1, 0, 1)


def test_an_opening_by_itself_counts_too() -> None:
    tape = sound().put(FB, 0, COVER.on - 2, COVER.on - 1.9)
    assert counted(tape).contactors["contactor"].openings == 2


def test_chatter_of_the_contactor_counts_each_time() -> None:
    tape = sound()
    for k in range(3):
        tape.put(FB, 1, ESTOP.on + 1 + k, ESTOP.on + 1.5 + k)
    found = counted(tape).contactors["contactor"]
    assert (found.openings, found.under_load) == (4, 1)


def test_a_demand_since_before_the_log_is_not_counted() -> None:
    tape = sound().put("CoverA", 0, -1, 2).put("CoverB", 0, -1, 2)
    assert counted(tape).demands == ALL


def test_one_channel_alone_is_a_demand() -> None:
    tape = sound().put("CoverA", 0, 1, 2)
    assert counted(tape).demands == {**ALL, "cover": 4}


def test_a_hole_makes_counts_least_ones() -> None:
    found = with_gap(sound(), "SAFE_State", 1, 2)
    assert found.demands == ALL
    assert (found.whole, found.contactors["contactor"].whole) == (False, False)


def test_a_hole_in_another_message_leaves_the_counts_whole() -> None:
    found = with_gap(sound(), "CTL_Refs", 1, 2)
    assert (found.whole, found.contactors["contactor"].whole) == (True, True)


def test_a_log_without_any_stop_counts_none_and_says_whose() -> None:
    tape = sound().drop(None, COVER.on - 1, 1e6)
    found = counted(tape)
    assert found.demands == {"cover": 0, "button": 0, "estop": 0}
    assert found.contactors["contactor"] == Openings(0, 0, 0, True)


def test_stops_of_the_units_alone_are_no_demands() -> None:
    tape = lines(sound(), 0, COVER.on - 2, COVER.on - 1)
    assert counted(tape).demands == ALL


def test_a_frozen_input_counts_nothing_of_what_it_hides() -> None:
    """The opening lies somewhere within the eight seconds, in the first of which there was torque."""
    tape = sound().freeze(SAFE, ESTOP.on - 1, ESTOP.on + 7)
    found = with_gap(tape, "SAFE_State", ESTOP.on - 1, ESTOP.on + 7)
    assert found.demands["estop"] == 0
    assert found.contactors["contactor"] == Openings(1, 0, 1, False)


def bits(tape: Tape, signal: str) -> list[int]:
    """What one bit of the tape's frames shows, frame by frame: no reader, no track."""
    byte, bit = BITS[signal]
    return [int(frame[byte]) >> bit & 1 for frame in tape.data[tape.rows(SAFE)]]


def falls(shown: list[int]) -> int:
    return sum(1 for old, new in pairwise(shown) if old == 1 and new == 0)


@settings(max_examples=10)
@given(
    st.lists(st.tuples(st.sampled_from(sorted(BITS)), st.integers(0, 55), st.integers(1, 400)), max_size=12)
)
def test_counts_are_those_of_the_bare_bits(spoils) -> None:
    """Whatever the contacts do: edges counted on the frames' bits themselves, as the DBC places them."""
    tape = sound()
    for signal, at, tenths in spoils:
        tape.put(signal, 1 - bits(tape, signal)[at * 100], at, at + tenths / 100)
    found = counted(tape)
    closed = [a & b for a, b in zip(bits(tape, "CoverA"), bits(tape, "CoverB"), strict=True)]
    assert found.demands == {
        "cover": falls(closed),
        "button": falls(bits(tape, "TorqueOffPb")),
        "estop": falls(bits(tape, "EmStop")),
    }
    one = found.contactors["contactor"]
    assert one.openings == falls(bits(tape, FB))
    assert one.under_load + one.doubtful <= one.openings


@pytest.mark.parametrize("seed", [5])
def test_other_runs_of_the_generator(seed) -> None:
    found = counted(sound(seed, rpm=900.0))
    assert (found.demands, found.contactors["contactor"]) == (ALL, Openings(1, 1, 0, True))


def test_plain_data() -> None:
    assert counted(sound()).as_json() == {
        "demands": ALL,
        "whole": True,
        "contactors": {"contactor": {"openings": 1, "under_load": 1, "doubtful": 0, "whole": True}},
    }
