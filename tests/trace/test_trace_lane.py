"""The law of the fast lanes: what one reads of a line is what the grammar reads of it, and it may leave any line."""

import random

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lane_kit import FD_LENGTHS, LINES, TAILS, form_of

from interlock.trace import bulk
from interlock.trace import lane as lane_module
from interlock.trace.asc import KERNEL as ASC_KERNEL
from interlock.trace.asc_fd_lane import lane as asc_fd_lane
from interlock.trace.asc_lane import lane as asc_lane
from interlock.trace.asc_lines import grammar as asc_grammar
from interlock.trace.candump import _grammar as candump_grammar
from interlock.trace.candump_lane import KERNEL as CANDUMP_KERNEL
from interlock.trace.candump_lane import lane as candump_lane
from interlock.trace.csvlog import LANES as CSV_LANES
from interlock.trace.csvlog import _grammar as csv_grammar
from interlock.trace.kernels import AHEAD
from interlock.trace.lane import MARGIN, Lane, Lanes
from interlock.trace.lines import Table, split
from interlock.trace.shape import Grammar
from interlock.trace.trc_lines import grammar as trc_grammar
from interlock.trace.trc_lines import lanes as trc_lanes

TRC_1, TRC_2 = b"N,O,B,d,I,R,L,D".split(b","), b"N,O,T,B,I,d,R,L,D".split(b",")
READERS: dict[str, tuple[Grammar, tuple[Lane, ...]]] = {
    "candump": (candump_grammar, (candump_lane, CANDUMP_KERNEL)),
    "asc": (asc_grammar(b"hex"), (asc_lane, ASC_KERNEL)),
    "asc_fd": (asc_grammar(b"hex"), (asc_fd_lane, ASC_KERNEL)),
    "csv": (csv_grammar, (CSV_LANES.kernel,)),
    "trc": (trc_grammar(TRC_2, numbered=False), (trc_lanes(TRC_2, numbered=False).kernel,)),
    "trc_1": (trc_grammar(TRC_1, numbered=True), (trc_lanes(TRC_1, numbered=True).kernel,)),
}
AROUND = b"x" * MARGIN + b"\n"


def rows_of(table: Table) -> list[tuple[object, ...]]:
    """What the table says of each line, by value."""
    reasons = list(table.reasons)
    wide = {
        int(row): block[at].tobytes() for rows, block in table.wide for at, row in enumerate(rows.tolist())
    }
    columns = (table.reason_of, table.times_ns, table.idents, table.data)
    return [
        (reasons[reason],) if reason else (form_of(table, row), *values, wide.get(row))
        for row, (reason, *values) in enumerate(zip(*(column.tolist() for column in columns), strict=True))
    ]


def check(name: str, lines: list[bytes]) -> int:
    """Lane and kernel, compiled or not, read these lines as the grammar does; how many each reads at least."""
    grammar, lanes = READERS[name]
    text = AROUND + b"".join(line.replace(b"\n", b"") + b"\n" for line in lines) + AROUND
    cut = split(text)
    slow = bulk.tabulate(cut, grammar)
    its, rows = rows_of(slow), np.arange(1, len(cut) - 1)
    counts = []
    for one in lanes:
        alone = Table.empty(len(cut))
        with np.errstate(over="ignore"):  # where a kernel is not compiled
            fast = bulk.tabulate(cut, grammar, Lanes((one,), one))
            read = one(cut, alone, rows)
        assert rows_of(fast) == its
        assert fast.digits == slow.digits
        mine = rows_of(alone)
        for row in np.flatnonzero(read).tolist():
            assert mine[row + 1] == its[row + 1], cut.line(row + 1)
        counts.append(int(read.sum()))
    return min(counts)


@pytest.mark.parametrize("name", LINES)
@pytest.mark.parametrize("seed", range(12))
def test_lines_of_every_width_are_read_as_the_grammar_reads_them(
    name: str, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bulk, "MANY", 10**9)
    source = random.Random(seed)
    check(name, [LINES[name](source) for _ in range(150)])


@pytest.mark.parametrize("name", LINES)
@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    changes=st.lists(st.tuples(st.integers(0, 90), st.integers(0, 255)), max_size=60),
)
@example(seed=6979, changes=[(0, 0)] * 6 + [(28, 71)])  # ASC: a letter right behind an identifier is no name
@example(seed=0, changes=[(1, 10)])  # candump: an error frame read after a bus that is not the first
def test_changed_characters_never_make_the_lane_read_otherwise(
    name: str, seed: int, changes: list[tuple[int, int]]
) -> None:
    source = random.Random(seed)
    lines = [bytearray(LINES[name](source)) for _ in range(60)]
    for line, (place, value) in zip(lines, changes, strict=False):
        if line:
            line[place % len(line)] = value
    check(name, [bytes(line) for line in lines])


@pytest.mark.parametrize("name", LINES)
@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    picks=st.lists(
        st.tuples(st.integers(0, 5), st.integers(0, 90), st.integers(-300, 255)), min_size=20, max_size=80
    ),
)
def test_lines_that_repeat_with_small_changes_are_read_each_for_itself(
    name: str, seed: int, picks: list[tuple[int, int, int]]
) -> None:
    """What stood in the line before must not be taken for what stands in this one: heads are remembered."""
    source = random.Random(seed)
    pool = [LINES[name](source) or b"x" for _ in range(6)]
    lines = [bytearray(pool[pick]) for pick, _, _ in picks]
    for line, (_, place, value) in zip(lines, picks, strict=True):
        if value >= 0:
            line[place % len(line)] = value
    check(name, [bytes(line) for line in lines])


PLAIN = {
    "candump": [
        b"(1790000000.%06d) can%d %s#%s"
        % (n, n % 3, b"%03X" % (n % 2048) if n % 2 else b"%08X" % n, b"A5" * (n % 9))
        for n in range(500)
    ],
    "asc": [
        b"%4d.%06d  %d  %-15s Rx   d %d %s"
        % (n, n, n % 2 + 1, b"%X" % n if n % 2 else b"%Xx" % n, n % 9, b" ".join([b"A5"] * (n % 9)))
        for n in range(500)
    ],
    "asc_fd": [
        b"%4d.%06d CANFD %3d Rx  %-40s %d 0 %x %d %s  0 0 1000 0"
        % (
            n,
            n,
            n % 2 + 1,
            b"%X" % n if n % 2 else b"%Xx" % n,
            n % 2,
            n % 15 + 1,
            size,
            b" ".join([b"A5"] * size),
        )
        for n in range(500)
        for size in [FD_LENGTHS[n % 15 + 1]]
    ],
}


@pytest.mark.parametrize("name", PLAIN)
def test_plain_lines_are_all_read_by_the_lane(name: str) -> None:
    lines = PLAIN[name]
    assert check(name, lines) == len(lines)


def test_tails_of_a_length_are_read_by_the_lane() -> None:
    lines = [line + TAILS[-1 - n % 2] for n, line in enumerate(PLAIN["asc"])]
    assert check("asc", lines) == len(lines)


ODD = {
    "candump": [
        b"(1790000000.5) can0 5A0##0" + b"5e" * 64 + b" R",
        b"(1790000000.25)  can1   18FF50E5##3" + b"00" * 12,
        b"(1790000000.250001) can0 20000080#0004000000000000",
        b"(0.5) can0 123#R T",
        b"(0.5) can0 12345678#r8",
        b"",
    ],
    "asc": [
        b" 0.125000 CANFD   2 Tx        5A0  "
        + b" " * 30
        + b" 0 0 9 12 "
        + b"5e " * 12
        + b"  0 0 1000 0 0 0 0 0",
        b" 0.125000 CANFD 1 Rx 18FF50E5x Name_1 1 0 8 8 00 01 02 03 04 05 06 07",
        b" 0.200000 2  123             Rx   r 4 ",
        b" 0.300000 1  ErrorFrame",
        b"// a remark",
        b"",
    ],
    "asc_fd": [
        b" 0.125000 CANFD   2 Tx  5A0 " + b" " * 40 + b" 0 0 9 12 " + b"5e " * 12 + b"  0 0 1000 0",
        b" 0.125000 CANFD 1 Rx 18FF50E5x\t1 0 f 64" + b" A5" * 64,
        b"1.5 CANFD 12 Rx 5a0 0 1 0  1\t00  123456789abc ",
    ],
    "csv": [
        b"1790000000.5,0x5a0,0,0,0,20,txfRsSNfZZbpHP2pbRnJCDKvd8I=",
        b"0.04321,0x310,0,1,0,4,",
        b"0.04321,0x1fffffff,1,0,1,0,",
        b"0.04321,0x310,0,0,0,4,nQAAAA==",
    ],
    "trc": [
        b"     40        23.824 DT  1     0310 Rx -  4    60 FF FF FF",
        b"  199999 121212.1 FB 02 18FF50E5   Tx - 9 " + b"5e " * 12,
        b"41 24 RR - 0310 Rx - 8",
        b"; a remark",
        b" ",
    ],
    "trc_1": [
        b"   200000)     121212.8 1  Rx        0310 -  4    D6 FF FF FF",
        b"7) 5.123456 - Tx 18FF50E5 a0 0",
        b"; a remark",
    ],
}


@pytest.mark.parametrize("name", ODD)
def test_lines_of_other_kinds_are_all_read_by_the_kernel(name: str) -> None:
    grammar, lanes = READERS[name]
    lines = ODD[name] * 2
    cut = split(AROUND + b"\n".join(lines) + b"\n" + AROUND)
    with np.errstate(over="ignore"):
        read = lanes[-1](cut, Table.empty(len(cut)), np.arange(1, len(cut) - 1))
    assert [line for line, one in zip(lines, read, strict=True) if not one] == []
    assert not any(isinstance(grammar(line), str) for line in lines)
    check(name, lines)


SPOILT = {
    "candump": [
        b"(1790000000.5) can0 5A0##05e5",
        b"(1790000000.5) can0 5A0##0" + b"5e" * 11,
        b"(1790000000.5) can0 5A0#" + b"5e" * 9,
        b"(1790000000.5) can0 800#00",
        b"(1790000000.5) can0 40000000#00",
        b"(9000000001.5) can0 123#00",
    ],
    "asc": [
        b" 0.1 CANFD 1 Rx 5A0 0 0 9 12 " + b"5e " * 11,
        b" 0.1 CANFD 1 Rx 5A0 0 0 9 12 " + b"5e " * 12 + b"0123456789abc",
        b" 0.1 CANFD 1 Rx 5F9G9a 0 0 8 8 00 01 02 03 04 05 06 07",
        b" 0.1 CANFD 1 Rx 5F9 G9a0 0 8 8 00 01 02 03 04 05 06 07",
        b" 0.1 1 123 Rx d 4 01 02 03",
        b" 0.1 1 800 Rx d 0",
        b" 0.1 1 ErrorFrames",
        b" 0.1 a 123 Rx d 0",
    ],
    "asc_fd": [
        b" 0.1 CANFD 1 Rx 5A0 0 0 9 12 " + b"5e " * 11,
        b" 0.1 CANFD 1 Rx 5A0 0 0 9 12 " + b"5e " * 12 + b"0123456789abc",
        b" 0.1 CANFD 1 Rx 5A0 0 0 9 12" + b" 5e" * 12 + b"0",
        b" 0.1 CANFD 1 Rx 5A0 0 0 9 12" + b" 5e" * 11 + b" 5x",
        b" 0.1 CANFD 1 Rx 5A0 2 0 1 1 5e",
        b" 0.1 CANFD 1 Rx 5A0 0 0 0 0",
        b" 0.1 CANFD 1 Rx 800 0 0 1 1 5e",
        b" 0.1 CANFD 1 TxRq 5A0 0 0 1 1 5e",
        b" 0.1 CANFD 1 Rx 5A0 0 0 9 13" + b" 5e" * 13,
    ],
    "csv": [
        b"0.5,0x123,0,0,0,3,YWJjYQ==",
        b"0.5,0x123,0,0,0,:,YWJj",
        b"0.5,0x123,0,0,0,3,YW=j",
        b"0.5,0x800,0,0,0,0,",
        b"0.5,0x123,0,0,2,0,",
    ],
    "trc": [
        b"1 2.5 DT 1 0310 Rx - 4 60 FF FF",
        b"1 2.5 FD 1 0310 Rx - 16 60",
        b"1 2.5 DT 1 0800 Rx - 0",
        b"1 2.5 XX 1 0310 Rx - 0",
        b"1 2.1234567 DT 1 0310 Rx - 0",
    ],
    "trc_1": [b"1 2.5 1 Rx 0310 - 0", b"1) 2.5 EC Rx 0310 - 0", b"1) 2.5 1 Rx 20000000 - 0"],
}


@pytest.mark.parametrize("name", SPOILT)
def test_spoilt_lines_are_left_to_the_grammar(name: str) -> None:
    assert check(name, SPOILT[name]) == 0
    _, lanes = READERS[name]
    cut = split(b"\n".join(SPOILT[name]) + b"\n" + AROUND)
    with np.errstate(over="ignore"):
        assert not lanes[-1](cut, Table.empty(len(cut)), np.arange(len(SPOILT[name]))).any()


def test_a_kernel_leaves_lines_that_have_too_little_behind_them() -> None:
    line = b"(1790000000.5) can0 123#00\n"
    for behind, read in ((b"", False), (b"x" * (AHEAD - 2), False), (b"x" * (AHEAD - 1), True)):
        cut = split(line + behind)
        with np.errstate(over="ignore"):
            assert CANDUMP_KERNEL(cut, Table.empty(len(cut)), np.arange(1)).tolist() == [read]


def test_channels_beyond_sixteen_are_left_to_the_grammar() -> None:
    lines = [b"(1790000000.5) can%d 123#%02X" % (n % 20, n) for n in range(60)]
    assert check("candump", lines) == 48


def test_columns_that_may_be_taken_for_an_event_have_no_kernel() -> None:
    for columns in ("NOBRILD", "NORILD", "OTIdLD"):
        assert trc_lanes([letter.encode() for letter in columns], numbered=False) is None


@pytest.mark.parametrize("name", LINES)
def test_a_lane_that_finds_no_model_reads_nothing(name: str) -> None:
    assert check(name, [b"// a remark"] * 20) == 0


def test_a_kernel_is_taken_once_a_compiler_would_have_paid(monkeypatch: pytest.MonkeyPatch) -> None:
    lanes = Lanes((), CANDUMP_KERNEL)
    monkeypatch.setattr(lane_module, "MANY", 100)
    monkeypatch.setattr(lane_module, "_SEEN", [0])
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    assert not any(lanes.compiled(split(b"\n" * 60)) for _ in range(3))
    monkeypatch.setattr("importlib.util.find_spec", lambda _: object())
    assert [lanes.compiled(split(b"\n" * 60)) for _ in range(3)] == [False, True, True]
