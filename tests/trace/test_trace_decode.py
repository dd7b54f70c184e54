"""Decoding by columns, against cantools (general-purpose reference library) on random layouts and payloads."""

import math
import struct

import cantools
import numpy as np
import pytest
from cantools.database.can import Message, Signal
from cantools.database.conversion import BaseConversion
from hypothesis import given, settings
from hypothesis import strategies as st
from trace_kit import DBC, LAYOUTS

from interlock.trace.decode import decode, raw_values
from interlock.trace.layout import MessageLayout, SignalLayout, layout_of

SCALES = st.sampled_from([1, 0.25, 0.01, 0.005, 0.0001, -2, 3, 1e6])
OFFSETS = st.sampled_from([0, 40, -40, 0.5, -273.15])


def block_of(payloads: list[bytes]) -> np.ndarray:
    return np.array([list(payload.ljust(8, b"\0")) for payload in payloads], np.uint8)


def sawtooth(start: int, length: int, size: int) -> int | None:
    """Start bit of a big-endian signal whose highest bit is bit `start` as sent; None if it does not fit."""
    if start + length > 8 * size:
        return None
    return 8 * (start // 8) + 7 - start % 8


@st.composite
def messages(draw: st.DrawFn) -> Message:
    size = draw(st.sampled_from([*range(1, 9), 12, 16, 20, 24, 32, 48, 64]))
    is_float = draw(st.booleans())
    length = draw(st.sampled_from([16, 32, 64]) if is_float else st.integers(1, 64))
    length = min(length, 8 * size)
    is_float = is_float and length in (16, 32, 64)
    first = draw(st.integers(0, 8 * size - length))
    big = draw(st.booleans())
    start = sawtooth(first, length, size) if big else first
    assert start is not None
    signal = Signal(
        "S",
        start,
        length,
        byte_order="big_endian" if big else "little_endian",
        is_signed=draw(st.booleans()) and not is_float,
        conversion=BaseConversion.factory(scale=draw(SCALES), offset=draw(OFFSETS), is_float=is_float),
    )
    return Message(1, "M", size, [signal], strict=True)


@settings(max_examples=400, deadline=None)
@given(message=messages(), data=st.data())
def test_any_signal_anywhere_decodes_as_cantools_does(message: Message, data: st.DataObject) -> None:
    payloads = data.draw(
        st.lists(st.binary(min_size=message.length, max_size=message.length), min_size=1, max_size=5)
    )
    present, values = decode(layout_of(message), block_of(payloads))["S"]
    assert present.all()
    for mine, payload in zip(values.tolist(), payloads, strict=True):
        reference = float(message.decode(payload, decode_choices=False)["S"])
        assert (
            mine == reference
            or (math.isnan(mine) and math.isnan(reference))
            or math.isclose(mine, reference, rel_tol=1e-15)
        )


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=lambda layout: layout.name)
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_sample_bench_decodes_as_cantools_does(layout: MessageLayout, data: st.DataObject) -> None:
    message = cantools.database.load_file(DBC).get_message_by_name(layout.name)
    payload = data.draw(st.binary(min_size=layout.length, max_size=layout.length))
    reference = message.decode(payload, decode_choices=False)
    mine = {name: values[0] for name, (_, values) in decode(layout, block_of([payload])).items()}
    assert mine == reference


MULTIPLEXED = """VERSION ""
BU_: A
BO_ 100 M: 8 A
 SG_ Mode M : 0|4@1+ (1,0) [0|0] "" A
 SG_ Sub m1M : 4|4@1+ (1,0) [0|0] "" A
 SG_ One m1 : 8|8@1+ (1,0) [0|0] "" A
 SG_ Two m2 : 8|16@1- (1,0) [0|0] "" A
 SG_ Deep m3 : 24|8@1+ (1,0) [0|0] "" A
 SG_ Always : 56|8@1+ (1,0) [0|0] "" A
SG_MUL_VAL_ 100 Sub Mode 1-1;
SG_MUL_VAL_ 100 One Mode 1-1;
SG_MUL_VAL_ 100 Two Mode 2-2, 5-6;
SG_MUL_VAL_ 100 Deep Sub 3-3;
"""


@settings(max_examples=60, deadline=None)
@given(payloads=st.lists(st.binary(min_size=8, max_size=8), min_size=1, max_size=30))
def test_multiplexed_signals_are_present_as_cantools_says(payloads: list[bytes]) -> None:
    database = cantools.database.load_string(MULTIPLEXED, "dbc")
    message = database.get_message_by_name("M")
    modes = [bytes([mode | sub << 4]) + payload[1:] for mode, sub, payload in _modes(payloads)]
    mine = decode(layout_of(message), block_of(modes))
    for number, payload in enumerate(modes):
        try:
            reference = message.decode(payload, decode_choices=False)
        except cantools.database.errors.DecodeError:
            continue  # a selector value that no signal has: cantools refuses the frame, here nothing is present
        got = {
            name: values[np.count_nonzero(present[:number])]
            for name, (present, values) in mine.items()
            if present[number]
        }
        assert got == reference


def _modes(payloads: list[bytes]) -> list[tuple[int, int, bytes]]:
    return [
        ((0, 1, 2, 5, 6)[payload[0] % 5] if payload[0] % 3 else 1, 3 if payload[1] % 2 else 0, payload)
        for payload in payloads
    ]


def test_handbook_example_of_both_byte_orders() -> None:
    # The number 0x1234 in bytes 1 and 2: Intel order has the low byte first, Motorola order the high one
    # (DBC convention: start bit of the lowest bit for Intel, of the highest for Motorola; common practice).
    intel = SignalLayout("I", "", 8, 16, False, False, False, 1.0, 0.0, None, None)
    motorola = SignalLayout("M", "", 15, 16, True, False, False, 1.0, 0.0, None, None)
    assert raw_values(intel, block_of([bytes([0, 0x34, 0x12, 0, 0, 0, 0, 0])])).tolist() == [0x1234]
    assert raw_values(motorola, block_of([bytes([0, 0x12, 0x34, 0, 0, 0, 0, 0])])).tolist() == [0x1234]


def test_float_that_is_no_number_stays_none() -> None:
    layout = SignalLayout("F", "", 0, 32, False, False, True, 1.0, 0.0, None, None)
    message = MessageLayout("M", 1, False, 4, (layout,))
    _, values = decode(message, block_of([struct.pack("<f", math.nan), struct.pack("<f", 1.5)]))["F"]
    assert math.isnan(values[0])
    assert values[1] == 1.5


def test_payloads_narrower_than_eight_bytes_are_padded() -> None:
    layout = SignalLayout("F", "", 0, 16, False, True, False, 1.0, 0.0, None, None)
    message = MessageLayout("M", 1, False, 2, (layout,))
    data = np.array([[0xFF, 0xFF], [0x01, 0x00]], np.uint8)
    assert decode(message, data)["F"][1].tolist() == [-1.0, 1.0]


def test_rows_decoded_together_or_in_blocks_give_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    source = np.random.default_rng(5)
    for layout in LAYOUTS.values():
        data = source.integers(0, 256, (300, 8)).astype(np.uint8)
        whole = decode(layout, data)
        monkeypatch.setattr("interlock.trace.decode.BLOCK", 64)
        parts = decode(layout, data)
        monkeypatch.undo()
        for name, (rows, values) in whole.items():
            assert (parts[name][0] == rows).all()
            assert np.array_equal(parts[name][1], values, equal_nan=True)
