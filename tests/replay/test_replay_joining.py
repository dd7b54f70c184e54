"""Sources with clocks of their own on one time base: the truth lies within the stated width, doubts stay in place."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import LogError
from interlock.interval import Interval
from interlock.replay.joining import Part, join
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
        (QualityKind.GAP, "B", Interval(0, 22 * MS)),
        (QualityKind.GAP, "B", Interval(25 * MS, None)),
    ]


def test_ends_within_the_longest_gap_are_no_doubt() -> None:
    short = Part(trace("B", [0, 98 * MS]), by_offset(Interval(MS, MS), NONE))
    both = [Expected("A", 2 * MS, MS), Expected("B", 2 * MS, MS)]
    assert join([Part(trace("A", [0, 100 * MS])), short], both).quality == ()
    assert len(join([Part(trace("A", [0, 100 * MS])), short]).quality) == 2


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
