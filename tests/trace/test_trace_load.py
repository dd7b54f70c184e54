"""From files to a trace: the sample logs are sound, and every kind of doubt finds its way into it."""

from pathlib import Path

import can
import cantools
import numpy as np
import pytest
from trace_kit import DATA, DBC, EXPECTED, MS, kinds

from interlock.errors import LogError
from interlock.interval import Interval
from interlock.trace import Expected, QualityKind, Trace, load

LINES = (DATA / "short.log").read_bytes().splitlines(keepends=True)


def loaded(tmp_path: Path, lines: list[bytes], expected: tuple[Expected, ...] = EXPECTED) -> Trace:
    path = tmp_path / "a.log"
    path.write_bytes(b"".join(lines))
    return load([path], DBC, messages=expected)


@pytest.mark.parametrize("file", ["short.log", "short.asc", "short.blf", "short.csv", "short.trc"])
def test_sound_logs_raise_no_doubt(file: str) -> None:
    trace = load([DATA / file], DBC, messages=EXPECTED)
    assert trace.quality == ()
    assert trace.sources[0].rejected == 0
    assert trace.absolute


@pytest.mark.parametrize("file", ["short.log", "short.asc", "short.blf", "short.csv", "short.trc"])
def test_all_signals_are_those_of_python_can_and_cantools(file: str) -> None:
    database = cantools.database.load_file(DBC)
    reference: dict[str, list[tuple[float, float]]] = {}
    with can.LogReader(DATA / file) as reader:
        for frame in reader:
            message = database.get_message_by_frame_id(frame.arbitration_id)
            for name, value in message.decode(frame.data, decode_choices=False).items():
                reference.setdefault(f"{message.name}.{name}", []).append((frame.timestamp, value))
    trace = load([DATA / file], DBC, messages=EXPECTED)
    assert set(trace.signals) == set(reference)
    for name, samples in trace.signals.items():
        stamps, values = np.array(reference[name]).T
        assert np.array_equal(samples.values, values)
        assert np.abs((stamps - stamps[0]) * 1e9 - (samples.times_ns - samples.times_ns[0])).max() < 1000


def test_trace_begins_with_its_first_frame() -> None:
    trace = load([DATA / "short.log"], DBC, messages=EXPECTED)
    assert trace.start_ns == 1_790_000_000_000_470_000
    assert min(times[0] for times in trace.messages.values()) == 0
    assert max(times[-1] for times in trace.messages.values()) == trace.end_ns
    assert trace.signals["DRV_Actual.DrvSpeed"].unit == "1/min"
    assert trace.resolution_ns == 1000


def test_unreadable_line_blinds_everything_between_its_neighbours(tmp_path: Path) -> None:
    trace = loaded(tmp_path, [*LINES[:500], LINES[500].replace(b".", b","), *LINES[501:]])
    (finding,) = trace.quality
    times = sorted(time for stamps in trace.messages.values() for time in stamps.tolist())
    assert (finding.kind, finding.message, finding.blinds) == (QualityKind.UNREADABLE, None, True)
    assert finding.span == Interval(times[499], times[500])
    assert finding.place == "a.log:501"
    assert "decimal comma" in finding.sentence


def test_torn_end_blinds_to_the_end_of_time(tmp_path: Path) -> None:
    trace = loaded(tmp_path, [*LINES[:500], LINES[500][:-6]])
    (finding,) = trace.quality
    assert (finding.kind, finding.span) == (QualityKind.TRUNCATED, Interval(trace.end_ns, None))


def test_message_that_stops_is_a_gap_to_the_end(tmp_path: Path) -> None:
    trace = loaded(tmp_path, [line for n, line in enumerate(LINES) if b" 201#" not in line or n < 700])
    (finding,) = trace.quality
    assert (finding.kind, finding.message, finding.span.hi) == (QualityKind.GAP, "DRV_Actual", None)
    assert finding.span.lo == trace.messages["DRV_Actual"][-1]


@pytest.mark.parametrize("name", ["SAFE_State", "Nobody"])
def test_message_that_never_comes_is_missing(tmp_path: Path, name: str) -> None:
    expected = (Expected(name, 35 * MS, 10 * MS, alive="Alive"),)
    trace = loaded(tmp_path, [line for line in LINES if b" 120#" not in line], expected)
    (finding,) = trace.quality
    assert (finding.kind, finding.message, finding.span) == (QualityKind.MISSING, name, Interval(0, None))


def test_signals_that_the_dbc_lacks_are_missing(tmp_path: Path) -> None:
    expected = (Expected("SAFE_State", 35 * MS, 10 * MS, alive="Beat", noisy={"Hum": 3}),)
    trace = loaded(tmp_path, LINES, expected)
    assert {(q.kind, q.signal) for q in trace.quality} == {(QualityKind.MISSING, s) for s in ("Beat", "Hum")}


def test_frames_repeated_by_the_logger_are_a_stopped_counter(tmp_path: Path) -> None:
    twice = next(n for n, line in enumerate(LINES) if n > 600 and b" 120#" in line)
    trace = loaded(tmp_path, [*LINES[: twice + 1], LINES[twice], *LINES[twice + 1 :]])
    assert kinds(trace.quality) == {QualityKind.COUNTER_STOPPED: 1}


def test_swapped_lines_are_sorted_after_they_were_told(tmp_path: Path) -> None:
    trace = loaded(tmp_path, [*LINES[:100], LINES[300], *LINES[101:300], LINES[100], *LINES[301:]])
    assert kinds(trace.quality) == {QualityKind.TIME_BACKWARDS: 1}
    whole = loaded(tmp_path, LINES)
    for name, samples in trace.signals.items():
        assert np.array_equal(samples.times_ns, whole.signals[name].times_ns)
        assert np.array_equal(samples.values, whole.signals[name].values)


def test_frames_of_a_wrong_length_are_no_samples(tmp_path: Path) -> None:
    at = next(n for n, line in enumerate(LINES) if n > 600 and b" 310#" in line)
    trace = loaded(tmp_path, [*LINES[:at], LINES[at].replace(b" R", b"00 R"), *LINES[at + 1 :]])
    assert kinds(trace.quality) == {QualityKind.WRONG_LENGTH: 1}
    whole = loaded(tmp_path, LINES)
    assert len(trace.messages["TQS_Torque"]) == len(whole.messages["TQS_Torque"]) - 1
    assert len(trace.signals["TQS_Torque.ShaftTorque"].values) == len(trace.messages["TQS_Torque"])


def test_log_split_into_two_files_is_the_same_trace(tmp_path: Path) -> None:
    paths = [tmp_path / "b.log", tmp_path / "a.log"]
    paths[0].write_bytes(b"".join(LINES[800:]))
    paths[1].write_bytes(b"".join(LINES[:800]))
    trace, whole = load(paths, DBC, messages=EXPECTED), loaded(tmp_path, LINES)
    assert trace.quality == ()
    assert (trace.start_ns, trace.end_ns) == (whole.start_ns, whole.end_ns)
    for name, samples in trace.signals.items():
        assert np.array_equal(samples.values, whole.signals[name].values)
    assert [source.frames for source in trace.sources] == [700, 800]


def test_missing_file_of_a_split_log_is_a_gap_for_every_message(tmp_path: Path) -> None:
    trace = loaded(tmp_path, [*LINES[:600], *LINES[800:]])
    blind = {q.message for q in trace.quality if q.kind is QualityKind.GAP}
    assert blind == {expected.message for expected in EXPECTED}


def test_same_log_twice_is_told(tmp_path: Path) -> None:
    path = tmp_path / "b.log"
    path.write_bytes(b"".join(LINES))
    trace = load([DATA / "short.log", path], DBC, messages=EXPECTED)
    assert kinds(trace.quality)[QualityKind.SEVERAL_CHANNELS] == len(EXPECTED)


def test_files_without_time_of_day_are_not_joined(tmp_path: Path) -> None:
    path = tmp_path / "b.log"
    path.write_bytes(b"".join(b"(%d.000000) can0 120#0000000000000000 R\n" % n for n in range(9)))
    with pytest.raises(LogError, match=r"b\.log: its stamps do not say the time of day"):
        load([DATA / "short.log", path], DBC, messages=EXPECTED)


def test_no_file_is_an_error() -> None:
    with pytest.raises(LogError, match="no log file given"):
        load([], DBC, messages=EXPECTED)


def test_unknown_frames_are_counted_and_blind_nothing(tmp_path: Path) -> None:
    other = LINES[400].replace(LINES[400].split()[2][:3], b"6EE")
    trace = loaded(tmp_path, [*LINES[:401], other, *LINES[401:]])
    assert kinds(trace.quality) == {QualityKind.UNKNOWN_ID: 1}
    assert not trace.quality[0].blinds


def test_notes_of_all_files_are_kept_once() -> None:
    assert load([DATA / "short.asc"], DBC, messages=EXPECTED).notes == (
        "the date of the log carries no time zone, nor whether daylight-saving time held: read as UTC",
    )


def test_each_message_has_the_width_of_the_stamps_of_its_files(tmp_path: Path) -> None:
    path = tmp_path / "b.log"
    path.write_bytes(b"".join(b"(%d.%03d) can0 7E0#00\n" % (1_790_000_100, n) for n in range(9)))
    trace = load([DATA / "short.log", path], DBC, messages=EXPECTED)
    assert trace.resolution_ns == MS
    assert set(trace.message_width_ns.values()) == {1000}
    both = tmp_path / "c.log"
    both.write_bytes(b"(1790000200.5) can0 310#00000000\n")
    trace = load([DATA / "short.log", both], DBC, messages=EXPECTED)
    assert trace.message_width_ns["TQS_Torque"] == 100 * MS
    assert trace.message_width_ns["DRV_Actual"] == 1000


def test_split_by_message_into_two_files_is_in_doubt_until_their_clocks_are_stated(tmp_path: Path) -> None:
    paths = [tmp_path / "safe.log", tmp_path / "rest.log"]
    paths[0].write_bytes(b"".join(line for line in LINES if b" 120#" in line))
    paths[1].write_bytes(b"".join(line for line in LINES if b" 120#" not in line))
    (doubt,) = load(paths, DBC, messages=EXPECTED).quality
    assert (doubt.kind, doubt.message, doubt.blinds) == (QualityKind.TIME_RELATIVE, None, True)


def test_without_a_dbc_there_are_no_frames_with_names() -> None:
    trace = load([DATA / "short.log"], None, messages=[])
    assert trace.messages == {}
    assert {finding.kind for finding in trace.quality} == {QualityKind.UNKNOWN_ID}


@pytest.mark.parametrize(("step_ms", "width_ms"), [(1, 1), (7, 7), (10, 10)])
def test_stamps_that_move_in_coarse_steps_are_known_no_better(tmp_path, step_ms, width_ms) -> None:
    path = tmp_path / "coarse.log"
    lines = [
        f"({step_ms * k // 1000}.{step_ms * k % 1000:03d}000) can0 120#{k % 256:016X}" for k in range(200)
    ]
    path.write_text("\n".join(lines) + "\n")
    assert load([path], DBC, messages=[]).resolution_ns == width_ms * 1_000_000


@pytest.mark.parametrize(
    ("stamps_ms", "width_ns"),
    [
        ([10 * k for k in range(200)], 1000),  # an even raster may be that of the bus
        ([10 * k + k % 3 for k in range(200)], 1_000_000),  # rounded to whole milliseconds
        ([10 * k + k % 3 + 0.001 * (k % 2) for k in range(200)], 1000),
        ([10 * (k // 2) for k in range(200)], 10_000_000),  # two frames cannot come at once: a coarse clock
        ([10 * k + k % 3 for k in range(50)], 1000),  # too few to tell
    ],
)
def test_the_width_of_a_message_is_the_step_that_the_clock_takes(tmp_path, stamps_ms, width_ns) -> None:
    path = tmp_path / "a.log"
    path.write_text("".join(f"({at / 1000:.6f}) can0 120#{k % 256:016X}\n" for k, at in enumerate(stamps_ms)))
    assert load([path], DBC, messages=[]).message_width_ns == {"SAFE_State": width_ns}


def test_files_joined_by_their_dates_are_known_no_better_than_these(tmp_path) -> None:
    """ASC dates of whole seconds: one file by itself is known to its digits, two are not known to a second."""
    head = "date Mon Sep 21 02:13:2{} pm 2026\nbase hex  timestamps absolute\n"
    for number in (0, 5):
        rows = "".join(f"   {k / 100:.6f} 1  120  Rx   d 8 00 00 00 00 00 00 00 {k:02X}\n" for k in range(10))
        (tmp_path / f"{number}.asc").write_text(head.format(number) + rows)
    first, second = tmp_path / "0.asc", tmp_path / "5.asc"
    assert load([first], DBC, messages=[]).message_width_ns == {"SAFE_State": 1000}
    assert load([first, second], DBC, messages=[]).message_width_ns == {"SAFE_State": 1_000_001_000}


def test_only_the_frames_of_its_bus_are_a_message(tmp_path) -> None:
    path = tmp_path / "a.log"
    path.write_text("".join(f"({k / 100:.6f}) can{k % 2} 120#{k:016X}\n" for k in range(10)))
    expected = Expected("SAFE_State", 35_000_000, 20_000_000, bus="can1")
    trace = load([path], DBC, messages=[expected])
    assert trace.messages["SAFE_State"].tolist() == [10_000_000 * k for k in range(1, 10, 2)]
    assert not [one for one in trace.quality if one.kind is QualityKind.SEVERAL_CHANNELS]
    lost = load([path], DBC, messages=[Expected("SAFE_State", 35_000_000, 20_000_000, bus="can7")])
    assert any("on the bus can7 (it has can0, can1)" in one.sentence for one in lost.quality if one.blinds)


@pytest.mark.parametrize("given", [[0, 1], [1, 0]], ids=["in order", "turned round"])
def test_of_frames_with_one_stamp_in_two_parts_those_of_the_earlier_part_come_first(
    tmp_path: Path, given: list[int]
) -> None:
    lines = [
        f"({1_790_000_000 + at / 100:.6f}) can0 120#{k:016X}\n" for k, at in enumerate([0, 1, 2, 3, 3, 4])
    ]
    parts = [tmp_path / "a.log", tmp_path / "b.log"]
    for path, part in zip(parts, (lines[:4], lines[4:]), strict=True):
        path.write_text("".join(part))
    trace = load([parts[at] for at in given], DBC, messages=[])
    assert trace.signals["SAFE_State.Alive"].values.tolist() == [0, 1, 2, 3, 4, 5]
    assert [Path(one.path) for one in trace.sources] == [parts[at] for at in given]
    assert trace.quality == ()
