"""Payloads of long logs, cut to what is wanted: the trace is the one that all of each payload would give."""

import random
import sys
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from crccheck.crc import Crc16Ibm3740
from hypothesis import given, settings
from hypothesis import strategies as st
from trace_kit import DATA, DBC, EXPECTED, MS

from interlock.bench.protection import Protection
from interlock.trace import Expected, Trace, load, load_dbc, parts, readers
from interlock.trace import pile as pile_module
from interlock.trace.excerpt import DATA as KEPT
from interlock.trace.excerpt import Excerpt
from interlock.trace.gather import gather
from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import Columns
from interlock.trace.payloads import NONE, Payloads, decoding, filled, plain, wanted
from interlock.trace.pile import Pile
from interlock.trace.readers import read_log
from interlock.trace.wanted import plans_for

SHORT, EXTENDED, LONG, TWELVE = 0x120, 0x18ABCDEF | 1 << 31, 0x201, 0x202


def byte(number: int) -> SignalLayout:
    return SignalLayout(f"B{number}", "", 8 * number, 8, False, False, False, 1.0, 0.0, None, None)


def long_layout(key: int, length: int) -> MessageLayout:
    signals = tuple(map(byte, range(length)))
    return MessageLayout(f"M{key}", key & 0x1FFFFFFF, key >> 31 == 1, length, signals)


PLANS: Mapping[int, Excerpt | None] = {
    SHORT: None,
    EXTENDED: None,
    LONG: Excerpt.of(long_layout(LONG, 64), ["B1", "B60"]),
    TWELVE: Excerpt.of(long_layout(TWELVE, 11), ["B10"]),  # 11 bytes come in frames of 12
}


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
    st.tuples(st.sampled_from([*PLANS, 0x7FF, 0x120 | 1 << 31]), st.sampled_from([0, 3, 8, 12, 64])),
    max_size=30,
)


def piled(given_parts: list[Columns]) -> Columns:
    pile = Pile("line")
    for part in given_parts:
        pile.add(part)
    return pile.columns()


def sparse(part: Columns) -> Columns:
    """The same part as readers give it: eight bytes of each payload, and the longer ones apart, length by length."""
    if part.data.shape[1] <= 8:
        return part
    wide = []
    for length in (64, 12):
        rows = np.flatnonzero(part.lengths == length)
        if len(rows):
            wide.append((rows, part.data[rows, :length].copy()))
    return replace(part, data=np.ascontiguousarray(part.data[:, :8]), wide=tuple(wide))


SHORT_ONLY: Mapping[int, Excerpt | None] = {SHORT: None, EXTENDED: None}
BLOCKS = st.lists(st.tuples(FRAMES, st.sampled_from([8, 64])), min_size=1, max_size=5)


@settings(deadline=None)
@given(BLOCKS, st.sampled_from([PLANS, SHORT_ONLY, None]))
def test_long_payloads_apart_are_kept_as_those_in_one_block(
    blocks: list[tuple[list[tuple[int, int]], int]], plans: Mapping[int, Excerpt | None] | None
) -> None:
    given_parts = [part_of(frames, width) for frames, width in blocks]
    with ExitStack() as stack:
        if plans is not None:
            stack.enter_context(decoding(plans))
        columns = piled([sparse(part) for part in given_parts])
    assert columns.wide == ()
    whole = [row + [0] * (64 - len(row)) for part in given_parts for row in part.data.tolist()]
    keys = [key for frames, _ in blocks for key, _ in frames]
    held = columns.payloads
    if held is None:
        width = columns.data.shape[1]
        assert columns.data.tolist() == [row[:width] for row in whole]
        assert width == 8 or plans is None
        assert plans is PLANS or width == (64 if columns.lengths.max(initial=0) > 8 and plans is None else 8)
        return
    assert plans is PLANS
    for row, (key, size) in enumerate(zip(keys, columns.lengths.tolist(), strict=True)):
        if key in (SHORT, EXTENDED):
            assert held[row].tolist() == whole[row][:8]
        elif size == {LONG: 64, TWELVE: 12}.get(key):
            places = [1, 60] if key == LONG else [10]
            kept = held.long[key].columns[KEPT][int(held.at[row])]
            assert kept.tolist() == [whole[row][place] for place in places]


@given(FRAMES, st.data())
def test_payloads_are_filled_up_in_any_rows(frames: list[tuple[int, int]], data: st.DataObject) -> None:
    whole = part_of(frames, 64)
    part = sparse(whole)
    rows = np.array(
        sorted(data.draw(st.sets(st.integers(0, max(len(frames) - 1, 0))) if frames else st.just(set()))),
        np.int64,
    )
    assert filled(part.data, part.wide, rows).tolist() == whole.data[rows].tolist()
    assert filled(part.data, part.wide).tolist() == whole.data.tolist()


@settings(deadline=None)
@given(st.lists(st.tuples(FRAMES, st.sampled_from([8, 64])), min_size=1, max_size=5))
def test_what_is_kept_is_what_was_given(blocks: list[tuple[list[tuple[int, int]], int]]) -> None:
    given_parts = [part_of(frames, width) for frames, width in blocks]
    with pytest.MonkeyPatch.context() as patch, decoding(PLANS):
        patch.setattr(pile_module, "_FEW", 5)
        columns = piled(given_parts)
    keys = [key for frames, _ in blocks for key, _ in frames]
    assert columns.idents.tolist() == [key & 0x1FFFFFFF for key in keys]
    whole = [row + [0] * (64 - len(row)) for part in given_parts for row in part.data.tolist()]
    if all(width == 8 for _, width in blocks):
        assert columns.payloads is None
        assert columns.data.tolist() == [row[:8] for row in whole]
        return
    held = columns.payloads
    assert held is not None
    assert (len(columns.data), len(held.at)) == (0, len(keys))
    late = sum(len(frames) for frames, _ in blocks[: [width for _, width in blocks].index(64)])
    for row, (key, size) in enumerate(zip(keys, columns.lengths.tolist(), strict=True)):
        fits = {LONG: size == 64, TWELVE: size in (11, 12)}.get(key)
        if row < late or key in (SHORT, EXTENDED):  # before the first long frame everything is kept
            assert held[row].tolist() == whole[row][:8]
            continue
        with pytest.raises(IndexError, match="was not kept"):
            held[row]
        if fits:
            places = [1, 60] if key == LONG else [10]
            at = int(held.at[row])
            assert held.long[key].columns[KEPT][at].tolist() == [whole[row][place] for place in places]
        else:
            assert held.at[row] == NONE


def test_of_a_long_log_only_wanted_bytes_take_memory() -> None:
    part = part_of([(LONG, 64)] * 100 + [(0x7FF, 64)] * 100, 64)
    with decoding(PLANS):
        pile = Pile("line")
        for _ in range(3):
            pile.add(part)
        assert pile.payload_bytes == 300 * 2
        assert pile.columns().payloads is not None
    pile = Pile("line")
    pile.add(part)
    assert pile.payload_bytes == 200 * 64


def test_payloads_are_indexed_as_an_array_is() -> None:
    data = part_of([(SHORT, 8), (SHORT, 5), (EXTENDED, 3)], 8).data
    held = plain(data)
    assert np.array_equal(held[:], data)
    assert np.array_equal(held[1], data[1])
    assert np.array_equal(held[np.array([2, 0])], data[[2, 0]])
    assert np.array_equal(held[np.array([2, 0]), 1], data[[2, 0], 1])
    assert np.array_equal(held[np.array([True, False, True])], data[[0, 2]])
    assert np.array_equal(held.taken(np.array([2, 1]))[:], data[[2, 1]])
    with pytest.raises(ValueError, match="no plain ones"):
        plain(part_of([(SHORT, 12)], 12).data)


def test_nobody_says_what_is_decoded_so_all_is_kept() -> None:
    assert wanted() is None
    assert piled([part_of([(0x7FF, 64)], 64)]).payloads is None
    with decoding(PLANS):
        assert wanted() is PLANS
    assert wanted() is None


def test_places_take_four_bytes_where_they_fit() -> None:
    part = part_of([(SHORT, 8)] * 3, 8)
    far = replace(part, places=part.places + (1 << 32))
    assert piled([part, part]).places.tolist() == [0, 1, 2] * 2
    assert piled([part, part]).places.itemsize == 4
    assert piled([part, far, part]).places.tolist() == [0, 1, 2, *far.places.tolist(), 0, 1, 2]


def long_log(path: Path, seed: int, *, begin: int = 0) -> Path:
    """The frames of a sound log with longer frames of other identifiers, and some of its own, among them."""
    source = random.Random(seed)
    lines = []
    for at, line in enumerate((DATA / "short.log").read_text().splitlines()[begin : begin + 400]):
        lines.append(line)
        stamp = line[: line.index(")") + 1]
        if source.random() < 0.5 and at > 20:
            size = source.choice([12, 16, 64])
            ident = source.choice(["7F0", "18ABCDEF", "7F1", "120", "310", "3A0", "3A0"])
            lines.append(f"{stamp} can0 {ident}##1{long_payload(source, ident, size).hex().upper()}")
    path.write_text("\n".join(lines) + "\n")
    return path


DATA_ID = 0x77AA


def long_payload(source: random.Random, ident: str, size: int) -> bytes:
    """Of the long message a right end-to-end checksum more often than not, and now and then what was sent before."""
    if ident != "3A0":
        return source.randbytes(size)
    body = bytearray(source.choice([b"\x05", b"\x77"]) * 58)
    body[0] = source.randrange(2)  # counter
    body[10] = source.randrange(3)  # page
    if source.random() < 0.3:
        body[20:24] = source.choice([b"\0\0\xc0\x7f", b"\0\0\x80\xff", b"\0\0\0\x40"])  # NaN, -inf, 2
    checksum = Crc16Ibm3740.calc(bytes(body) + DATA_ID.to_bytes(2, "little"))
    if source.random() < 0.2:
        checksum ^= 1
    sent = checksum.to_bytes(2, "little") + bytes(body)
    return sent.ljust(64, b"\0") if source.random() < 0.9 else sent[:48]


LONG_MESSAGE = """
BO_ 928 LNG_Message: 60 LOG
 SG_ Crc : 0|16@1+ (1,0) [0|65535] "" LOG
 SG_ Beat : 16|8@1+ (1,0) [0|255] "" LOG
 SG_ Page M : 96|8@1+ (1,0) [0|1] "" LOG
 SG_ First m0 : 111|16@0- (0.5,-3) [-100|100] "V" LOG
 SG_ Other m1 : 104|12@1+ (1,0) [0|1000] "" LOG
 SG_ Real : 176|32@1- (1,0) [-1|1] "A" LOG
 SG_ Tail : 463|20@0- (0.25,0) [0|10] "" LOG
SIG_VALTYPE_ 928 Real : 1;
"""
PROTECTION = Protection(profile="P05", checksum="Crc", data_id=DATA_ID)
LONG_EXPECTED = Expected("LNG_Message", 35 * MS, 10 * MS, "Beat", 4, {"Real": 1, "Tail": 1}, PROTECTION)


@pytest.fixture(scope="module")
def dbc(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("dbc") / "long.dbc"
    path.write_text(DBC.read_text(encoding="cp1252") + LONG_MESSAGE, encoding="cp1252")
    return path


def same_trace(
    paths: list[Path], dbc: Path, monkeypatch: pytest.MonkeyPatch, keep: set[str] | None = None
) -> Trace:
    """The trace of cut payloads, which is that of whole ones."""
    messages = [*EXPECTED, LONG_EXPECTED]
    trace = load(paths, dbc, messages=messages, keep=keep)
    with monkeypatch.context() as patch:
        patch.setattr("interlock.trace.pile.wanted", lambda: None)
        whole = load(paths, dbc, messages=messages, keep=keep)
    assert (trace.quality, trace.sources) == (whole.quality, whole.sources)
    assert trace.messages.keys() == whole.messages.keys()
    assert trace.signals.keys() == whole.signals.keys()
    for name, samples in whole.signals.items():
        assert np.array_equal(samples.values, trace.signals[name].values, equal_nan=True)
        assert np.array_equal(samples.times_ns, trace.signals[name].times_ns)
    return trace


KEEPS = {
    "all": None,
    "none": set[str](),
    "one page": {"LNG_Message.Other", "SAFE_State.CoverA"},
    "across bytes": {"LNG_Message.Tail", "LNG_Message.First"},
}


@pytest.mark.parametrize("keep", KEEPS)
@pytest.mark.parametrize("seed", range(3))
def test_the_trace_is_that_of_all_payloads(
    tmp_path: Path, dbc: Path, seed: int, keep: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = long_log(tmp_path / "a.log", seed)
    monkeypatch.setattr(sys.modules["interlock.trace.wanted"], "_TOGETHER", [7, 100, 1 << 17][seed])
    for module in (parts, readers):
        monkeypatch.setattr(module, "PART", [1500, 9000, 1 << 24][seed])
    layouts = load_dbc(dbc)
    with decoding(plans_for(layouts, EXPECTED, None)):
        assert read_log(path)[0].columns.payloads is not None
    trace = same_trace([path], dbc, monkeypatch, KEEPS[keep])
    told = " ".join(one.sentence for one in trace.quality)
    for doubt in (
        "fail the check of E2E profile P05",
        "frames of LNG_Message are the same",
        "of First: outside",
        "of Real: no number",
        "of Tail: outside",
        "of LNG_Message not of 60 bytes",
    ):
        assert doubt in told, doubt


def test_stamps_that_run_backwards_change_nothing(
    tmp_path: Path, dbc: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = long_log(tmp_path / "a.log", 4).read_text().splitlines(keepends=True)
    random.Random(4).shuffle(lines)
    (tmp_path / "a.log").write_text("".join(lines))
    same_trace([tmp_path / "a.log"], dbc, monkeypatch, KEEPS["one page"])


def test_files_of_which_only_some_have_long_frames_are_joined(
    tmp_path: Path, dbc: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain_lines = (DATA / "short.log").read_text().splitlines(keepends=True)
    (tmp_path / "b.log").write_text("".join(plain_lines[400:800]))
    paths = [long_log(tmp_path / "a.log", 1), tmp_path / "b.log", long_log(tmp_path / "c.log", 2, begin=800)]
    for keep in KEEPS.values():
        same_trace(paths, dbc, monkeypatch, keep)
    with decoding(plans_for(load_dbc(dbc), [], ())):
        log = gather(paths, [read_log(path)[0] for path in paths])
    assert isinstance(log.data, Payloads)
    assert len(log.data.at) == len(log.times_ns)


def test_signals_that_nobody_speaks_of_are_looked_at_and_let_go(tmp_path: Path, dbc: Path) -> None:
    path = long_log(tmp_path / "a.log", 3)
    every = load([path], dbc, messages=[])
    kept = min(every.signals)
    trace = load([path], dbc, messages=[], keep={kept})
    assert set(trace.signals) == {kept}
    assert trace.messages.keys() == every.messages.keys()
    assert trace.quality == every.quality


def test_signals_by_which_freshness_is_told_are_kept(tmp_path: Path, dbc: Path) -> None:
    path = long_log(tmp_path / "a.log", 3)
    messages = [*EXPECTED, LONG_EXPECTED]
    whole = load([path], dbc, messages=messages)
    trace = load([path], dbc, messages=messages, keep=())
    told = {f"{one.message}.{name}" for one in messages for name in (*one.noisy, *one.evidence, one.alive)}
    assert set(trace.signals) == {*told, "LNG_Message.Crc"} & set(whole.signals)
    assert set(trace.signals) < set(whole.signals)
    assert trace.quality == whole.quality
