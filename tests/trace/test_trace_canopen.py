"""Frames of a CANopen node as signals, errors and states; against what the library `canopen` makes of the same frames.

The node: `cia402.eds` of `ros-industrial/ros2_canopen`, see tests/data/README.md.
"""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from needed import need_module
from trace_kit import DATA, MS, kinds

from interlock.bench.canopen import CanopenNode
from interlock.bench.canopen_messages import network_messages, node_messages
from interlock.bench.eds import read_eds
from interlock.trace import Expected, QualityKind, Trace, load
from interlock.trace.canopen import error_class
from interlock.trace.decode import decode
from interlock.trace.layout import MessageLayout, layout_of

canopen = need_module("canopen")

NODE = 5
EDS = DATA / "eds" / "cia402.eds"


@pytest.fixture(scope="module")
def layouts() -> dict[str, MessageLayout]:
    stated = CanopenNode.model_validate({"node": NODE, "eds": EDS.name, "pdos": {"tpdo4": {"id": "485h"}}})
    described = [*network_messages(), *node_messages("axis", stated, read_eds(EDS, NODE))]
    return {one.name: layout_of(one) for one in described}


@pytest.fixture(scope="module")
def peer() -> object:
    node = canopen.Network().add_node(NODE, str(EDS))
    node.tpdo.read(from_od=True)
    node.rpdo.read(from_od=True)
    return node


@settings(max_examples=60, deadline=None)
@given(payload=st.binary(min_size=8, max_size=8), number=st.integers(1, 4))
def test_process_data_decode_as_the_library_does(
    layouts: dict[str, MessageLayout], peer: canopen.RemoteNode, payload: bytes, number: int
) -> None:
    layout, theirs = layouts[f"axis_tpdo{number}"], peer.tpdo[number]
    theirs.on_message(theirs.cob_id, bytearray(payload[: layout.length]), 0.0)
    values = decode(layout, np.array([list(payload)], np.uint8))
    mine = [values[one.name][1][0] for one in layout.signals if not one.codes]
    assert mine == [float(one.raw) for one in theirs.map]


def trace_of(
    tmp_path: Path,
    layouts: dict[str, MessageLayout],
    sent: list[tuple[int, str]],
    messages: tuple[Expected, ...] = (),
) -> Trace:
    """The trace of frames sent each 10 ms."""
    lines = [
        f"({1700000000 + row // 100}.{10_000 * (row % 100):06d}) can0 {ident:03X}#{data}"
        for row, (ident, data) in enumerate(sent)
    ]
    path = tmp_path / "run.log"
    path.write_text("\n".join(lines) + "\n", encoding="ascii")
    return load([path], None, messages=messages, described=list(layouts.values()))


def test_the_drive_starts_works_and_trips(tmp_path: Path, layouts: dict[str, MessageLayout]) -> None:
    # Status words with voltage (bit 4), remote (bit 9) and the maker's bits set, as drives send them
    words = [0x0640, 0x0631, 0x0633, 0x1637, 0x9637, 0x021F, 0x0618]
    sent = [(0x285, f"{word & 0xFF:02X}{word >> 8:02X}09") for word in words]
    trace = trace_of(tmp_path, layouts, sent)
    state = trace.signals["axis_tpdo2.Statusword_1_state"]
    said = [state.labels[value] for value in state.values]
    assert said == [
        "switch on disabled",
        "ready to switch on",
        "switched on",
        "operation enabled",
        "operation enabled",
        "fault reaction active",
        "fault",
    ]
    assert trace.signals["axis_tpdo2.Statusword_1"].values.tolist() == [float(word) for word in words]
    mode = trace.signals["axis_tpdo2.Modes_of_Operation_Display_1"]
    assert mode.labels[mode.values[0]] == "cyclic synchronous velocity"
    assert trace.quality == ()


def test_a_status_word_of_no_state_is_not_believed(tmp_path: Path, layouts: dict[str, MessageLayout]) -> None:
    # 0001 under mask 4Fh: no row of the table of CiA 402
    trace = trace_of(tmp_path, layouts, [(0x185, "3706"), (0x185, "0100"), (0x185, "3706")])
    (doubt,) = trace.quality
    assert (doubt.kind, doubt.signal, doubt.blinds) == (QualityKind.OUT_OF_RANGE, "Statusword_1_state", True)
    assert (doubt.span.lo, doubt.span.hi) == (0, 20 * MS)
    assert doubt.sentence == "1 sample of Statusword_1_state: bits that stand for nothing known."


def test_emergencies_are_told_and_blind_nothing(tmp_path: Path, layouts: dict[str, MessageLayout]) -> None:
    sent = [
        (0x285, "370609"),
        (0x085, "3081110000000000"),
        (0x085, "10FF810200000000"),
        (0x085, "0000000000000000"),
    ]
    trace = trace_of(tmp_path, layouts, sent)
    assert [one.sentence for one in trace.quality] == [
        "Node axis reports the error 8130h (life guard or heartbeat error), register 11h.",
        "Node axis reports the error FF10h (specific to the device), register 81h, maker's code 2h.",
        "Node axis reports that its errors are gone.",
    ]
    assert not any(one.blinds for one in trace.quality)
    assert [one.place for one in trace.quality] == ["run.log:2", "run.log:3", "run.log:4"]
    assert trace.signals["axis_emergency.Error_code"].values.tolist() == [0x8130, 0xFF10, 0]


def test_many_emergencies_are_counted(tmp_path: Path, layouts: dict[str, MessageLayout]) -> None:
    trace = trace_of(tmp_path, layouts, [(0x085, "1023010000000000")] * 250)
    assert len(trace.quality) == 101
    assert trace.quality[-1].sentence == "Node axis sends 150 more emergency messages from here on."


@pytest.mark.parametrize(
    "code", [0x0000, 0x1000, 0x2310, 0x3210, 0x4310, 0x5000, 0x6320, 0x7300, 0x8150, 0x9000]
)
def test_classes_of_errors_are_those_of_the_library(code: int) -> None:
    words = {"Error Reset / No Error": "no error any more", "Generic Error": "generic error"}
    words |= {"Device Hardware": "hardware of the device", "Device Software": "data set"}
    theirs = canopen.emcy.EmcyError(code, 0, b"", 0.0).get_desc()
    wanted = words.get(theirs, theirs.lower())
    sharper = {
        "current": "output side",
        "temperature": "device",
        "voltage": "inside",
        "monitoring": "identifier",
    }
    assert wanted in error_class(code) or sharper[wanted] in error_class(code)


def test_a_restart_and_each_change_of_state_are_told(
    tmp_path: Path, layouts: dict[str, MessageLayout]
) -> None:
    sent = [(0x705, data) for data in ("05", "05", "00", "7F", "7F", "05", "04")]
    trace = trace_of(tmp_path, layouts, sent)
    assert [one.sentence for one in trace.quality] == [
        "Node axis restarts here.",
        "Node axis is pre-operational from here on.",
        "Node axis is operational from here on.",
        "Node axis is stopped from here on.",
    ]
    assert set(kinds(trace.quality)) == {QualityKind.NODE_STATE}
    state = trace.signals["axis_heartbeat.State"]
    assert [state.labels[value] for value in state.values[1:3]] == ["operational", "boot-up"]


def test_a_heartbeat_that_stays_away_is_a_gap(tmp_path: Path, layouts: dict[str, MessageLayout]) -> None:
    sent = [(0x705, "05")] * 3 + [(0x285, "370609")] * 10 + [(0x705, "05")]
    trace = trace_of(tmp_path, layouts, sent, (Expected("axis_heartbeat", 50 * MS, 10 * MS),))
    (gap,) = [one for one in trace.quality if one.kind is QualityKind.GAP]
    assert (gap.message, gap.span.lo, gap.span.hi, gap.blinds) == ("axis_heartbeat", 20 * MS, 130 * MS, True)


def request(index: int, sub: int, value: int, size: int) -> tuple[int, str]:
    """A request to write an entry at once (CiA 301, SDO protocol, expedited download)."""
    head = bytes([0x23 | (4 - size) << 2, index & 0xFF, index >> 8, sub])
    return 0x605, (head + value.to_bytes(4, "little")).hex()


AS_STATED = [
    request(0x1801, 1, 0xC0000285, 4),  # off
    request(0x1A01, 0, 0, 1),
    request(0x1A01, 1, 0x60410010, 4),
    request(0x1A01, 2, 0x60610008, 4),
    request(0x1A01, 0, 2, 1),
    request(0x1801, 1, 0x00000285, 4),  # on again, and may be asked for
    request(0x6060, 0, 9, 1),  # no matter of process data
]


def test_a_node_set_up_as_the_bench_says_is_believed(
    tmp_path: Path, layouts: dict[str, MessageLayout]
) -> None:
    trace = trace_of(tmp_path, layouts, [*AS_STATED, (0x285, "370609")])
    assert trace.quality == ()


@pytest.mark.parametrize(
    ("last", "said"),
    [
        (request(0x1A01, 2, 0x60640020, 4), "1A01h sub 2 is set to 60640020h, and the bench says 60610008h"),
        (request(0x1A01, 0, 1, 1), "1A01h sub 0 is set to 1h, and the bench says 2h"),
        (request(0x1801, 1, 0x80000285, 4), "1801h sub 1 is set to 80000285h, and the bench says 40000285h"),
        (request(0x1801, 1, 0x40000295, 4), "1801h sub 1 is set to 40000295h, and the bench says 40000285h"),
    ],
)
def test_a_node_set_up_otherwise_is_not_believed_from_then_on(
    tmp_path: Path, layouts: dict[str, MessageLayout], last: tuple[int, str], said: str
) -> None:
    trace = trace_of(tmp_path, layouts, [(0x285, "370609"), *AS_STATED, last, (0x285, "370609")])
    (doubt,) = trace.quality
    assert (doubt.kind, doubt.message, doubt.blinds) == (QualityKind.SET_UP, "axis_tpdo2", True)
    assert (doubt.span.lo, doubt.span.hi, doubt.place) == (80 * MS, None, "run.log:9")
    assert doubt.sentence == f"axis_tpdo2 is set up otherwise here: {said}."


def test_a_write_taken_back_is_no_doubt(tmp_path: Path, layouts: dict[str, MessageLayout]) -> None:
    other = request(0x1A01, 2, 0x60640020, 4)
    assert trace_of(tmp_path, layouts, [other, *AS_STATED, (0x285, "370609")]).quality == ()


def test_messages_of_the_network_are_known(tmp_path: Path, layouts: dict[str, MessageLayout]) -> None:
    sent = [
        (0x000, "0105"),
        (0x080, ""),
        (0x080, "07"),
        (0x605, "4041600000000000"),
        (0x585, "4B41600037060000"),
    ]
    trace = trace_of(tmp_path, layouts, sent)
    assert trace.quality == ()
    assert len(trace.messages["sync"]) == 2
    command = trace.signals["nmt.Command"]
    assert (command.labels[command.values[0]], trace.signals["nmt.Node"].values.tolist()) == ("start", [5.0])


def test_a_frame_shorter_than_its_mapping_is_not_decoded(
    tmp_path: Path, layouts: dict[str, MessageLayout]
) -> None:
    trace = trace_of(tmp_path, layouts, [(0x285, "370609"), (0x285, "3706")])
    assert [one.kind for one in trace.quality] == [QualityKind.WRONG_LENGTH]
    assert len(trace.signals["axis_tpdo2.Statusword_1"].values) == 1


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    sent=st.lists(
        st.tuples(
            st.sampled_from([0x000, 0x080, 0x085, 0x185, 0x205, 0x285, 0x485, 0x585, 0x605, 0x705]),
            st.binary(max_size=8).map(bytes.hex),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_any_frames_of_the_network_give_a_trace(
    tmp_path: Path, layouts: dict[str, MessageLayout], sent: list[tuple[int, str]]
) -> None:
    trace = trace_of(tmp_path, layouts, sent)
    assert sum(map(len, trace.messages.values())) <= len(sent)
    for signal in trace.signals.values():
        named = signal.values[~np.isnan(signal.values)]
        assert "state" not in signal.signal or {*named} <= {*signal.labels}
    for doubt in trace.quality:
        assert doubt.sentence.endswith(".")
        assert doubt.place.startswith("run.log:")
