"""Doubts that concern a whole file: unread pieces, time running backwards, mixed buses and files."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trace_kit import LAYOUTS, MS, made_log, made_reading

from interlock.interval import Interval
from interlock.trace import quality
from interlock.trace.gather import Log, gather, streams_of
from interlock.trace.model import Ledger, QualityKind
from interlock.trace.reading import Oddity, Rejected, Sampled
from interlock.trace.sampled import sampled_reading


def log_with(*pieces: Rejected, oddities: tuple[Oddity, ...] = ()) -> Log:
    reading = made_reading([(n * 10, 0x120, bytes(8)) for n in range(5)])
    return gather([Path("a.log")], [replace(reading, rejected=pieces, oddities=oddities)])


@pytest.mark.parametrize(
    ("piece", "span"),
    [
        (Rejected(1, 1, 1, 0, 0, "x"), Interval(0, 0)),
        (Rejected(3, 4, 2, 2, 2, "x"), Interval(10, 20)),
        (Rejected(3, 9, 5, 2, 4, "x"), Interval(10, 40)),
        (Rejected(9, 9, 1, 5, 5, "x"), Interval(40, None)),
        (Rejected(3, 3, 0, 2, 2, "x", until_end=True), Interval(10, None)),
        (Rejected(3, 3, 0, 2, 2, "x", from_start=True), Interval(0, 20)),
    ],
)
def test_unread_piece_blinds_everything_between_the_frames_around_it(piece: Rejected, span: Interval) -> None:
    (finding,) = quality.unread(log_with(piece))
    assert (finding.span, finding.message, finding.blinds) == (span, None, True)
    assert finding.place == f"a.log:{piece.place}"
    assert finding.sentence.endswith("x.")


def test_many_lines_are_told_with_their_number() -> None:
    (finding,) = quality.unread(log_with(Rejected(3, 9, 5, 2, 4, "a decimal comma")))
    assert finding.sentence == "5 lines from here to 9 are no frames: a decimal comma."


def test_error_frames_are_told_but_do_not_blind() -> None:
    oddity = Oddity(QualityKind.ERROR_FRAME, "error frames", 3, 7, 2, 4)
    (finding,) = quality.oddities(log_with(oddities=(oddity,)))
    assert (finding.span, finding.blinds, finding.place) == (Interval(10, 40), False, "a.log:7")


@pytest.mark.parametrize(
    ("times", "spans"),
    [
        ([0, 10, 20], []),
        ([0, 10, 10, 20], []),
        ([0, 20, 10, 30], [(0, 30)]),
        ([0, 10, 90, 20, 30, 95], [(10, 95)]),
        ([0, 10, 20, 5, 30], [(5, 30)]),
        ([0, 10, 20, 2, 30], [(2, 30)]),
        ([0, 10, 90, 20, 30], [(10, None)]),
        ([50, 10, 60], [(0, 50)]),
        ([0, 20, 10, 30, 50, 40, 60], [(0, 30), (30, 60)]),
    ],
)
def test_backward_stamps_blind_from_before_the_high_one_to_the_next_as_late(
    times: list[int], spans: list[tuple[int, int | None]]
) -> None:
    log = made_log([(time, 0x120, bytes(8)) for time in times])
    found = [(finding.span.lo, finding.span.hi) for finding in quality.backwards(log)]
    assert found == spans or (times[0] == 50 and found == [(0, 50)])


@given(
    steps=st.lists(st.integers(1, 20), min_size=3, max_size=30),
    at=st.integers(0, 29),
    wrong=st.integers(0, 700),
)
def test_frame_with_a_wrong_stamp_out_of_order_is_covered_where_it_was(
    steps: list[int], at: int, wrong: int
) -> None:
    times = np.cumsum(steps)
    at %= len(times)
    stamped = times.copy()
    stamped[at] = wrong
    if (np.diff(stamped) >= 0).all():
        return  # the order does not show it
    log = made_log([(int(time), 0x120, bytes(8)) for time in stamped])
    true = int(times[at]) - log.start_ns
    spans = [finding.span for finding in quality.backwards(log)]
    assert any(true in span or (span.lo == 0 and true < 0) for span in spans)


@given(st.permutations(list(range(12))))
def test_every_pair_out_of_order_lies_in_one_span(order: list[int]) -> None:
    log = made_log([(10 * place, 0x120, bytes(8)) for place in order])
    spans = [finding.span for finding in quality.backwards(log)]
    for first in range(12):
        for second in range(first + 1, 12):
            if order[first] > order[second]:
                assert any(10 * order[first] in span and 10 * order[second] in span for span in spans)


def test_order_is_judged_file_by_file() -> None:
    parts = [made_reading([(0, 1, b""), (20, 1, b"")]), made_reading([(10, 1, b""), (30, 1, b"")])]
    assert not list(quality.backwards(gather([Path("a"), Path("b")], parts)))


def groups_of(*stamps: list[int]) -> Log:
    """A file of samples with a group for each list of stamps, as an MF4 file of decoded messages has."""
    groups = [
        Sampled(f"group_{n}", np.array(times), {"S": np.zeros(len(times))}, {}, continuous=False)
        for n, times in enumerate(stamps)
    ]
    rows = sum(map(len, stamps))
    reading = sampled_reading("mf4", groups, np.arange(rows), Ledger(rows, rows, 0, 0), place_is="record")
    return gather([Path("run.mf4")], [reading])


def test_groups_that_stand_one_after_another_do_not_run_backwards() -> None:
    assert not list(quality.backwards(groups_of([0, 10, 20], [0, 5, 20], [3])))


def test_stamps_of_one_group_that_run_backwards_are_told_with_their_place() -> None:
    (finding,) = quality.backwards(groups_of([0, 10, 20], [0, 15, 5, 20]))
    assert (finding.span, finding.blinds) == (Interval(0, 20), True)
    assert finding.place == "run.mf4 at record 5"


def test_unknown_identifiers_are_told_once_and_do_not_blind() -> None:
    log = made_log([(0, 0x120, bytes(8)), (5, 0x7F, b""), (9, 0x7F, b"")])
    _, unknown = streams_of(log, LAYOUTS)
    (finding,) = quality.unknown_identifiers(log, unknown)
    assert (finding.span, finding.blinds, finding.place) == (Interval(5, 9), False, "made.log:2")
    assert finding.sentence.startswith("2 frames have the identifier 7F (hexadecimal)")


@pytest.mark.parametrize(
    ("channels", "spans"),
    [
        ([0, 0, 0, 0], []),
        ([1, 1, 1, 1], []),
        ([0, 1, 0, 0], [(0, 20)]),
        ([1, 0, 0, 0], [(0, 10)]),
        ([0, 0, 0, 1], [(20, None)]),
        ([0, 1, 0, 1], [(0, 20), (20, None)]),
    ],
)
def test_frames_from_another_bus_blind_their_message(
    channels: list[int], spans: list[tuple[int, int | None]]
) -> None:
    log = made_log([(n * 10, 0x120, bytes(8)) for n in range(4)], channels=channels)
    streams, _ = streams_of(log, LAYOUTS)
    found = list(quality.mixed_buses(log, streams["SAFE_State"]))
    assert [(finding.span.lo, finding.span.hi) for finding in found] == spans
    assert all(finding.message == "SAFE_State" and finding.blinds for finding in found)


def two_files(first: list[int], second: list[int]) -> Log:
    parts = [made_reading([(time * MS, 0x120, bytes(8)) for time in times]) for times in (first, second)]
    return gather([Path("a.log"), Path("b.log")], parts)


def test_message_in_two_files_one_after_the_other_is_fine() -> None:
    log = two_files([0, 1, 2], [3, 4])
    streams, _ = streams_of(log, LAYOUTS)
    assert not list(quality.mixed_files(log, streams["SAFE_State"]))


def test_a_logger_may_begin_a_new_file_between_two_frames_of_one_stamp() -> None:
    log = two_files([0, 1, 2], [2, 4])
    streams, _ = streams_of(log, LAYOUTS)
    assert not list(quality.mixed_files(log, streams["SAFE_State"]))
    assert not list(quality.unshared_clocks(log))


def test_message_in_two_files_at_once_blinds_it_meanwhile() -> None:
    log = two_files([0, 2, 4], [3, 5])
    streams, _ = streams_of(log, LAYOUTS)
    (finding,) = quality.mixed_files(log, streams["SAFE_State"])
    assert (finding.kind, finding.span) == (QualityKind.SEVERAL_CHANNELS, Interval(3 * MS, 4 * MS))


def two_messages(first: list[int], second: list[int]) -> Log:
    """Two files of different messages with frames at these times."""
    readings = [
        made_reading([(time, ident, bytes(8)) for time in times])
        for ident, times in ((0x120, first), (0x201, second))
    ]
    return gather([Path("a.log"), Path("b.log")], readings)


@pytest.mark.parametrize(
    ("first", "second", "span"),
    [
        ([0, 100], [50, 200], Interval(50, 100)),
        ([50, 200], [0, 100], Interval(50, 100)),
        ([0, 300], [50, 200], Interval(50, 200)),
        ([0, 300], [0, 300], Interval(0, 300)),
    ],
)
def test_two_files_over_the_same_time_are_in_doubt(
    first: list[int], second: list[int], span: Interval
) -> None:
    (doubt,) = quality.unshared_clocks(two_messages(first, second))
    assert (doubt.kind, doubt.message, doubt.span, doubt.blinds) == (
        QualityKind.TIME_RELATIVE,
        None,
        span,
        True,
    )
    assert "how far their clocks differ is not stated" in doubt.sentence


@pytest.mark.parametrize(("first", "second"), [([0, 100], [100, 200]), ([500, 900], [0, 100])])
def test_files_one_after_another_are_one_log(first: list[int], second: list[int]) -> None:
    assert list(quality.unshared_clocks(two_messages(first, second))) == []


@given(st.lists(st.tuples(st.integers(0, 100), st.integers(0, 40)), min_size=1, max_size=5))
def test_every_instant_that_two_files_cover_is_in_doubt(spans: list[tuple[int, int]]) -> None:
    readings = [made_reading([(lo, 0x120, bytes(8)), (lo + size, 0x120, bytes(8))]) for lo, size in spans]
    log = gather([Path(f"{n}.log") for n in range(len(spans))], readings)
    doubts = list(quality.unshared_clocks(log))
    for at in range(log.end_ns):
        covering = sum(lo - log.start_ns <= at and at + 1 <= lo + size - log.start_ns for lo, size in spans)
        doubted = any(doubt.span.lo <= at and at + 1 <= (doubt.span.hi or 0) for doubt in doubts)
        assert doubted == (covering > 1)
