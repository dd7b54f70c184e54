"""Already decoded signals: rows of the trace like frames, and both sides of each change."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trace_kit import DBC, made_reading

from interlock.errors import LogError
from interlock.trace import Expected, LogFile, QualityKind, Trace, load
from interlock.trace.gather import gather, streams_of
from interlock.trace.model import Ledger
from interlock.trace.reading import Reading, Sampled
from interlock.trace.sampled import before_and_after, layout_of, sampled_reading


def group(message: str, times: list[int], *, continuous: bool = False, **values: list[float]) -> Sampled:
    columns = {name: np.array(one, np.float64) for name, one in values.items()}
    return Sampled(message, np.array(times, np.int64), columns, {"a": "V"}, continuous)


def reading_of(*groups: Sampled, start_ns: int | None = None) -> Reading:
    rows = sum(len(one.times_ns) for one in groups)
    return sampled_reading(
        "made", groups, np.arange(1, rows + 1), Ledger(rows, rows, 0, 0), start_ns=start_ns
    )


def test_rows_of_all_groups_stand_one_after_another() -> None:
    reading = reading_of(group("A", [5, 6], a=[1, 2]), group("B", [4], b=[3]), start_ns=100)
    assert reading.columns.times_ns.tolist() == [105, 106, 104]
    assert reading.columns.idents.tolist() == [0, 0, 1]
    assert reading.columns.absolute
    assert not reading_of(group("A", [5], a=[1])).columns.absolute


def test_groups_and_frames_share_one_log() -> None:
    frames = made_reading([(100, 0x120, bytes(8))])
    sampled = reading_of(group("A", [5], a=[1]), group("B", [4], b=[3]), start_ns=100)
    log = gather([Path("f"), Path("s")], [frames, sampled])
    streams, unknown = streams_of(log, {})
    assert set(streams) == {"A", "B"}
    assert [item.key for item in unknown] == [0x120]
    assert streams["B"].times_ns.tolist() == [4]
    assert [one.message for one in log.sampled] == ["A", "B"]


def test_groups_of_two_files_are_numbered_through() -> None:
    both = [reading_of(group("A", [1], a=[1]), start_ns=0), reading_of(group("B", [2], b=[1]), start_ns=0)]
    streams, _ = streams_of(gather([Path("a"), Path("b")], both), {})
    assert {name: stream.rows.tolist() for name, stream in streams.items()} == {"A": [0], "B": [1]}


def test_two_sources_of_one_name_are_an_error() -> None:
    both = [reading_of(group("A", [1], a=[1]), start_ns=0), reading_of(group("A", [2], a=[1]), start_ns=0)]
    with pytest.raises(LogError, match="two sources bear the name A"):
        streams_of(gather([Path("a"), Path("b")], both), {})


def test_layout_names_signals_and_units() -> None:
    layout = layout_of(group("A", [1], a=[1], b=[2]))
    assert (layout.name, layout.length) == ("A", 0)
    assert [(signal.name, signal.unit) for signal in layout.signals] == [("a", "V"), ("b", "")]


CHANGES = st.lists(st.integers(0, 60), min_size=1, max_size=20, unique=True).map(sorted)


@given(CHANGES, st.integers(1, 4))
def test_rows_before_and_after_show_every_instant_between_them(instants: list[int], step: int) -> None:
    times = np.array(instants, np.int64) * 10
    values = np.arange(len(instants), dtype=np.float64)
    rows, shown = before_and_after(times, step, {"a": values})
    assert (np.diff(rows) >= 0).all()
    assert len(rows) == 2 * len(instants) - 1
    for row, value in zip(rows.tolist(), shown["a"].tolist(), strict=True):
        assert value == values[np.searchsorted(times, row, side="right") - 1]
    for time, value in zip(times.tolist()[1:], values[1:], strict=True):
        last_old = rows[np.flatnonzero(shown["a"] < value)[-1]]
        assert time - last_old == step


def test_no_instant_no_row() -> None:
    rows, shown = before_and_after(np.array([], np.int64), 1, {"a": np.array([])})
    assert len(rows) == len(shown["a"]) == 0


def loaded(tmp_path: Path, text: str, expected: list[Expected]) -> Trace:
    path = tmp_path / "lines.vcd"
    path.write_text(text)
    return load([LogFile(path)], DBC, messages=expected)


DUMP = "$timescale 1 us $end\n$var wire 1 ! EN $end\n$enddefinitions $end\n#0\n0!\n#900000\n1!\n#1000000\n"


def test_a_recorder_of_changes_has_no_gaps(tmp_path: Path) -> None:
    trace = loaded(tmp_path, DUMP, [Expected("lines", 10**6, 10**5)])
    assert trace.quality == ()
    samples = trace.signals["lines.EN"]
    assert samples.times_ns.tolist() == [0, 899_999_000, 900_000_000, 999_999_000, 1_000_000_000]
    assert samples.values.tolist() == [0, 0, 1, 1, 1]
    assert trace.message_width_ns == {"lines": 1000}


def test_unknown_level_is_a_doubt_about_the_signal(tmp_path: Path) -> None:
    trace = loaded(tmp_path, DUMP.replace("1!", "x!"), [])
    (doubt,) = trace.quality
    assert (doubt.kind, doubt.message, doubt.signal, doubt.blinds) == (
        QualityKind.NOT_A_NUMBER,
        "lines",
        "EN",
        True,
    )


def test_noise_that_stands_still_is_found_in_samples_too(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    from interlock.trace import CsvColumns

    path.write_text("t,v\n" + "".join(f"{n / 1000},{max(0, 20 - n)}\n" for n in range(60)))
    file = LogFile(path, columns=CsvColumns({"V": "v"}, time="t"))
    trace = load([file], None, messages=[Expected("scope", 10**7, 10**6, noisy={"V": 9})])
    assert [doubt.kind for doubt in trace.quality] == [QualityKind.FROZEN]
    gap = load([file], None, messages=[Expected("scope", 10**5, 10**6)])
    assert {doubt.kind for doubt in gap.quality} == {QualityKind.GAP}
