"""BLF logs: whole ones as python-can reads them, and each kind of object."""

from pathlib import Path

import can
import pytest
from blf_kit import START, can_message, can_message2, container, fd_message_64, frames, header, thing
from trace_kit import DATA, by_python_can, payloads, read, rows_of

from interlock.errors import LogError
from interlock.trace.model import QualityKind


def write(tmp_path: Path, body: bytes, **options: int) -> Path:
    path = tmp_path / "a.blf"
    path.write_bytes(header(body, **options))
    return path


def test_same_frames_as_python_can() -> None:
    path = DATA / "short.blf"
    reading = read(path)
    messages = list(can.BLFReader(path))
    mine = rows_of(reading.columns)
    assert [row[1:] for row in mine] == by_python_can(messages)
    assert all(abs(row[0] - m.timestamp * 1e9) < 500 for row, m in zip(mine, messages, strict=True))
    assert reading.columns.absolute
    assert not reading.rejected
    containers = (DATA / "short.blf").read_bytes().count(b"LOBJ")
    assert reading.ledger.non_frames == containers


@pytest.mark.parametrize("packed", [True, False])
@pytest.mark.parametrize("pieces", [1, 2, 7])
def test_objects_may_span_containers(tmp_path: Path, packed: bool, pieces: int) -> None:
    content = frames(40)
    size = len(content) // pieces + 1
    body = b"".join(container(content[at : at + size], packed=packed) for at in range(0, len(content), size))
    reading = read(write(tmp_path, body, objects=40))
    assert reading.columns.times_ns.tolist() == [START + n * 10**6 for n in range(40)]
    assert payloads(reading.columns) == [n.to_bytes(8, "little") for n in range(40)]
    assert reading.ledger.non_frames == pieces
    assert not reading.rejected


def test_objects_outside_of_containers(tmp_path: Path) -> None:
    reading = read(write(tmp_path, frames(20), objects=20))
    assert reading.ledger.frames == 20
    assert reading.columns.places.tolist() == [144 + 48 * n for n in range(20)]


def test_frames_of_a_container_have_its_place(tmp_path: Path) -> None:
    first = container(frames(3))
    reading = read(write(tmp_path, first + container(frames(2, first=3))))
    assert reading.columns.places.tolist() == [144] * 3 + [144 + len(first)] * 2


@pytest.mark.parametrize("version", [1, 2])
@pytest.mark.parametrize(("flags", "unit"), [(1, 10_000), (2, 1)])
def test_stamps_of_both_units_and_headers_are_exact(
    tmp_path: Path, version: int, flags: int, unit: int
) -> None:
    body = thing(1, can_message(1, b"\1"), stamp=123_456_789, flags=flags, version=version)
    reading = read(write(tmp_path, container(body)))
    assert reading.columns.times_ns.tolist() == [START + 123_456_789 * unit]
    assert reading.resolution_ns == unit


@pytest.mark.parametrize("size", range(9))
def test_classic_frames(tmp_path: Path, size: int) -> None:
    payload = bytes(range(1, size + 1))
    padding = b"\xee" * (8 - size)
    body = thing(1, can_message(0x7FF, payload + padding, dlc=size)) + thing(
        86, can_message2(0x9FFFFFFF, payload)
    )
    reading = read(write(tmp_path, container(body)))
    assert [row[1:] for row in rows_of(reading.columns)] == [
        (0x7FF, False, payload),
        (0x1FFFFFFF, True, payload),
    ]
    assert not reading.columns.data[:, size:].any()


@pytest.mark.parametrize(("dlc", "size"), list(enumerate((*range(9), 12, 16, 20, 24, 32, 48, 64))))
def test_fd_frames_of_both_kinds_as_python_can_reads_them(tmp_path: Path, dlc: int, size: int) -> None:
    payload = bytes((7 * n + 1) & 255 for n in range(size))
    path = tmp_path / "b.blf"
    sent = can.Message(timestamp=1.79e9, arbitration_id=0x123, is_fd=True, data=payload)
    with can.BLFWriter(path) as writer:
        writer.on_message_received(sent)
    assert payloads(read(path).columns) == [payload]
    other = write(tmp_path, container(thing(101, fd_message_64(0x80000123, payload, dlc=dlc))))
    assert by_python_can(can.BLFReader(other)) == [(0x123, True, payload)]
    assert [row[1:] for row in rows_of(read(other).columns)] == [(0x123, True, payload)]


def test_fd_frame_whose_object_lacks_bytes_is_filled_with_zeros(tmp_path: Path) -> None:
    body = thing(101, fd_message_64(0x123, b"\xaa" * 12, dlc=9, there=8))
    path = write(tmp_path, container(body))
    assert payloads(read(path).columns) == [b"\xaa" * 8 + b"\0" * 4]
    assert by_python_can(can.BLFReader(path)) == [(0x123, False, b"\xaa" * 8 + b"\0" * 4)]


def test_mixed_kinds_keep_the_order_of_the_file(tmp_path: Path) -> None:
    parts = []
    for n in range(30):
        if n % 3 == 0:
            parts.append(thing(1, can_message(n, bytes([n]))))
        elif n % 3 == 1:
            parts.append(thing(86, can_message2(n, bytes([n, n]))))
        else:
            parts.append(thing(101, fd_message_64(n, bytes([n]) * 12, dlc=9)))
    reading = read(write(tmp_path, container(b"".join(parts)), objects=30))
    assert reading.columns.idents.tolist() == list(range(30))
    assert [len(payload) for payload in payloads(reading.columns)] == [1, 2, 12] * 10


def test_error_remote_and_unknown_objects_are_counted(tmp_path: Path) -> None:
    body = (
        thing(1, can_message(1, b"\1"))
        + thing(73, bytes(32)) * 2
        + thing(1, can_message(1, b"", flags=0x80))
        + thing(101, fd_message_64(1, b"", dlc=8, flags=0x1010))
        + thing(65, b"any text at all " * 3) * 3
        + thing(1, can_message(1, b"\2"))
    )
    reading = read(write(tmp_path, container(body), objects=9))
    assert (reading.ledger.frames, reading.ledger.non_frames) == (2, 1 + 2 + 2 + 3)
    assert [(o.what, o.count, o.first_row) for o in reading.oddities] == [
        ("error frames", 2, 1),
        ("remote frames", 2, 1),
    ]
    assert reading.notes == ("3 objects of type 65 hold no CAN frame: skipped",)
    assert not reading.rejected


def test_channels_are_told_apart(tmp_path: Path) -> None:
    body = b"".join(thing(1, can_message(1, b"", channel=channel)) for channel in (2, 1, 2))
    reading = read(write(tmp_path, container(body)))
    assert reading.channels == ("1", "2")
    assert reading.columns.channels.tolist() == [1, 0, 1]


@pytest.mark.parametrize(
    "date",
    [(0,) * 8, (2026, 13, 1, 1, 0, 0, 0, 0), (2026, 2, 1, 30, 0, 0, 0, 0), (1601, 1, 1, 1, 0, 0, 0, 0)],
)
def test_without_a_valid_date_the_time_of_day_is_not_known(tmp_path: Path, date: tuple[int, ...]) -> None:
    path = tmp_path / "a.blf"
    path.write_bytes(header(container(frames(2)), date=date))
    reading = read(path)
    assert not reading.columns.absolute
    assert reading.columns.times_ns.tolist() == [0, 10**6]


@pytest.mark.parametrize("body", [b"", container(b""), container(thing(65, b"text"))])
def test_file_without_frames_is_an_error(tmp_path: Path, body: bytes) -> None:
    with pytest.raises(LogError, match="without any CAN data frame"):
        read(write(tmp_path, body))


@pytest.mark.parametrize("size", [4, 20, 71])
def test_header_that_is_cut_is_an_error(tmp_path: Path, size: int) -> None:
    path = tmp_path / "a.blf"
    path.write_bytes(header(container(frames(2)))[:size])
    with pytest.raises(LogError, match="not a BLF file"):
        read(path)


def test_header_that_cannot_be_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "a.blf"
    content = bytearray(header(container(frames(2))))
    content[4:8] = b"\xff\xff\xff\x7f"
    path.write_bytes(content)
    with pytest.raises(LogError, match="byte 4"):
        read(path)


def test_file_that_the_logger_did_not_finish(tmp_path: Path) -> None:
    (doubt,) = read(write(tmp_path, container(frames(2)), size=144)).rejected
    assert (doubt.kind, doubt.row, doubt.until_end, doubt.count) == (QualityKind.TRUNCATED, 2, True, 0)


def test_fewer_objects_than_the_header_says_puts_everything_in_doubt(tmp_path: Path) -> None:
    (doubt,) = read(write(tmp_path, container(frames(2)), objects=3)).rejected
    assert (doubt.from_start, doubt.until_end) == (True, True)
    assert "3 objects, 2 were found" in doubt.why
