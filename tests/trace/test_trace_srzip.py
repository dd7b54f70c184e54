"""Logic captures as `.sr`: a real one, made ones of every sample size, damage and bombs.

`motion_steps.sr`: a stepper motor's signals, from sigrok-dumps (public domain), see tests/data/README.md. The form is
described on the project's page "File format:Sigrok/v2".
"""

import io
import random
import zipfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace import LogFile, QualityKind, load
from interlock.trace.readers import read_log
from interlock.trace.reading import Reading

REAL = DATA / "motion_steps.sr"


def archive(
    samples: list[int], *, unit: int = 1, pieces: int = 1, rate: str = "1 MHz", probes: int = 2, **more: str
) -> bytes:
    """A capture in as many pieces."""
    stream = io.BytesIO()
    stated = {
        "capturefile": "logic-1",
        "total probes": str(8 * unit),
        "samplerate": rate,
        "unitsize": str(unit),
        **more,
    }
    stated |= {f"probe{n + 1}": f"D{n}" for n in range(probes)}
    lines = "".join(f"{key}={value}\n" for key, value in stated.items() if value)
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("version", "2")
        made.writestr("metadata", f"[global]\nsigrok version=0.5.0\n\n[device 1]\n{lines}")
        for piece, part in enumerate(np.array_split(np.array(samples, np.uint64), pieces), 1):
            made.writestr(f"logic-1-{piece}", b"".join(int(word).to_bytes(unit, "little") for word in part))
    return stream.getvalue()


def read(path: Path, *wanted: str) -> Reading:
    reading, source = read_log(LogFile(path, wanted=wanted))
    ledger = reading.ledger
    assert ledger.lines_or_objects == ledger.frames + ledger.non_frames + ledger.rejected
    assert ledger.rejected == sum(piece.count for piece in reading.rejected)
    assert source.format == "sr"
    return reading


def capture(tmp_path: Path, content: bytes, *wanted: str) -> Reading:
    path = tmp_path / "logic.sr"
    path.write_bytes(content)
    return read(path, *wanted)


def test_real_capture_shows_the_edges_that_its_bytes_have() -> None:
    reading = read(REAL)
    with zipfile.ZipFile(REAL) as real:
        raw = np.frombuffer(real.read("logic-1"), np.uint8)
    (group,) = reading.sampled
    assert reading.ledger.frames == len(raw) == 1_048_576
    assert list(group.values) == [f"s_{n}" for n in range(8)]
    for bit in range(8):
        level = raw >> bit & 1
        edges = np.flatnonzero(np.diff(level)) + 1
        values = group.values[f"s_{bit}"]
        mine = np.flatnonzero(np.diff(values)) + 1
        assert group.times_ns[mine].tolist() == [int(edge) * 10**9 // 12_000_000 for edge in edges]
        assert group.times_ns[mine - 1].tolist() == [int(edge - 1) * 10**9 // 12_000_000 for edge in edges]
    assert group.times_ns[-1] == (len(raw) - 1) * 10**9 // 12_000_000


@pytest.mark.parametrize("unit", [1, 2, 4, 8])
@pytest.mark.parametrize("pieces", [1, 3, 12])
def test_pieces_and_sample_sizes(tmp_path: Path, unit: int, pieces: int) -> None:
    samples = [(n // 5 % 2) | (n // 7 % 2) << (8 * unit - 1) for n in range(200)]
    top = 8 * unit
    more = {f"probe{top}": "TOP"}
    (group,) = capture(tmp_path, archive(samples, unit=unit, pieces=pieces, **more)).sampled
    for name, bit in (("D0", 0), ("TOP", top - 1)):
        index = group.times_ns // 1000
        assert group.values[name].tolist() == [samples[n] >> bit & 1 for n in index.tolist()]
    assert group.times_ns[-1] == 199_000
    assert group.continuous


@given(st.lists(st.integers(0, 3), min_size=1, max_size=80), st.integers(1, 5))
def test_between_two_rows_nothing_changes(
    tmp_path_factory: pytest.TempPathFactory, samples: list[int], pieces: int
) -> None:
    path = tmp_path_factory.getbasetemp() / "law.sr"
    path.write_bytes(archive(samples, pieces=pieces))
    (group,) = read(path).sampled
    index = (group.times_ns // 1000).tolist()
    shown = group.values["D0"] + 2 * group.values["D1"]
    assert (index[0], index[-1]) == (0, len(samples) - 1)
    assert index == sorted(set(index))
    for at, word in enumerate(samples):
        row = int(np.searchsorted(index, at, side="right")) - 1
        assert shown[row] == word


@pytest.mark.parametrize(
    ("rate", "step"),
    [("1 kHz", 10**6), ("24 MHz", 41), ("500 MHz", 2), ("2 Hz", 5 * 10**8), ("1.5 MHz", 666)],
)
def test_rates(tmp_path: Path, rate: str, step: int) -> None:
    reading = capture(tmp_path, archive([0, 1, 0], rate=rate))
    assert reading.columns.times_ns[1] == step
    assert reading.resolution_ns in (1, 2)


def test_only_wanted_wires_and_only_their_changes(tmp_path: Path) -> None:
    samples = [n % 2 | (n >= 50) << 1 for n in range(100)]
    reading = capture(tmp_path, archive(samples), "D1")
    assert list(reading.sampled[0].values) == ["D1"]
    assert (reading.columns.times_ns // 1000).tolist() == [0, 49, 50, 99]


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (archive([0, 1], rate=""), "describes no logic capture"),
        (archive([0, 1], rate="fast"), "sample rate, sample size or probes"),
        (archive([0, 1], rate="0 MHz"), "sample rate, sample size or probes"),
        (archive([0, 1], probes=0), "sample rate, sample size or probes"),
        (archive([0, 1], probe99="X"), "sample rate, sample size or probes"),
        (archive([0, 1], capturefile="other"), "without any sample"),
        (archive([]), "without any sample"),
        (archive([0, 1])[:-40], "torn or damaged archive"),
        (b"PK\x03\x04" + bytes(300), "torn or damaged archive"),
    ],
)
def test_archives_that_cannot_be_read(tmp_path: Path, content: bytes, reason: str) -> None:
    with pytest.raises(LogError, match=reason):
        capture(tmp_path, content)


def test_a_wanted_probe_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(LogError, match=r"no probe named STO; its probes are D0, D1"):
        capture(tmp_path, archive([0, 1]), "STO")


def test_a_damaged_piece_puts_the_capture_in_doubt(tmp_path: Path) -> None:
    source = random.Random(1)
    samples = [source.randrange(4) for _ in range(6000)]
    content = bytearray(archive(samples, pieces=3))
    at = content.find(b"logic-1-2") + 300
    content[at : at + 4] = bytes(4)
    path = tmp_path / "logic.sr"
    path.write_bytes(content)
    reading = read(path)
    assert len(reading.rejected) == 1
    trace = load([path], None, messages=[])
    doubt = next(one for one in trace.quality if one.kind is QualityKind.UNREADABLE)
    assert (doubt.blinds, doubt.span.lo, doubt.span.hi) == (True, 0, None)
    assert int(reading.columns.times_ns[-1]) == 5_999_000


@pytest.mark.parametrize("seed", range(60))
def test_damage_is_an_error_or_a_doubt_or_changes_nothing(tmp_path: Path, seed: int) -> None:
    source = random.Random(seed)
    sound = archive([source.randrange(4) for _ in range(3000)], pieces=2)
    content = bytearray(sound)
    for _ in range(source.randrange(1, 4)):
        content[source.randrange(len(content))] ^= 1 << source.randrange(8)
    whole = capture(tmp_path, sound).sampled[0]
    try:
        damaged = capture(tmp_path, bytes(content))
    except LogError as error:
        assert "logic.sr" in str(error)
        return
    if not damaged.rejected and set(damaged.sampled[0].values) == {"D0", "D1"}:
        same = all(
            np.array_equal(damaged.sampled[0].values[name], whole.values[name]) for name in ("D0", "D1")
        )
        assert same


def test_a_bomb_is_refused(tmp_path: Path) -> None:
    stream = io.BytesIO(archive([0, 1]))
    with zipfile.ZipFile(stream, "a", zipfile.ZIP_DEFLATED) as made:
        made.writestr("logic-1-2", bytes(1 << 20))
    content = stream.getvalue()
    at = content.rfind(b"PK\x01\x02")
    size = content.find((1 << 20).to_bytes(4, "little"), at)
    huge = content[:size] + (0xFFFFFFF0).to_bytes(4, "little") + content[size + 4 :]
    (piece,) = capture(tmp_path, huge).rejected
    assert piece.count > 1
    assert "as long as the archive says" in piece.why or "cannot be unpacked" in piece.why
