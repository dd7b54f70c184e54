"""Signals of long, extended and big-endian frames out of every format, as cantools decodes what python-can reads.

Two general-purpose reference libraries: python-can writes and reads the files, cantools decodes the frames.
"""

import random
from pathlib import Path

import can
import cantools
import numpy as np
import pytest

from interlock.trace import Trace, load

DBC = """VERSION ""
BS_:
BU_: ECU
BO_ 2566852608 Wide: 64 ECU
 SG_ Start : 7|16@0+ (1,0) [0|65535] "" ECU
 SG_ Torque : 23|24@0- (0.001,-5) [-10000|10000] "Nm" ECU
 SG_ Middle : 250|33@1- (0.5,0) [0|0] "" ECU
 SG_ Across : 303|40@0- (2,1) [0|0] "" ECU
 SG_ Last : 504|8@1+ (1,0) [0|255] "" ECU
BO_ 2147483939 Short: 3 ECU
 SG_ Speed : 0|12@1- (0.25,0) [-512|511.75] "1/min" ECU
 SG_ Flag : 12|1@1+ (1,0) [0|1] "" ECU
 SG_ Level : 23|7@0+ (1,0) [0|0] "" ECU
BO_ 291 Plain: 8 ECU
 SG_ Kind M : 0|2@1+ (1,0) [0|3] "" ECU
 SG_ First m0 : 8|16@1- (0.1,0) [0|0] "" ECU
 SG_ Second m1 : 15|16@0+ (1,0) [0|0] "" ECU
 SG_ Real : 32|32@1- (1,0) [0|0] "V" ECU
SIG_VALTYPE_ 291 Real : 1;
"""
WRITERS = {
    "log": can.CanutilsLogWriter,
    "asc": can.ASCWriter,
    "blf": can.BLFWriter,
    "csv": can.CSVWriter,
    "trc": can.TRCWriter,
}


def frames(seed: int, *, long: bool) -> list[can.Message]:
    """Frames of the three messages; the same identifier, standard and extended, means two different things."""
    source = random.Random(seed)
    kinds = [(0x18FF1000, True, 64), (0x123, True, 3), (0x123, False, 8)][0 if long else 1 :]
    made = []
    for n in range(300):
        ident, extended, size = source.choice(kinds)
        data = bytearray(source.randbytes(size))
        if size == 8:
            data[0] &= 0xFD  # cantools refuses a selector that selects nothing
            data[4:8] = np.float32(source.uniform(-1e6, 1e6)).tobytes()
        made.append(
            can.Message(
                timestamp=1_790_000_000 + n / 1000,
                arbitration_id=ident,
                is_extended_id=extended,
                is_fd=size > 8,
                data=data,
                channel=0,
            )
        )
    return made


def reference(dbc: Path, sent: list[can.Message]) -> dict[str, list[float]]:
    """Each signal's values as cantools decodes them."""
    database = cantools.database.load_file(dbc)
    found: dict[str, list[float]] = {}
    for frame in sent:
        message = next(
            one
            for one in database.messages
            if (one.frame_id, one.is_extended_frame) == (frame.arbitration_id, frame.is_extended_id)
        )
        for name, value in message.decode(bytes(frame.data), decode_choices=False).items():
            found.setdefault(f"{message.name}.{name}", []).append(float(value))
    return found


def written(tmp_path: Path, suffix: str, sent: list[can.Message]) -> tuple[Path, Path]:
    dbc, path = tmp_path / "wide.dbc", tmp_path / f"run.{suffix}"
    dbc.write_text(DBC)
    writer = WRITERS[suffix](path)
    for frame in sent:
        writer.on_message_received(frame)
    writer.stop()
    return dbc, path


def same(trace: Trace, expected: dict[str, list[float]]) -> None:
    assert set(trace.signals) == set(expected)
    for name, samples in trace.signals.items():
        assert np.allclose(samples.values, expected[name], rtol=1e-12, atol=1e-12), name
        assert (np.diff(samples.times_ns) > 0).all()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("suffix", ["log", "asc", "blf", "csv"])
def test_long_extended_and_big_endian_signals(tmp_path: Path, suffix: str, seed: int) -> None:
    sent = frames(seed, long=True)
    dbc, path = written(tmp_path, suffix, sent)
    same(load([path], dbc, messages=[]), reference(dbc, sent))


@pytest.mark.parametrize("suffix", WRITERS)
def test_one_identifier_of_both_kinds_is_two_messages(tmp_path: Path, suffix: str) -> None:
    sent = frames(7, long=False)
    dbc, path = written(tmp_path, suffix, sent)
    trace = load([path], dbc, messages=[])
    same(trace, reference(dbc, sent))
    assert set(trace.messages) == {"Short", "Plain"}
    assert len(trace.messages["Plain"]) == sum(not frame.is_extended_id for frame in sent)


@pytest.mark.parametrize("suffix", ["log", "asc", "blf", "csv"])
def test_a_long_frame_cut_to_eight_bytes_is_not_decoded(tmp_path: Path, suffix: str) -> None:
    sent = frames(9, long=True)
    short = next(frame for frame in sent if frame.is_fd)
    short.data, short.dlc = short.data[:8], 8
    dbc, path = written(tmp_path, suffix, sent)
    trace = load([path], dbc, messages=[])
    whole = sum(frame.is_fd and len(frame.data) == 64 for frame in sent)
    assert len(trace.messages["Wide"]) == whole
    assert any(doubt.message == "Wide" and doubt.blinds for doubt in trace.quality)


def test_multiplexed_signals_stand_at_the_stamps_of_their_own_frames(tmp_path: Path) -> None:
    sent = frames(11, long=False)
    dbc, path = written(tmp_path, "log", sent)
    trace = load([path], dbc, messages=[])
    plain = [frame for frame in sent if not frame.is_extended_id]
    for name, kind in (("First", 0), ("Second", 1)):
        expected = [
            round((frame.timestamp - sent[0].timestamp) * 1000)
            for frame in plain
            if frame.data[0] & 3 == kind
        ]
        assert (trace.signals[f"Plain.{name}"].times_ns // 10**6).tolist() == expected
