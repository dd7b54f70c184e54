"""What is seen in a log, against python-can and cantools (general-purpose libraries) reading the same file."""

from collections import defaultdict
from pathlib import Path

import can
import cantools
import numpy as np
import pytest
from look_material import DATA, DBC, candump, counting

from interlock.errors import LogError
from interlock.look import look
from interlock.trace.model import QualityKind

FILES = ("short.log", "short.asc", "short.blf")


def frames_of(path: Path) -> dict[tuple[int, bool], list[can.Message]]:
    """What python-can reads, by identifier."""
    found = defaultdict(list)
    with can.LogReader(path) as reader:
        for message in reader:
            found[message.arbitration_id, message.is_extended_id].append(message)
    return dict(found)


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("dbc", [None, DBC])
def test_identifiers_counts_and_lengths_are_those_of_python_can(name, dbc):
    seen = look([DATA / name], dbc)
    oracle = frames_of(DATA / name)
    assert {(one.identifier, one.extended): one.count for one in seen.messages} == {
        key: len(messages) for key, messages in oracle.items()
    }
    for one in seen.messages:
        lengths = [message.dlc for message in oracle[one.identifier, one.extended]]
        assert dict(one.lengths) == {length: lengths.count(length) for length in set(lengths)}


@pytest.mark.parametrize("name", FILES)
def test_periods_are_those_of_python_can_to_its_float_stamps(name):
    oracle = frames_of(DATA / name)
    for one in look([DATA / name]).messages:
        stamps = np.sort([message.timestamp for message in oracle[one.identifier, one.extended]])
        steps = np.diff(stamps) * 1e9
        assert one.periods is not None
        assert one.periods.least_ns == pytest.approx(steps.min(), abs=1000)
        assert one.periods.most_ns == pytest.approx(steps.max(), abs=1000)
        assert steps.min() - 1000 <= one.periods.median_ns <= steps.max() + 1000
        below = np.count_nonzero(steps < one.periods.median_ns - 1000)
        above = np.count_nonzero(steps > one.periods.median_ns + 1000)
        assert max(below, above) <= len(steps) / 2


@pytest.mark.parametrize("name", FILES)
def test_signals_are_those_of_cantools(name):
    database = cantools.database.load_file(DBC)
    values = defaultdict(list)
    with can.LogReader(DATA / name) as reader:
        for frame in reader:
            message = database.get_message_by_frame_id(frame.arbitration_id)
            for signal, value in message.decode(frame.data, decode_choices=False).items():
                values[message.name, signal].append(float(value))
    seen = look([DATA / name], DBC)
    assert {(one.message, one.name) for one in seen.signals} == set(values)
    for one in seen.signals:
        expected = values[one.message, one.name]
        assert one.least == pytest.approx(min(expected))
        assert one.most == pytest.approx(max(expected))
        assert one.distinct == len(set(expected))
        assert one.count == len(expected)


def test_names_come_from_the_dbc_alone():
    assert {one.name for one in look([DATA / "short.log"]).messages} == {None}
    named = look([DATA / "short.log"], DBC)
    assert {one.name for one in named.messages} == {
        "SAFE_State",
        "DRV_Actual",
        "LOD_Actual",
        "CTL_Refs",
        "TQS_Torque",
        "PSU_Bus",
    }
    assert not named.doubts


def test_the_alive_counter_is_guessed_with_and_without_dbc():
    plain, named = look([DATA / "short.log"]), look([DATA / "short.log"], DBC)
    for seen, where in ((plain, "byte 7"), (named, "Alive")):
        counters = {one.identifier: one.counters for one in seen.messages if one.counters}
        assert list(counters) == [0x120]
        assert [(one.where, one.modulo) for one in counters[0x120]] == [(where, 256)]


def test_the_longest_gap_counts_the_ends_of_the_log(tmp_path):
    frames = [(0, "340#00000000"), *((5_000_000 + at, frame) for at, frame in counting(10))]
    log = candump(tmp_path / "a.log", [*frames, (9_000_000, "340#00000000")])
    state = next(one for one in look([log]).messages if one.identifier == 0x120)
    assert (state.longest_gap.lo, state.longest_gap.hi) == (0, 5_000_000_000)
    assert state.periods is not None
    assert state.periods.most_ns == 10_000_000


def test_a_frame_of_another_length_is_told_and_not_decoded(tmp_path):
    frames = counting(20)
    frames[7] = (frames[7][0], "120#0300")
    log = candump(tmp_path / "a.log", frames)
    seen = look([log], DBC)
    assert dict(seen.messages[0].lengths) == {2: 1, 8: 19}
    assert [doubt.kind for doubt in seen.doubts] == [QualityKind.WRONG_LENGTH]
    assert seen.blind
    assert {one.count for one in seen.signals} == {19}
    assert not look([log]).doubts  # nobody said which length is right


def test_an_unknown_identifier_is_told_and_blinds_nothing(tmp_path):
    log = candump(tmp_path / "a.log", [*counting(20), (300_000, "1ABCDEF0#01")])
    seen = look([log], DBC)
    assert [(one.name, one.label) for one in seen.messages] == [("SAFE_State", "120"), (None, "1ABCDEF0x")]
    assert [doubt.kind for doubt in seen.doubts] == [QualityKind.UNKNOWN_ID]
    assert "1ABCDEF0x" in seen.doubts[0].sentence
    assert not seen.blind


def test_the_same_number_as_standard_and_extended_identifier_is_two_messages(tmp_path):
    log = candump(
        tmp_path / "a.log", [*counting(10), *((at + 200_000, f"00000{frame}") for at, frame in counting(4))]
    )
    assert [(one.label, one.count) for one in look([log]).messages] == [("120", 10), ("120x", 4)]


def test_two_files_of_one_run_are_joined(tmp_path):
    frames = counting(40)
    first, second = candump(tmp_path / "a.log", frames[:20]), candump(tmp_path / "b.log", frames[20:])
    whole = candump(tmp_path / "c.log", frames)
    one, both = look([whole], DBC), look([first, second], DBC)
    assert both.messages == one.messages
    assert both.signals == one.signals
    assert [file.frames for file in both.files] == [20, 20]


def test_time_that_runs_backwards_blinds_without_any_dbc(tmp_path):
    frames = counting(20)
    frames[10], frames[11] = (frames[11][0], frames[10][1]), (frames[10][0], frames[11][1])
    seen = look([candump(tmp_path / "a.log", frames)])
    assert [doubt.kind for doubt in seen.doubts] == [QualityKind.TIME_BACKWARDS]
    assert seen.blind


def test_no_log_and_no_file_are_errors(tmp_path):
    with pytest.raises(LogError, match="no log file"):
        look([])
    with pytest.raises(LogError, match=r"none\.log"):
        look([tmp_path / "none.log"])
    with pytest.raises(LogError, match=r"none\.dbc"):
        look([DATA / "short.log"], tmp_path / "none.dbc")


def test_signals_that_a_recorder_had_decoded_are_seen_without_a_dbc(tmp_path):
    dump = tmp_path / "sto.vcd"  # form: IEEE 1364-2001, clause 18
    dump.write_text(
        "$timescale 1 us $end\n$scope module top $end\n$var wire 1 ! sto_a $end\n$upscope $end\n"
        "$enddefinitions $end\n#0\n0!\n#1000\n1!\n#9000\n0!\n"
    )
    seen = look([dump])
    (message,) = seen.messages
    assert (message.decoded, message.name, dict(message.lengths)) == (True, "sto", {})
    (signal,) = seen.signals
    assert (signal.name, signal.least, signal.most, signal.bits) == ("sto_a", 0.0, 1.0, None)
    assert signal.edges is not None
    assert [edge.value for edge in signal.edges] == [1.0, 0.0]
    assert [edge.span.hi for edge in signal.edges] == [1_000_000, 9_000_000]
