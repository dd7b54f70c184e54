"""Channels that are messages of the DBC, decoded by whoever wrote the file: known by name, identifier or signals.

Oracle: asammdf itself decodes frames by the same DBC, and what it writes reads as the frames do.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import can
import numpy as np
import pytest
from needed import need_extra
from trace_kit import MS

from interlock.errors import LogError
from interlock.trace import Expected, QualityKind, Trace, load, load_dbc
from interlock.trace.decoded import as_messages
from interlock.trace.inputs import plain_name
from interlock.trace.layout import MessageLayout
from interlock.trace.model import Ledger
from interlock.trace.reading import Reading, Sampled
from interlock.trace.sampled import layout_of, sampled_reading

TEXT: Final = """VERSION ""
NS_ :
BS_:
BU_: A
BO_ 288 State: 8 A
 SG_ Mode : 0|8@1+ (1,0) [0|3] "" A
 SG_ Speed_ : 8|16@1- (0.25,0) [-4000|4000] "1/min" A
BO_ 513 Left: 8 A
 SG_ Current : 0|16@1- (0.01,0) [-300|300] "A" A
BO_ 2147484162 Right: 8 A
 SG_ Current : 0|16@1- (0.01,0) [-300|300] "A" A
BO_ 600 Pump: 8 A
 SG_ Flow : 0|16@1- (0.01,0) [-300|300] "" A
VAL_ 288 Mode 0 "off" 1 "on" ;
"""
NAME: Final = Path("run.mf4")


@pytest.fixture(scope="module")
def dbc(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("dbc") / "a.dbc"
    path.write_text(TEXT, encoding="ascii")
    return path


@pytest.fixture(scope="module")
def layouts(dbc: Path) -> dict[int, MessageLayout]:
    return dict(load_dbc(dbc))


def group(name: str, **signals: Sequence[float]) -> Sampled:
    """A group of that name; a unit follows the name of a signal after a double underscore."""
    values = {key.split("__")[0]: np.array(one, np.float64) for key, one in signals.items()}
    units = dict(key.split("__") for key in signals if "__" in key)
    rows = len(next(iter(values.values())))
    return Sampled(
        plain_name(name), np.arange(rows) * MS, values, units, continuous=False, group=plain_name(name)
    )


def reading_of(*groups: Sampled) -> Reading:
    rows = sum(len(one.times_ns) for one in groups)
    return sampled_reading("mf4", groups, np.arange(rows), Ledger(rows, rows, 0, 0))


@pytest.mark.parametrize(
    ("name", "signals", "message"),
    [
        ("State", {"Mode": [0.0]}, "State"),
        ("CAN1 message ID=0x120 EXT=False", {"Mode": [0.0]}, "State"),
        ("CAN1 message ID=0x201 EXT=False", {"Current": [0.0]}, "Left"),
        ("CAN1 message ID=0x202 EXT=True", {"Current": [0.0]}, "Right"),
        ("recorder 3", {"Mode": [0.0], "Speed": [0.0], "Beside": [0.0]}, "State"),
        # what the DBC does not tell is left as it is
        ("CAN1 message ID=0x202 EXT=False", {"Current": [0.0]}, "CAN1_message_ID_0x202_EXT_False"),
        ("recorder 3", {"Current": [0.0]}, "recorder_3"),  # of two messages
        ("recorder 3", {"Flow": [0.0]}, "recorder_3"),  # one signal, which may be that of any device
        ("recorder 3", {"Mode": [0.0]}, "recorder_3"),  # not all of its signals
        ("State", {"Torque": [0.0]}, "State"),  # of its name, and none of its signals
    ],
)
def test_a_group_is_the_message_that_its_content_shows(
    layouts: dict[int, MessageLayout], name: str, signals: dict[str, list[float]], message: str
) -> None:
    (found,) = as_messages(reading_of(group(name, **signals)), NAME, layouts).sampled
    assert found.message == message
    told = () if found.described is None else found.described.signals
    known = {one.name for one in layouts[0x120].signals} if message == "State" else {"Current"}
    described = message in {"State", "Left", "Right"}
    assert {one.name for one in told} == (known & set(found.values) if described else set())


def test_what_the_signals_alone_tell_is_said(layouts: dict[int, MessageLayout]) -> None:
    signals = {"Mode": [0.0], "Speed": [0.0]}
    assert as_messages(reading_of(group("State", **signals)), NAME, layouts).notes == ()
    for name, which in (("dev 1", "of the group dev_1"), ("", "of a group without a name")):
        one = replace(group("x", **signals), group=plain_name(name) if name else "")
        assert as_messages(reading_of(one), NAME, layouts).notes == (
            f"the channels {which} are taken for the message State: they are all its signals",
        )


def test_two_groups_of_one_message_are_not_guessed_at(layouts: dict[int, MessageLayout]) -> None:
    whole = {"Mode": [0.0], "Speed": [0.0]}
    found = as_messages(reading_of(group("a", **whole), group("b", **whole)), NAME, layouts).sampled
    assert [one.message for one in found] == ["a", "b"]


def test_names_ranges_and_names_of_values_are_those_of_the_dbc(layouts: dict[int, MessageLayout]) -> None:
    (found,) = as_messages(reading_of(group("State", Mode=[1.0], Speed=[9.0])), NAME, layouts).sampled
    signals = {one.name: one for one in layout_of(found).signals}
    assert set(signals) == set(found.values) == {"Mode", "Speed_"}
    assert signals["Mode"].labels == {0.0: "off", 1.0: "on"}
    assert (signals["Speed_"].minimum, signals["Speed_"].maximum, signals["Speed_"].unit) == (
        -4000,
        4000,
        "1/min",
    )


@pytest.mark.parametrize("unit", ["1/min", "rpm", ""])
def test_the_unit_may_be_written_otherwise_or_not_at_all(
    layouts: dict[int, MessageLayout], unit: str
) -> None:
    one = replace(group("State", Mode=[0.0], Speed=[0.0]), units={"Speed": unit})
    assert as_messages(reading_of(one), NAME, layouts).sampled[0].message == "State"


def test_another_unit_is_refused(layouts: dict[int, MessageLayout]) -> None:
    one = replace(group("State", Mode=[0.0], Speed=[0.0]), units={"Speed": "rad/s"})
    with pytest.raises(
        LogError, match=r"run\.mf4: State\.Speed_ is in 'rad/s' by this file and in '1/min' by the DBC"
    ):
        as_messages(reading_of(one), NAME, layouts)


# ---- asammdf as the oracle -------------------------------------------------------------------------------------------

FRAMES: Final = [
    (0x120, False, bytes([row % 2, row * 3 % 256, row % 8, 0, 0, 0, 0, 0]))
    if row % 3 == 0
    else (0x201 + row % 2, bool(row % 2), (row * 7 - 300).to_bytes(2, "little", signed=True) + bytes(6))
    for row in range(90)
]


def framed(folder: Path) -> Path:
    """The frames as python-can logs them, 2 ms apart."""
    path = folder / "frames.mf4"
    with can.MF4Writer(path) as writer:
        begin = writer.last_timestamp
        for row, (ident, extended, data) in enumerate(FRAMES):
            writer.on_message_received(
                can.Message(
                    timestamp=begin + row * 0.002,
                    arbitration_id=ident,
                    is_extended_id=extended,
                    data=data,
                    channel=0,
                )
            )
    return path


def decoded_by_asammdf(folder: Path, dbc: Path) -> tuple[Path, Path]:
    """The log of frames, and what the library's own decoding of it gives."""
    asammdf = need_extra("asammdf")
    frames, path = framed(folder), folder / "decoded.mf4"
    with asammdf.MDF(frames) as mdf, mdf.extract_bus_logging({"CAN": [(str(dbc), 0)]}) as decoded:
        decoded.save(path, overwrite=True)
    return frames, path


def of_run(trace: Trace) -> dict[str, tuple[list[int], list[float], dict[float, str]]]:
    return {
        name: ((one.times_ns // 1000).tolist(), one.values.tolist(), dict(one.labels))
        for name, one in trace.signals.items()
    }


def test_what_asammdf_decodes_reads_as_the_frames_do(tmp_path: Path, dbc: Path) -> None:
    frames, decoded = decoded_by_asammdf(tmp_path, dbc)
    by_frames, by_signals = load([frames], dbc, messages=[]), load([decoded], dbc, messages=[])
    assert of_run(by_signals) == of_run(by_frames)
    assert set(by_frames.messages) == {"State", "Left", "Right"}
    assert by_frames.quality == by_signals.quality == ()


def test_a_decoded_value_beyond_the_range_of_the_dbc_is_no_evidence(tmp_path: Path, dbc: Path) -> None:
    asammdf = need_extra("asammdf")
    path, times = tmp_path / "a.mf4", np.arange(50) / 100
    with asammdf.MDF(version="4.10") as mdf:
        speed = np.where(times == 0.2, 8191.75, 100.0)
        signals = {"Speed_": speed}
        mdf.append(
            [asammdf.Signal(values, times, name=name) for name, values in signals.items()],
            acq_name="State",
            common_timebase=True,
        )
        mdf.save(path, overwrite=True)
    trace = load([path], dbc, messages=[Expected("State", 25 * MS, 10 * MS)])
    (doubt,) = trace.quality
    assert (doubt.kind, doubt.message, doubt.signal) == (QualityKind.OUT_OF_RANGE, "State", "Speed_")
    assert (doubt.span.lo, doubt.span.hi) == (190 * MS, 210 * MS)
