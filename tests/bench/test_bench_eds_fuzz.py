"""Damaged EDS files: whatever their bytes, the answer is messages that can be decoded, or one line of reason."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needed import need_module

from interlock.bench.canopen import CanopenNode
from interlock.bench.canopen_messages import node_messages
from interlock.bench.eds import read_eds
from interlock.bench.refusal import Refusal
from interlock.trace.decode import decode
from interlock.trace.layout import layout_of

need_module("canopen")

EDS = Path(__file__).parents[1] / "data" / "eds"
COMPACT = (EDS / "compact.eds").read_bytes()
LINES = (EDS / "cia402.eds").read_bytes().splitlines(keepends=True)
NODE = CanopenNode.model_validate({"node": 5, "eds": "drive.eds"})
ZEROS = np.zeros((2, 64), np.uint8)
SET_UP = [number for number, line in enumerate(LINES) if line.startswith((b"DefaultValue", b"[1A", b"[18"))]


def told(folder: Path, content: bytes) -> None:
    path = folder / "drive.eds"
    path.write_bytes(content)
    try:
        messages = node_messages("axis", NODE, read_eds(path, 5))
    except Refusal as refusal:
        assert "\n" not in str(refusal)
        assert refusal.why
        assert refusal.instead
        return
    assert len({one.name for one in messages}) == len(messages)
    for message in messages:
        assert 0 <= message.frame_id < 1 << (29 if message.is_extended_frame else 11)
        assert 0 <= message.length <= 64
        for signal in message.signals:
            assert 1 <= signal.length <= 64
            assert 0 <= signal.start <= 8 * message.length - signal.length
        decode(layout_of(message), ZEROS)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("eds")


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_bytes_changed_cut_or_put_in(folder: Path, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(COMPACT)))
    stop = data.draw(st.integers(start, min(start + 40, len(COMPACT))))
    told(folder, COMPACT[:start] + data.draw(st.binary(max_size=20)) + COMPACT[stop:])


@settings(max_examples=40, deadline=None)
@given(cut=st.integers(0, len(COMPACT)))
def test_files_cut_anywhere(folder: Path, cut: int) -> None:
    told(folder, COMPACT[:cut])


@settings(max_examples=15, deadline=None)
@given(
    number=st.sampled_from(SET_UP),
    value=st.sampled_from(
        ["0x60410010", "0x6041FF10", "-1", "0xFFFFFFFF", "$NODEID+0x10000000000", "99", "x", ""]
    ),
)
def test_values_that_no_set_up_has(folder: Path, number: int, value: str) -> None:
    lines = list(LINES)
    head = b"DefaultValue=" if lines[number].startswith(b"Default") else b"["
    lines[number] = head + value.encode("ascii") + (b"]\r\n" if head == b"[" else b"\r\n")
    told(folder, b"".join(lines))
