"""Sources with clocks of their own on one time base: the truth lies within the stated width, doubts stay in place."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import LogError
from interlock.interval import Interval
from interlock.replay.joining import Part, cut_to, join
from interlock.timing.align import Alignment, Pair, by_edges, by_offset
from interlock.timing.clock import ClockDrift
from interlock.trace import CsvColumns, Expected, LogFile, Quality, QualityKind, Samples, Source, Trace, load

MS = 10**6
NONE = ClockDrift(Fraction(0), Fraction(0))


def trace(name: str, times: list[int], *, quality: tuple[Quality, ...] = (), width: int = 1000) -> Trace:
    stamps = np.array(times, np.int64)
    values = np.arange(len(times), dtype=np.float64)
    return Trace(
        start_ns=5000,
        absolute=True,
        end_ns=times[-1],
        messages={name: stamps},
        signals={f"{name}.S": Samples(name, "S", "V", stamps, values)},
        sources=(Source(f"{name}.log", "00", "made", len(times), len(times), 0, 0),),
        quality=quality,
        resolution_ns=width,
        message_width_ns={name: width},
        notes=("made",),
    )


def doubt(message: str | None, span: Interval, *, kind: QualityKind = QualityKind.UNREADABLE) -> Quality:
    return Quality(kind, message, None, span, "x:1", blinds=True, sentence="Here.")


def test_a_given_offset_shifts_stamps_and_widens_them() -> None:
    offset = by_offset(Interval(100, 300), NONE)
    joined = join([Part(trace("A", [0, 10_000])), Part(trace("B", [0, 5000], width=10), offset)])
    assert joined.messages["A"].tolist() == [0, 10_000]
    assert joined.messages["B"].tolist() == [200, 5200]
    assert joined.signals["B.S"].times_ns.tolist() == [200, 5200]
    assert joined.message_width_ns["A"] == 1000
    assert 110 <= joined.message_width_ns["B"] <= 112
    assert joined.resolution_ns == 1000
    assert (joined.start_ns, joined.end_ns, joined.absolute) == (5000, 10_000, True)


def test_a_source_that_began_earlier_moves_the_start() -> None:
    joined = join(
        [Part(trace("A", [0, 10_000])), Part(trace("B", [0, 5000]), by_offset(Interval(-700, -700), NONE))]
    )
    assert joined.messages["A"].tolist() == [700, 10_700]
    assert joined.messages["B"].tolist() == [0, 5000]
    assert joined.start_ns == 4300


def test_order_of_the_parts_does_not_matter() -> None:
    parts = [Part(trace("A", [0, 10_000])), Part(trace("B", [0, 5000]), by_offset(Interval(100, 300), NONE))]
    one, other = join(parts), join(parts[::-1])
    assert (one.start_ns, one.end_ns, one.message_width_ns) == (
        other.start_ns,
        other.end_ns,
        other.message_width_ns,
    )
    for name, stamps in one.messages.items():
        assert np.array_equal(stamps, other.messages[name])


CLOCKS = st.tuples(
    st.integers(-(10**9), 10**9),
    st.integers(0, 10**6),
    st.integers(-200, 200),
    st.integers(0, 60),
    st.integers(0, 10**9),
)


@given(CLOCKS, st.lists(st.integers(0, 10**11), min_size=1, max_size=20, unique=True), st.data())
def test_the_truth_lies_within_the_width(
    clock: tuple[int, int, int, int, int], stamps: list[int], data: st.DataObject
) -> None:
    offset, unsure, ppm, around, anchor = clock
    drift = ClockDrift.ppm(around, ppm)
    alignment = by_offset(Interval(offset, offset + unsure), drift, anchor)
    stamps = sorted(stamps)
    stamps = [stamp - stamps[0] for stamp in stamps]
    joined = join([Part(trace("A", [0, 10**9])), Part(trace("B", stamps), alignment)])
    true_offset = data.draw(st.integers(offset, offset + unsure))
    share = data.draw(st.integers(0, 10))
    true_drift = drift.low + (drift.high - drift.low) * Fraction(share, 10)
    start = joined.start_ns - 5000
    for stamp, placed in zip(stamps, joined.messages["B"].tolist(), strict=True):
        true = stamp + true_offset + true_drift * (stamp - anchor)
        assert abs(placed + start - true) <= joined.message_width_ns["B"]
    assert min(int(times[0]) for times in joined.messages.values()) >= 0
    assert all((np.diff(times) >= 0).all() for times in joined.messages.values())


def test_doubts_go_with_their_source_and_only_to_its_messages() -> None:
    torn = trace(
        "B", [0, 5000], quality=(doubt(None, Interval(1000, 2000)), doubt("B", Interval(3000, None)))
    )
    joined = join(
        [Part(trace("A", [0, 5000])), Part(torn, by_offset(Interval(100, 300), NONE))],
        [Expected("A", MS, MS), Expected("B", MS, MS)],
    )
    assert [(one.message, one.span) for one in joined.quality] == [
        ("B", Interval(1100, 2300)),
        ("B", Interval(3100, None)),
    ]


def test_facts_that_blind_nothing_stay_what_they_are() -> None:
    fact = Quality(QualityKind.ERROR_FRAME, None, None, Interval(0, 5), "x:1", blinds=False, sentence="Here.")
    joined = join([Part(trace("A", [0, 5000], quality=(fact,)))])
    assert joined.quality == (fact,)


def test_where_a_source_did_not_record_its_messages_are_in_doubt() -> None:
    short = Part(trace("B", [0, 5 * MS]), by_offset(Interval(20 * MS, 22 * MS), NONE))
    joined = join([Part(trace("A", [0, 100 * MS])), short], [Expected("A", MS, MS), Expected("B", MS, MS)])
    assert [(one.kind, one.message, one.span) for one in joined.quality] == [
        (QualityKind.NOT_RECORDED, "B", Interval(0, 22 * MS)),
        (QualityKind.NOT_RECORDED, "B", Interval(25 * MS, None)),
    ]


def test_ends_within_the_longest_gap_are_no_doubt() -> None:
    short = Part(trace("B", [0, 98 * MS]), by_offset(Interval(MS, MS), NONE))
    both = [Expected("A", 2 * MS, MS), Expected("B", 2 * MS, MS)]
    assert join([Part(trace("A", [0, 100 * MS])), short], both).quality == ()
    assert len(join([Part(trace("A", [0, 100 * MS])), short]).quality) == 2


def test_a_message_that_the_bench_says_nothing_of_may_end_with_its_source() -> None:
    short = Part(trace("B", [0, 50 * MS]), by_offset(Interval(20 * MS, 22 * MS), NONE))
    assert join([Part(trace("A", [0, 100 * MS])), short], [Expected("A", 2 * MS, MS)]).quality == ()


def test_a_message_that_one_source_lacks_and_another_has_is_not_missing() -> None:
    lacks = doubt("B", Interval(0, None), kind=QualityKind.MISSING)
    nowhere = doubt("C", Interval(0, None), kind=QualityKind.MISSING)
    one = Part(trace("A", [0, 5000], quality=(lacks, nowhere)))
    other = Part(trace("B", [0, 5000]), by_offset(Interval(0, 0), NONE))
    assert {found.message for found in join([one, other]).quality} == {"C"}


def test_sources_are_listed_and_the_alignment_is_said() -> None:
    joined = join(
        [Part(trace("A", [0, 5000])), Part(trace("B", [0, 5000]), by_offset(Interval(0, MS), NONE))]
    )
    assert [source.path for source in joined.sources] == ["A.log", "B.log"]
    assert joined.notes == ("made", "B.log: Offset as stated, offset known to ±0.5 ms.")


@pytest.mark.parametrize("count", [0, 2])
def test_exactly_one_source_is_the_reference(count: int) -> None:
    offset: Alignment | None = by_offset(Interval(0, 0), NONE)
    parts = [
        Part(trace("A", [0, 1]), None if count else offset),
        Part(trace("B", [0, 1]), None if count else offset),
    ]
    with pytest.raises(LogError, match="every source but one"):
        join(parts)


def test_one_message_in_two_sources_is_an_error() -> None:
    with pytest.raises(LogError, match=r"A\.log: message A is in two sources"):
        join([Part(trace("A", [0, 1])), Part(trace("A", [0, 1]), by_offset(Interval(0, 0), NONE))])


def test_a_can_log_and_a_scope_are_aligned_by_the_edge_that_both_saw(tmp_path: Path) -> None:
    """The scope's clock is 123.4567 ms off; the width is that of both samplings, and holds the truth."""
    true_offset = 123_456_700
    dbc = Path(__file__).parents[1] / "data" / "bench.dbc"
    can_edge, period = 500 * MS, 10 * MS
    log = tmp_path / "run.log"
    lines = [
        f"(1790000000.{n:02}0000) can0 120#{'00' if n * period < can_edge else '01'}{n:02X}000000000000\n"
        for n in range(100)
    ]
    log.write_text("".join(lines))
    scope = tmp_path / "scope.csv"
    scope.write_text(
        "t,CH1\n"
        + "".join(
            f"{n / 10000:.4f},{24 if n * 100_000 + true_offset < can_edge - 3 * MS else 0}\n"
            for n in range(8000)
        )
    )
    one = load([log], dbc, messages=[])
    other = load([LogFile(scope, "STO", CsvColumns({"A": "CH1"}, time="t"))], None, messages=[])
    change = int(np.flatnonzero(np.diff(other.signals["STO.A"].values))[0])
    stamp = Interval(*other.messages["STO"][change : change + 2].tolist())
    seen = Interval(can_edge - period, can_edge)  # the frame before, and the first that shows it
    joined = join([Part(one), Part(other, by_edges([Pair(seen, stamp)], ClockDrift.ppm(50)))])
    placed = joined.messages["STO"] + (joined.start_ns - one.start_ns)
    truth = other.messages["STO"] + true_offset
    width = joined.message_width_ns["STO"]
    assert (np.abs(placed - truth) <= width).all()
    assert width <= period // 2 + 200_000
    assert joined.message_width_ns["SAFE_State"] == 1000


# ---- cut to the record by whose clock all is told -----------------------------------------------------------


def joined_with(times_ms: list[int], offset_ms: int) -> tuple[Trace, Trace]:
    """A reference of 100 ms, and it joined with a source whose stamps are moved by so much."""
    reference = trace("A", [0, 50 * MS, 100 * MS])
    other = Part(
        trace("B", [at * MS for at in times_ms]), by_offset(Interval(offset_ms * MS, offset_ms * MS), NONE)
    )
    return reference, join([Part(reference), other], [Expected("A", 50 * MS, MS), Expected("B", 50 * MS, MS)])


def shown(found: Trace) -> list[tuple[float, float]]:
    """Stamps in milliseconds and values of the source's signal."""
    samples = found.signals["B.S"]
    assert samples.times_ns.tolist() == found.messages["B"].tolist()
    return [
        (at / MS, value) for at, value in zip(samples.times_ns.tolist(), samples.values.tolist(), strict=True)
    ]


def test_what_lies_outside_of_the_reference_is_cut_off_and_said() -> None:
    reference, joined = joined_with([0, 30, 60, 90, 120, 150], -40)
    got = cut_to(reference, joined)
    assert (got.start_ns, got.end_ns) == (reference.start_ns, reference.end_ns)
    assert shown(got) == [(20, 2), (50, 3), (80, 4)]
    assert got.messages["A"].tolist() == [0, 50 * MS, 100 * MS]
    assert "samples of B from before or after the record" in got.notes[-1]


def test_changes_hold_to_the_ends_if_the_record_went_on() -> None:
    reference, joined = joined_with([0, 30, 60, 90, 120, 150], -40)
    assert shown(cut_to(reference, joined, {"B"})) == [(0, 1), (20, 2), (50, 3), (80, 4), (100, 4)]


@pytest.mark.parametrize(
    ("times_ms", "offset_ms", "held"),
    [
        ([0, 30], -10, [(0, 0), (20, 1)]),  # nothing after its last change: it may have stopped
        ([0, 30], 10, [(10, 0), (40, 1)]),  # nothing before its first
        ([0, 300], -100, [(0, 0), (100, 0)]),  # one change before and one after
        ([0, 30], 90, [(90, 0), (100, 0)]),
    ],
)
def test_ends_of_a_record_of_changes(
    times_ms: list[int], offset_ms: int, held: list[tuple[float, float]]
) -> None:
    reference, joined = joined_with(times_ms, offset_ms)
    assert shown(cut_to(reference, joined, {"B"})) == held


def test_a_source_that_lies_wholly_outside_shows_nothing() -> None:
    for offset_ms in (-500, 500):
        reference, joined = joined_with([0, 30], offset_ms)
        got = cut_to(reference, joined)
        assert "B" not in got.messages
        assert "B.S" not in got.signals
        assert any(one.message == "B" and one.kind is QualityKind.NOT_RECORDED for one in got.quality)


def test_nothing_is_cut_where_nothing_lies_outside() -> None:
    reference, joined = joined_with([0, 30, 60], 20)
    assert cut_to(reference, joined) is joined


def test_doubts_are_clipped_to_the_record() -> None:
    reference = trace("A", [0, 100 * MS])
    doubts = (
        doubt("B", Interval(0, 20 * MS)),  # before the reference began
        doubt("B", Interval(30 * MS, 50 * MS)),
        doubt("B", Interval(130 * MS, 160 * MS)),
        doubt("B", Interval(190 * MS, None)),  # after it ended
    )
    other = Part(trace("B", [0, 200 * MS], quality=doubts), by_offset(Interval(-40 * MS, -40 * MS), NONE))
    joined = join([Part(reference), other], [Expected("A", 500 * MS, MS), Expected("B", 500 * MS, MS)])
    got = [one.span for one in cut_to(reference, joined).quality]
    assert got == [Interval(0, 10 * MS), Interval(90 * MS, None)]


@given(st.lists(st.integers(0, 400), min_size=1, max_size=12, unique=True), st.integers(-300, 300))
def test_no_sample_is_made_up(times_ms: list[int], offset_ms: int) -> None:
    """Within the ends every sample stands where it stood; at an end only what the record said of that instant."""
    times = sorted(times_ms)
    reference, joined = joined_with(times, offset_ms)
    inside = [(at + offset_ms, k) for k, at in enumerate(times) if 0 <= at + offset_ms <= 100]
    got = cut_to(reference, joined)
    assert (shown(got) if "B" in got.messages else []) == inside
    held = cut_to(reference, joined, {"B"})
    for at, value in shown(held) if "B" in held.messages else []:
        before = [k for k, one in enumerate(times) if one + offset_ms <= at]
        assert before[-1] == value
