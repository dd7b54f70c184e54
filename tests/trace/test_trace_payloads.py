"""Payloads kept by width, and only of frames that are decoded: what is decoded is what it would be otherwise."""

import random
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trace_kit import DATA, DBC, EXPECTED

from interlock.trace import load, load_dbc, parts, readers
from interlock.trace import pile as pile_module
from interlock.trace.gather import gather
from interlock.trace.model import Columns
from interlock.trace.payloads import Payloads, decoding, plain, wanted
from interlock.trace.pile import Pile
from interlock.trace.readers import read_log

KEYS = {0x120, 0x201, 0x18ABCDEF | 1 << 31}


def part_of(frames: list[tuple[int, int]], width: int) -> Columns:
    """Frames given by key and length."""
    count = len(frames)
    keys = np.array([key for key, _ in frames], np.uint32)
    lengths = np.array([min(size, width) for _, size in frames], np.uint8)
    data = np.random.default_rng(count).integers(1, 256, (count, width)).astype(np.uint8)
    data[np.arange(width) >= lengths[:, None]] = 0
    return Columns(
        times_ns=np.arange(count, dtype=np.int64),
        idents=keys & np.uint32(0x1FFFFFFF),
        extended=keys >> np.uint32(31) > 0,
        lengths=lengths,
        data=data,
        places=np.arange(count),
        channels=np.zeros(count, np.uint16),
        absolute=True,
        place_is="line",
    )


FRAMES = st.lists(
    st.tuples(st.sampled_from([*KEYS, 0x7FF, 0x120 | 1 << 31]), st.sampled_from([0, 3, 8, 12, 64])),
    max_size=30,
)


@settings(deadline=None)
@given(st.lists(st.tuples(FRAMES, st.sampled_from([8, 64])), min_size=1, max_size=5))
def test_what_is_kept_is_what_was_given(blocks: list[tuple[list[tuple[int, int]], int]]) -> None:
    given_parts = [part_of(frames, width) for frames, width in blocks]
    with pytest.MonkeyPatch.context() as patch, decoding(KEYS):
        patch.setattr(pile_module, "_FEW", 5)
        pile = Pile("line")
        for part in given_parts:
            pile.add(part)
        columns = pile.columns()
    keys = [key for frames, _ in blocks for key, _ in frames]
    assert columns.idents.tolist() == [key & 0x1FFFFFFF for key in keys]
    whole = [row + [0] * (64 - len(row)) for part in given_parts for row in part.data.tolist()]
    if all(width == 8 for _, width in blocks):
        assert columns.payloads is None
        assert columns.data.tolist() == [row[:8] for row in whole]
        return
    held = columns.payloads
    assert held is not None
    assert len(columns.data) == 0
    rows = [row for row, key in enumerate(keys) if key in KEYS]
    wide = held.shape[1]  # eight where no longer frame is kept
    assert held.shape[0] == len(keys)
    assert held[np.array(rows, np.int64)].tolist() == [whole[row][:wide] for row in rows]
    assert not any(any(whole[row][wide:]) for row in rows)
    assert held.block(np.array(rows, np.int64), only_narrow=True).tolist() == [whole[row][:8] for row in rows]
    first_wide = next(at for at, (_, width) in enumerate(blocks) if width > 8)
    late = sum(len(frames) for frames, _ in blocks[:first_wide])
    assert len(held.narrow) + len(held.wide) == late + sum(key in KEYS for key in keys[late:])
    for row in range(late, len(keys)):
        if keys[row] not in KEYS:
            with pytest.raises(IndexError, match="was not kept"):
                held[row]


def some(width: int = 64) -> Payloads:
    return plain(part_of([(0x120, 8), (0x120, 64), (0x201, 3)], width).data)


@pytest.mark.parametrize("width", [8, 64])
def test_payloads_are_indexed_as_an_array_is(width: int) -> None:
    data = part_of([(0x120, 8), (0x120, 64), (0x201, 3)], width).data
    held = some(width)
    wide = np.pad(data, ((0, 0), (0, 64 - width)))
    assert np.array_equal(held[:], wide)
    assert np.array_equal(held[1], wide[1])
    assert np.array_equal(held[np.array([2, 0])], wide[[2, 0]])
    assert np.array_equal(held[np.array([2, 0]), 1], wide[[2, 0], 1])
    assert np.array_equal(held[np.array([True, False, True])], wide[[0, 2]])
    assert np.array_equal(held.taken(np.array([2, 1]))[:], wide[[2, 1]])


def test_nobody_says_what_is_decoded_so_all_is_kept() -> None:
    assert wanted() is None
    pile = Pile("line")
    pile.add(part_of([(0x7FF, 64)], 64))
    assert pile.columns().payloads is None
    with decoding([5, 3]):
        found = wanted()
        assert found is not None
        assert found.tolist() == [3, 5]
    assert wanted() is None


def long_log(path: Path, seed: int, *, begin: int = 0) -> Path:
    """The frames of a sound log with longer frames of other identifiers, and some of its own, among them."""
    source = random.Random(seed)
    lines = []
    for at, line in enumerate((DATA / "short.log").read_text().splitlines()[begin : begin + 400]):
        lines.append(line)
        stamp = line[: line.index(")") + 1]
        if source.random() < 0.5 and at > 20:
            size = source.choice([12, 16, 64])
            ident = source.choice(["7F0", "18ABCDEF", "7F1", "120", "310"])
            lines.append(f"{stamp} can0 {ident}##1{source.randbytes(size).hex().upper()}")
    path.write_text("\n".join(lines) + "\n")
    return path


def same_trace(paths: list[Path], monkeypatch: pytest.MonkeyPatch) -> None:
    trace = load(paths, DBC, messages=EXPECTED)
    with monkeypatch.context() as patch:
        patch.setattr("interlock.trace.pile.wanted", lambda: None)
        whole = load(paths, DBC, messages=EXPECTED)
    assert (trace.quality, trace.sources) == (whole.quality, whole.sources)
    assert trace.signals.keys() == whole.signals.keys()
    for name, samples in whole.signals.items():
        assert np.array_equal(samples.values, trace.signals[name].values, equal_nan=True)
        assert np.array_equal(samples.times_ns, trace.signals[name].times_ns)


@pytest.mark.parametrize("seed", range(6))
def test_the_trace_is_that_of_all_payloads(
    tmp_path: Path, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = long_log(tmp_path / "a.log", seed)
    monkeypatch.setattr(sys.modules["interlock.trace.load"], "_TOGETHER", [7, 100, 1 << 17][seed % 3])
    for module in (parts, readers):
        monkeypatch.setattr(module, "PART", 1500)
    with decoding(load_dbc(DBC)):
        assert read_log(path)[0].columns.payloads is not None
    same_trace([path], monkeypatch)


def test_files_of_which_only_some_have_long_frames_are_joined(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain_lines = (DATA / "short.log").read_text().splitlines(keepends=True)
    (tmp_path / "b.log").write_text("".join(plain_lines[400:800]))
    paths = [long_log(tmp_path / "a.log", 1), tmp_path / "b.log", long_log(tmp_path / "c.log", 2, begin=800)]
    same_trace(paths, monkeypatch)
    with decoding(load_dbc(DBC)):
        log = gather(paths, [read_log(path)[0] for path in paths])
    assert isinstance(log.data, Payloads)
    assert log.data.shape[0] == len(log.times_ns)


def test_signals_that_nobody_speaks_of_are_looked_at_and_let_go(tmp_path: Path) -> None:
    path = long_log(tmp_path / "a.log", 3)
    every = load([path], DBC, messages=[])
    kept = min(every.signals)
    trace = load([path], DBC, messages=[], keep={kept})
    assert set(trace.signals) == {kept}
    assert trace.messages.keys() == every.messages.keys()
    assert trace.quality == every.quality


def test_signals_by_which_freshness_is_told_are_kept(tmp_path: Path) -> None:
    path = long_log(tmp_path / "a.log", 3)
    whole = load([path], DBC, messages=EXPECTED)
    trace = load([path], DBC, messages=EXPECTED, keep=())
    told = {f"{one.message}.{name}" for one in EXPECTED for name in (*one.noisy, *one.evidence, one.alive)}
    assert set(trace.signals) == told & set(whole.signals)
    assert set(trace.signals) < set(whole.signals)
    assert trace.quality == whole.quality
