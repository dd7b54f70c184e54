"""Doubts that concern one message: lengths, gaps, counters, frozen and impossible values."""

import struct
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trace_kit import LAYOUTS, MS, kinds, made_log

from interlock.interval import Interval
from interlock.trace import Expected, checks
from interlock.trace.gather import Log, Stream, streams_of
from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import Quality, QualityKind
from interlock.trace.wanted import Decoded, signals_of, value_doubts

SAFE = Expected("SAFE_State", 35 * MS, 10 * MS, alive="Alive", alive_modulo=256)
TORQUE = Expected("TQS_Torque", 4 * MS, MS, noisy={"ShaftTorque": 3})


def stream_of(log: Log, name: str) -> Stream:
    return streams_of(log, LAYOUTS)[0][name]


def decoded(log: Log, stream: Stream) -> Decoded:
    names = [signal.name for signal in stream.layout.signals]
    return {name: (rows, samples) for name, rows, samples in signals_of(log, stream, names)}


def alive_log(counters: list[tuple[int, int]], *, end_ms: int | None = None) -> Log:
    """SAFE_State frames at these milliseconds with these counters; perhaps another frame at the end."""
    frames = [(time * MS, 0x120, bytes(7) + bytes([counter])) for time, counter in counters]
    if end_ms is not None:
        frames.append((end_ms * MS, 0x340, bytes(4)))
    return made_log(frames)


def counters(log: Log, expected: Expected = SAFE) -> list[Quality]:
    stream = stream_of(log, expected.message)
    return list(checks.counters(log, stream, expected, decoded(log, stream)["Alive"][1]))


def spans(findings: list[Quality]) -> list[tuple[float, float | None]]:
    """In milliseconds."""
    return [(q.span.lo / MS, None if q.span.hi is None else q.span.hi / MS) for q in findings]


def test_gaps_inside_and_at_both_ends() -> None:
    log = made_log(
        [
            (0, 0x340, bytes(4)),
            *((ms * MS, 0x120, bytes(8)) for ms in (40, 50, 90, 100)),
            (150 * MS, 0x340, bytes(4)),
        ]
    )
    found = list(checks.gaps(log, stream_of(log, "SAFE_State"), SAFE))
    assert spans(found) == [(0, 40), (50, 90), (100, None)]
    assert all(q.kind is QualityKind.GAP and q.blinds and q.message == "SAFE_State" for q in found)
    assert "for 40.0 ms; the bench allows 35 ms" in found[1].sentence


def test_a_gap_that_is_just_too_long_is_not_told_as_the_one_that_is_allowed() -> None:
    log = made_log([(0, 0x120, bytes(8)), (35 * MS + 12_000, 0x120, bytes(8)), (50 * MS, 0x120, bytes(8))])
    (one,) = checks.gaps(log, stream_of(log, "SAFE_State"), SAFE)
    assert "for 35.012 ms; the bench allows 35 ms" in one.sentence


@pytest.mark.parametrize(("alike", "told"), [(4, 0), (5, 1), (40, 1)])
def test_stamps_that_stand_still_tell_no_time(alike: int, told: int) -> None:
    # 35 ms longest gap, 10 ms period: four frames may pile up behind a busy bus, five may not
    frames = [
        (0, 0x120, bytes(8)),
        *((30 * MS, 0x120, bytes(8)) for _ in range(alike)),
        (40 * MS, 0x120, bytes(8)),
    ]
    log = made_log(frames)
    found = list(checks.crowds(log, stream_of(log, "SAFE_State"), SAFE))
    assert len(found) == told
    assert all(q.blinds and q.message == "SAFE_State" for q in found)
    assert spans(found) == [(0, 40)] * told


def test_a_log_whose_clock_stands_is_blind_from_end_to_end() -> None:
    log = made_log([(0, 0x120, bytes(8))] * 30)
    found = list(checks.crowds(log, stream_of(log, "SAFE_State"), SAFE))
    assert [(q.span.lo, q.span.hi) for q in found] == [(-1, None)]


def test_gap_of_exactly_the_limit_is_allowed() -> None:
    log = made_log([(0, 0x120, bytes(8)), (35 * MS, 0x120, bytes(8)), (70 * MS, 0x340, bytes(4))])
    assert not list(checks.gaps(log, stream_of(log, "SAFE_State"), SAFE))


@given(st.lists(st.integers(0, 400), min_size=1, max_size=25))
def test_instants_far_from_every_frame_lie_in_a_gap(times_ms: list[int]) -> None:
    frames = [(0, 0x340, bytes(4)), *((ms * MS, 0x120, bytes(8)) for ms in sorted(times_ms))]
    log = made_log([*frames, (400 * MS, 0x340, bytes(4))])
    found = [q.span for q in checks.gaps(log, stream_of(log, "SAFE_State"), SAFE)]
    for instant in range(401):
        before = max((ms for ms in times_ms if ms <= instant), default=0)
        after = min((ms for ms in times_ms if ms >= instant), default=400)
        covered = any(instant * MS in span for span in found)
        if after - before > 35:
            assert covered
        elif covered:
            assert instant in (before, after)


def test_counter_that_stands_still_blinds_from_fresh_to_fresh() -> None:
    log = alive_log([(0, 1), (10, 2), (20, 2), (30, 2), (40, 3), (50, 4)])
    (found,) = counters(log)
    assert (found.kind, spans([found])) == (QualityKind.COUNTER_STOPPED, [(10, 40)])
    assert found.place == "made.log:3"
    assert found.sentence == "The alive counter of SAFE_State stands still for 2 frames."


def test_counter_that_stands_still_to_the_end() -> None:
    assert spans(counters(alive_log([(0, 1), (10, 2), (20, 2)]))) == [(10, None)]


def test_counter_may_wrap() -> None:
    assert not counters(alive_log([(0, 254), (10, 255), (20, 0), (30, 1)]))
    four_bits = Expected("SAFE_State", 35 * MS, 10 * MS, alive="Alive", alive_modulo=16)
    assert not counters(alive_log([(0, 14), (10, 15), (20, 0), (30, 1)]), four_bits)


@pytest.mark.parametrize("lost", range(1, 6))
@pytest.mark.parametrize("late_ms", [-4, 0, 4])
def test_jump_that_lost_frames_explain_is_healthy(lost: int, late_ms: int) -> None:
    after = 10 + 10 * (lost + 1) + late_ms
    assert not counters(alive_log([(0, 250), (10, 251), (after, (252 + lost) % 256)]))


@pytest.mark.parametrize(("time", "counter"), [(20, 9), (20, 0), (20, 200), (20, 3), (40, 6)])
def test_jump_that_the_time_does_not_explain_is_not(time: int, counter: int) -> None:
    (found,) = counters(alive_log([(0, 0), (10, 1), (time, counter), (time + 10, counter + 1)]))
    assert (found.kind, spans([found])) == (QualityKind.COUNTER_JUMPED, [(10, time)])


@pytest.mark.parametrize("counter", [0, 4, 20, 200])
def test_beyond_the_longest_gap_the_gap_blinds_whatever_the_counter_says(counter: int) -> None:
    log = alive_log([(0, 0), (10, 1), (60, counter), (70, counter + 1)])
    assert not counters(log)
    assert spans(list(checks.gaps(log, stream_of(log, "SAFE_State"), SAFE))) == [(10, 60)]


def test_two_frames_swapped_in_time_are_seen_by_the_counter() -> None:
    found = counters(alive_log([(0, 1), (10, 3), (20, 2), (30, 4)]))
    assert kinds(found) == {QualityKind.COUNTER_JUMPED: 1}
    assert spans(found) == [(0, 30)]


@given(
    period=st.integers(5, 20),
    losses=st.lists(st.integers(0, 2), min_size=2, max_size=60),
    late=st.lists(st.floats(0, 0.35), min_size=60, max_size=60),
)
def test_healthy_counters_with_lost_frames_and_late_stamps_are_never_doubted(
    period: int, losses: list[int], late: list[float]
) -> None:
    sent = np.cumsum([1 + lost for lost in losses])
    frames = [
        (int((number + delay) * period * MS), 0x120, bytes(7) + bytes([int(number) % 256]))
        for number, delay in zip(sent, late, strict=False)
    ]
    expected = Expected("SAFE_State", 4 * period * MS, period * MS, alive="Alive", alive_modulo=256)
    log = made_log(frames)
    assert not counters(log, expected)
    assert not list(checks.gaps(log, stream_of(log, "SAFE_State"), expected))


@given(
    period=st.integers(1, 20),
    losses=st.lists(st.integers(0, 2), min_size=2, max_size=60),
    late=st.lists(st.floats(0, 1), min_size=60, max_size=60),
    spread_periods=st.floats(0, 4),
    step_us=st.sampled_from([1, 1000]),
)
def test_counters_are_not_doubted_for_stamps_as_late_as_the_bench_states(
    period: int, losses: list[int], late: list[float], spread_periods: float, step_us: int
) -> None:
    """A busy bus or a logger's buffer may hold frames for longer than their period."""
    sent = np.cumsum([1 + lost for lost in losses])
    spread = int(spread_periods * period * MS)
    stamps = [
        int(number) * period * MS + int(delay * spread) for number, delay in zip(sent, late, strict=False)
    ]
    coarse = np.maximum.accumulate(stamps) // (1000 * step_us) * 1000 * step_us
    frames = [(int(at), 0x120, bytes(7) + bytes([int(n) % 256])) for at, n in zip(coarse, sent, strict=True)]
    gap = 4 * period * MS + spread + 1000 * step_us
    expected = Expected("SAFE_State", gap, period * MS, "Alive", stamp_spread_ns=spread)
    log = made_log(frames)
    log = replace(log, readings=tuple(replace(one, resolution_ns=1000 * step_us) for one in log.readings))
    assert not counters(log, expected)


@pytest.mark.parametrize(("spread", "time", "told"), [(0, 20, 1), (20, 20, 0), (20, 7, 1), (30, 5, 0)])
def test_a_counter_ahead_by_more_than_the_stated_delay_of_stamps_is_told(
    spread: int, time: int, told: int
) -> None:
    """Three periods of 10 ms passed by the counter; 2.5 ms are the sender's, the rest must be the delay of stamps."""
    expected = Expected("SAFE_State", 65 * MS, 10 * MS, "Alive", stamp_spread_ns=spread * MS)
    assert len(counters(alive_log([(0, 0), (10, 1), (10 + time, 4)]), expected)) == told


def torque_log(values: list[int]) -> Log:
    return made_log([(n * MS, 0x310, struct.pack("<i", value)) for n, value in enumerate(values)])


def frozen(log: Log, expected: Expected) -> list[Quality]:
    stream = stream_of(log, expected.message)
    return list(checks.frozen(log, stream, expected, decoded(log, stream)))


def test_noisy_value_that_stands_still_blinds_from_its_first_sample() -> None:
    found = frozen(torque_log([5, 6, 7, 7, 7, 7, 8]), TORQUE)
    assert [(q.signal, spans([q])) for q in found] == [("ShaftTorque", [(2, 6)]), (None, [(2, 6)])]


def test_runs_that_noise_allows_are_healthy() -> None:
    assert not frozen(torque_log([5, 5, 5, 6, 6, 6, 5]), TORQUE)


def test_values_that_may_stand_still_do() -> None:
    assert not frozen(torque_log([5] * 100), Expected("TQS_Torque", 4 * MS, MS))


@pytest.mark.parametrize("width", [8, 9, 12, 20, 64])
def test_frozen_payloads_are_told_whatever_the_widest_frame_of_the_log(width: int) -> None:
    """Other messages of an FD log may be of 12 or 20 bytes; this one is still of its own length."""
    log = torque_log([5, 6, 7, 7, 7, 7, 8])
    wide = replace(log, data=np.pad(np.asarray(log.data)[:, :8], ((0, 0), (0, width - 8))))
    assert [spans([one]) for one in frozen(wide, TORQUE)] == [spans([one]) for one in frozen(log, TORQUE)]
    assert len(frozen(wide, TORQUE)) == 2


def test_frozen_payload_blinds_the_whole_message_by_its_shortest_limit() -> None:
    expected = Expected("DRV_Actual", 20 * MS, 5 * MS, noisy={"DrvSpeed": 12, "DrvCurrent": 4})
    log = made_log([(n * 5 * MS, 0x201, bytes([n // 6 % 2]) + bytes(7)) for n in range(7)])
    assert [q.signal for q in frozen(log, expected)] == ["DrvCurrent", None]


def impossible(log: Log, layout: MessageLayout) -> list[Quality]:
    """The doubts about the values of a message, be its signals wanted or not."""
    stream = streams_of(log, {layout.key: layout})[0][layout.name]
    kept: Decoded = {}
    found = list(value_doubts(log, stream, None, kept))
    assert set(kept) == {signal.name for signal in layout.signals}
    let_go: Decoded = {}
    assert list(value_doubts(log, stream, (), let_go)) == found
    assert not let_go
    return found


def test_values_outside_of_the_stated_range_blind_their_signal() -> None:
    found = impossible(torque_log([0, 2_000_001, 2_000_000, -2_000_000, -2_000_001]), LAYOUTS[0x310])
    assert [(q.kind, q.signal) for q in found] == [(QualityKind.OUT_OF_RANGE, "ShaftTorque")] * 2
    assert spans(found) == [(0, 2), (3, None)]
    assert found[0].sentence == "1 sample of ShaftTorque: outside the range from -200 to 200 Nm."


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_blinds_its_signal(value: float) -> None:
    signal = SignalLayout("F", "V", 0, 32, False, False, True, 1.0, 0.0, None, None)
    layout = MessageLayout("M", 5, False, 4, (signal,))
    log = made_log([(n, 5, struct.pack("<f", number)) for n, number in enumerate((1.0, value, 2.0))])
    (found,) = impossible(log, layout)
    assert (found.kind, found.signal, found.span) == (QualityKind.NOT_A_NUMBER, "F", Interval(0, 2))


def test_frames_of_a_wrong_length_blind_their_message() -> None:
    log = made_log([(0, 0x310, bytes(4)), (1, 0x310, bytes(3)), (2, 0x310, bytes(8)), (3, 0x310, bytes(4))])
    (found,) = checks.wrong_lengths(log, stream_of(log, "TQS_Torque"))
    assert (found.kind, found.message, found.span) == (QualityKind.WRONG_LENGTH, "TQS_Torque", Interval(0, 3))
    assert found.sentence == "2 frames of TQS_Torque not of 4 bytes (the first one of 3)."


@pytest.mark.parametrize(
    ("stated", "sent", "good"),
    [
        (8, 8, True),
        (8, 12, False),
        (10, 12, True),
        (10, 10, True),
        (10, 16, False),
        (49, 64, True),
        (3, 4, False),
    ],
)
def test_a_fd_frame_may_be_padded_to_the_length_that_it_must_have(stated: int, sent: int, good: bool) -> None:
    """ISO 11898-1: CAN FD frames of more than 8 bytes have 12, 16, 20, 24, 32, 48 or 64."""
    signal = LAYOUTS[0x310].signals[0]
    layout = MessageLayout("TQS_Torque", 0x310, False, stated, (replace(signal, start=0, length=8),))
    log = made_log([(0, 0x310, bytes(sent)), (1, 0x310, bytes(sent))])
    stream = streams_of(log, {0x310: layout})[0]["TQS_Torque"]
    assert stream.good.all() == good
    assert bool(list(checks.wrong_lengths(log, stream))) != good


def test_missing_blinds_for_ever() -> None:
    found = checks.missing(SAFE, "Nothing there.", "Alive")
    assert (found.span, found.blinds, found.signal) == (Interval(0, None), True, "Alive")
