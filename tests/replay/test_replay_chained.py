"""Parts of one recorder's record, one after another: what was true stays true, and a seam hides nothing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.interval import Interval
from interlock.replay.chained import Link, chained, go_on
from interlock.trace import Expected, Quality, QualityKind, Samples, Source, Trace

MS = 1_000_000
BEAT = Expected("M", 25 * MS, 10 * MS, alive="Alive", alive_modulo=16)


def part(
    name: str, times_ms: list[int], *, first: int = 0, start_ms: int = 0, quality: tuple[Quality, ...] = ()
) -> Trace:
    """One message with an alive counter that begins at `first`."""
    times = np.array(times_ms, np.int64) * MS
    values = (np.arange(len(times)) + first) % 16.0
    return Trace(
        start_ns=start_ms * MS,
        absolute=False,
        end_ns=int(times[-1]),
        messages={"M": times},
        signals={"M.Alive": Samples("M", "Alive", "", times, values)},
        sources=(Source(f"{name}.asc", "0" * 64, "asc", len(times), len(times), 0, 0),),
        quality=quality,
        resolution_ns=1000,
        message_width_ns={"M": 1000},
        notes=("read",),
    )


def exactly(ms: int) -> Interval:
    return Interval(ms * MS, ms * MS)


def test_one_part_is_the_whole() -> None:
    only = part("a", [0, 10])
    assert chained([Link(only, exactly(0))], {}) is only


def test_two_parts_by_hand() -> None:
    """The second begins between 29 and 31 ms after the first's start: its stamps are known to 1 ms more."""
    links = [
        Link(part("a", [0, 10, 20]), exactly(0)),
        Link(part("b", [0, 10], first=3), Interval(29 * MS, 31 * MS)),
    ]
    got = chained(links, {"M": BEAT})
    assert got.messages["M"].tolist() == [0, 10 * MS, 20 * MS, 30 * MS, 40 * MS]
    assert got.signals["M.Alive"].values.tolist() == [0, 1, 2, 3, 4]
    assert (got.end_ns, got.message_width_ns, got.resolution_ns) == (40 * MS, {"M": 1000 + MS}, 1000 + MS)
    assert [source.path for source in got.sources] == ["a.asc", "b.asc"]
    assert got.notes == ("read",)
    assert got.quality == ()


@given(st.lists(st.integers(0, 40), min_size=1, max_size=4), st.integers(0, 5), st.integers(0, 1000))
def test_the_true_instant_lies_within_the_width(pauses: list[int], spread: int, share: int) -> None:
    """Each pause is known to `spread` ms; wherever in it the truth lies, the stamp is off by the width at most."""
    traces = [part(str(number), [0, 10, 20]) for number in range(len(pauses) + 1)]
    links, true, offset = [Link(traces[0], exactly(0))], [0], Interval(0, 0)
    for pause, trace in zip(pauses, traces[1:], strict=True):
        offset = offset.shift(Interval((20 + pause) * MS, (20 + pause + spread) * MS))
        true.append(true[-1] + (20 + pause) * MS + spread * MS * share // 1000)
        links.append(Link(trace, offset))
    got = chained(links, {})
    shown = got.messages["M"].reshape(-1, 3)
    for begin, row in zip(true, shown.tolist(), strict=True):
        for at, stamp in zip((0, 10, 20), row, strict=True):
            assert abs(begin + at * MS - stamp) <= got.message_width_ns["M"]


@pytest.mark.parametrize(("pause_ms", "gap"), [(5, False), (15, False), (25, False), (26, True), (300, True)])
def test_a_seam_longer_than_the_longest_gap_is_a_gap(pause_ms: int, gap: bool) -> None:
    steps = round(pause_ms / 10) or 1
    links = [
        Link(part("a", [0, 10]), exactly(0)),
        Link(part("b", [0, 10], first=1 + steps), exactly(10 + pause_ms)),
    ]
    found = [one for one in chained(links, {"M": BEAT}).quality if one.kind is QualityKind.GAP]
    assert [(one.message, one.span, one.place) for one in found] == (
        [("M", Interval(10 * MS, (10 + pause_ms) * MS), "b.asc")] if gap else []
    )


def test_a_message_that_the_bench_says_nothing_of_is_no_evidence_and_raises_no_doubt() -> None:
    links = [Link(part("a", [0, 10]), exactly(0)), Link(part("b", [0, 10], first=2), exactly(20))]
    other = Expected("N", 25 * MS, 10 * MS)
    assert not chained(links, {"N": other}).quality
    assert not chained(links, {"M": BEAT, "N": other}).quality
    later = [links[0], Link(links[1].trace, exactly(40))]
    assert not chained(later, {"N": other}).quality
    assert {one.kind for one in chained(later, {"M": BEAT}).quality} == {
        QualityKind.GAP,
        QualityKind.COUNTER_JUMPED,
    }


def test_where_nothing_is_expected_each_message_is_in_doubt_over_any_seam() -> None:
    links = [Link(part("a", [0, 10]), exactly(0)), Link(part("b", [0, 10], first=2), exactly(11))]
    assert [one.kind for one in chained(links, {}).quality] == [QualityKind.GAP]


@pytest.mark.parametrize(
    ("first", "pause_ms", "goes_on"),
    [
        (2, 10, True),
        (3, 20, True),
        (2, 20, False),
        (5, 10, False),
        (1, 10, False),
        (2, 170, True),
        (3, 180, True),
    ],
)
def test_the_alive_counter_goes_on_over_the_seam_or_is_in_doubt(
    first: int, pause_ms: int, goes_on: bool
) -> None:
    """A counter of 16 at 10 ms: after 160 ms more it may show the same again."""
    links = [
        Link(part("a", [0, 10]), exactly(0)),
        Link(part("b", [0, 10], first=first), exactly(10 + pause_ms)),
    ]
    found = [one for one in chained(links, {"M": BEAT}).quality if one.kind is QualityKind.COUNTER_JUMPED]
    assert bool(found) != goes_on
    assert all(one.blinds and one.span == Interval(0, None) for one in found)


def test_doubts_move_with_their_part_and_end_with_it() -> None:
    torn = Quality(QualityKind.TRUNCATED, None, None, Interval(5 * MS, None), "a.asc:9", True, "torn")
    later = Quality(QualityKind.GAP, "M", None, Interval(0, 7 * MS), "b.asc:1", True, "gap")
    links = [
        Link(part("a", [0, 10], quality=(torn,)), exactly(0)),
        Link(part("b", [0, 10], first=2, quality=(later,)), exactly(20)),
    ]
    got = chained(links, {"M": BEAT}).quality
    assert [one.span for one in got] == [Interval(5 * MS, 10 * MS), Interval(20 * MS, 27 * MS)]


def test_a_message_is_missing_only_where_no_part_has_it() -> None:
    lost = [
        Quality(QualityKind.MISSING, name, None, Interval(0, None), "the whole log", True, "lost")
        for name in ("M", "N")
    ]
    links = [
        Link(part("a", [0], quality=tuple(lost)), exactly(0)),
        Link(part("b", [0], first=1), exactly(10)),
    ]
    assert [one.message for one in chained(links, {"M": BEAT}).quality] == ["N"]


@pytest.mark.parametrize(
    ("starts_ms", "goes"),
    [
        ([0, 120], True),  # the first ends at 100: 20 ms later
        ([0, 126], False),  # too late for one record
        ([0, 99], False),  # before the first ended
        ([0, 0], False),  # begins anew
        ([500, 620, 740], True),
        ([500, 620, 900], False),
    ],
)
def test_stamps_go_on_only_where_they_show_it(starts_ms: list[int], goes: bool) -> None:
    assert go_on([part("x", [0, 100], start_ms=start) for start in starts_ms], 25 * MS) is goes


def test_stamps_near_zero_may_have_begun_anew() -> None:
    """A first part that ended within the longest gap: the second, near zero, may be either."""
    assert not go_on([part("a", [0, 5]), part("b", [0, 100], start_ms=20)], 25 * MS)
