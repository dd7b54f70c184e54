"""The law of the fast lanes: what one reads of a line is what the grammar reads of it, and it may leave any line."""

import random
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.trace import bulk
from interlock.trace.asc_lane import KERNEL as ASC_KERNEL
from interlock.trace.asc_lane import lane as asc_lane
from interlock.trace.asc_lines import grammar as asc_grammar
from interlock.trace.candump import _grammar as candump_grammar
from interlock.trace.candump_lane import KERNEL as CANDUMP_KERNEL
from interlock.trace.candump_lane import lane as candump_lane
from interlock.trace.lane import MANY, MARGIN, fastest
from interlock.trace.lines import Table, split

READERS = {
    "candump": (candump_grammar, candump_lane, CANDUMP_KERNEL),
    "asc": (asc_grammar(b"hex"), asc_lane, ASC_KERNEL),
}
AROUND = b"x" * MARGIN + b"\n"

TAILS = [
    *(
        b"",
        b"",
        b" ",
        b"\r",
        b" // x",
        b" BitCount = 7",
        b" Length=1 ID = 18x",
        b" Length = 12a BitCount = 1 ID = 4",
    ),
    b"  Length = 232000 BitCount = 120 ID = 784",
    b" Length = 1 BitCount = 1 ID = 419419375x ",
]

Make = Callable[[random.Random], bytes]


def blanks(source: random.Random) -> bytes:
    return source.choice([b" ", b" ", b" ", b"  ", b"\t", b" " * 9, b" \t ", b" " * 17])


def hexadecimal(source: random.Random, count: int) -> bytes:
    text = source.randbytes(count).hex().encode()
    return source.choice([text, text.upper()])


def candump_line(source: random.Random) -> bytes:
    stamp = b"(%d.%06d)" % (source.choice([1790000000, 1790000001, 9000000000]), source.randrange(10**6))
    ident = source.choice([b"%03X" % source.randrange(0x820), b"%08x" % source.randrange(1 << 30)])
    channel = source.choice([b"can0", b"can1", b"v", b"slcan10", b"longname0", b"*"])
    tail = source.choice([b"", b"", b" R", b" T", b" ", b"\tR ", b" t", b"\r", b" R\r", b" x"])
    mark = source.choice([b"#"] * 9 + [b"##1", b"#R", b":"])
    data = hexadecimal(source, source.choice([*range(9), 12]))
    return stamp + blanks(source) + channel + blanks(source) + ident + mark + data + tail


def asc_line(source: random.Random) -> bytes:
    lead = source.choice([b"", b" ", b"   ", b"\t"])
    digits = source.choice([6, 6, 6, 6, 5, 9])
    stamp = b"%d.%0*d" % (source.choice([0, 7, 60, 1234567, 12345678]), digits, source.randrange(10**5))
    ident = source.choice([b"%X" % source.randrange(0x820), b"%Xx" % source.randrange(1 << 30), b"1FFFFFFFx"])
    way = source.choice([b"Rx", b"Rx", b"Tx", b"TxRq", b"rx"])
    dlc = source.randrange(9)
    data = [hexadecimal(source, 1) for _ in range(source.choice([dlc] * 9 + [dlc + 1]))]
    gap = source.choice([b" ", b" ", b" ", b"  ", b"\t"])
    before = source.choice([gap, gap, b"  ", b"\t "]) if data else b""
    tail = source.choice(TAILS)
    channel = source.choice([b"1", b"2", b"01", b"15", b"a"])
    kind = source.choice([b"d"] * 8 + [b"r", b"D"])
    words = (stamp, channel, ident, way, kind, b"%d" % dlc)
    head = b"".join(word + blanks(source) for word in words[:-1])
    return lead + head + words[-1] + before + gap.join(data) + tail


LINES: dict[str, Make] = {"candump": candump_line, "asc": asc_line}


def rows_of(table: Table) -> list[tuple[object, ...]]:
    """What the table says of each line, by value."""
    forms, reasons = list(table.forms), list(table.reasons)
    wide = {
        int(row): block[at].tobytes() for rows, block in table.wide for at, row in enumerate(rows.tolist())
    }
    return [
        (forms[form], reasons[reason], int(time), int(ident), int(data), wide.get(row))
        if not reason
        else (reasons[reason],)
        for row, (form, reason, time, ident, data) in enumerate(
            zip(
                table.form_of.tolist(),
                table.reason_of.tolist(),
                table.times_ns.tolist(),
                table.idents.tolist(),
                table.data.tolist(),
                strict=True,
            )
        )
    ]


def check(name: str, lines: list[bytes]) -> int:
    """Lane and kernel, compiled or not, read these lines as the grammar does; how many both read at least."""
    grammar, lane, kernel = READERS[name]
    text = AROUND + b"".join(line.replace(b"\n", b"") + b"\n" for line in lines) + AROUND
    cut = split(text)
    slow = bulk.tabulate(cut, grammar)
    its, rows = rows_of(slow), np.arange(1, len(cut) - 1)
    counts = []
    for one in (lane, kernel):
        fast, alone = bulk.tabulate(cut, grammar, one), Table.empty(len(cut))
        assert rows_of(fast) == its
        assert fast.digits == slow.digits
        with np.errstate(over="ignore"):  # where a kernel is not compiled
            read = one(cut, alone, rows)
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
    monkeypatch.setattr(bulk, "FEW_LENGTHS", 0)
    source = random.Random(seed)
    check(name, [LINES[name](source) for _ in range(150)])


@pytest.mark.parametrize("name", LINES)
@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    changes=st.lists(st.tuples(st.integers(0, 90), st.integers(0, 255)), max_size=60),
)
def test_changed_characters_never_make_the_lane_read_otherwise(
    name: str, seed: int, changes: list[tuple[int, int]]
) -> None:
    source = random.Random(seed)
    lines = [bytearray(LINES[name](source)) for _ in range(60)]
    for line, (place, value) in zip(lines, changes, strict=False):
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
}


@pytest.mark.parametrize("name", PLAIN)
def test_plain_lines_are_all_read_by_the_lane(name: str) -> None:
    lines = PLAIN[name]
    assert check(name, lines) == len(lines)


def test_tails_of_a_length_are_read_by_the_lane() -> None:
    lines = [line + TAILS[-1 - n % 2] for n, line in enumerate(PLAIN["asc"])]
    assert check("asc", lines) == len(lines)


@pytest.mark.parametrize("name", LINES)
def test_a_lane_that_finds_no_model_reads_nothing(name: str) -> None:
    assert check(name, [b"// a remark"] * 20) == 0


def test_a_kernel_is_taken_for_many_lines_and_only_with_a_compiler(monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    lane = fastest(
        lambda *_: said.append("plain") or np.zeros(1, np.bool_),
        lambda *_: said.append("kernel") or np.zeros(1, np.bool_),
    )
    for there, count in ((None, MANY), (object(), MANY), (object(), MANY - 1)):
        monkeypatch.setattr("importlib.util.find_spec", lambda _, found=there: found)
        lane(split(b"\n" * count), Table.empty(count), np.arange(1))
    assert said == ["plain", "kernel", "plain"]
