"""The law of bulk reading: a line means the same whether it is read alone or among others."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lane_kit import form_of, kind_of
from trace_kit import DATA

from interlock.trace import bulk
from interlock.trace.asc_lines import grammar as asc_grammar
from interlock.trace.candump import _grammar as candump_grammar
from interlock.trace.csvlog import _grammar as csv_grammar
from interlock.trace.lines import Table, split
from interlock.trace.shape import Grammar, Kind
from interlock.trace.trc_lines import grammar as trc_grammar

GRAMMARS: dict[str, Grammar] = {
    "candump": candump_grammar,
    "asc hex": asc_grammar(b"hex"),
    "asc dec": asc_grammar(b"dec"),
    "csv": csv_grammar,
    "trc": trc_grammar([b"N", b"O", b"T", b"B", b"I", b"d", b"R", b"L", b"D"], numbered=False),
}
MODELS = {
    "candump": [
        b"(1790000000.000123) can0 120#00FF10AA R",
        b"(0.1) can0 120#",
        b"(1790000000.000123) can0 1ABCDEF0##1" + b"AB" * 12,
        b"(1790000000.000123) can0 20000004#00",
        b"(1790000000.000123) can0 120#R8",
        b" (1790000000.000123)  can0  120   [3]  00 FF 10   '...'",
        b" (2026-09-21 14:13:20.000123)  can0  RX - -  1ABCDEF0   [2]  00 FF",
        b" (1790000000.000123)  can0  120   [0]  remote request",
    ],
    "asc hex": [
        b" 60.534127 1  120             Rx   d 8 4F 03 00 00 00 00 00 A5",
        b"1.0 1 18ABCDEFx Rx d 1 AB  Length = 232000 BitCount = 120 ID = 784",
        b"1.0 CANFD 1 Rx 310 0 0 9 12 " + b"0A " * 12 + b"130000 130 303000 e0006659",
        b"1.0 1 ErrorFrame",
        b"1.0 1 310 Rx r",
    ],
    "asc dec": [
        b"1.5 1 784 Rx d 3 255 0 07",
        b"1.0 1 419419x Rx d 1 16",
        b"   1.5 1  784   Rx   d 3 255   0  17",
        b"  12.5 1  784   Rx   d 3   7  10   0  Length = 3485 BitCount = 74 ID = 514",
        b"   1.5 CANFD   1 Rx        784  0 0 9 12   1   2   3   4   5   6   7   8   9  10  11 255  100  90 1 0",
    ],
    "csv": [
        b"1790000000.0007784,0x310,0,0,0,4,z////w==",
        b"1790000000.5,0x18abcdef,1,0,0,8,UAYAAAAEAAA=",
        b"1790000000.5,0x1,0,0,0,12,AAECAwQFBgcICQoL",
    ],
    "trc": [
        b"      1      1059.900 DT 1      0300 Rx -  7    00 00 00 00 04 00 01",
        b"      1      1059.900 FD 1  00000300 Rx -  9    " + b"0A " * 12,
        b"      5      2124.500 ER 1         - Rx -  5    04 00 02 00 00",
        b"      5      2124.500 RR 1      0300 Rx -  4",
    ],
}


def row(table: Table, at: int) -> tuple[object, ...]:
    kind = kind_of(table, at)
    reason = list(table.reasons)[table.reason_of[at]]
    if kind is Kind.REJECTED:
        return kind, reason
    wide = b"".join(block[rows.tolist().index(at)].tobytes() for rows, block in table.wide if at in rows)
    return form_of(table, at), int(table.times_ns[at]), int(table.idents[at]), int(table.data[at]), wide


def check(name: str, lines: list[bytes]) -> None:
    grammar = GRAMMARS[name]
    together = bulk.tabulate(split(b"\n".join(lines) + b"\n"), grammar)
    for at, line in enumerate(lines):
        alone = bulk.tabulate(split(line + b"\n"), grammar)
        assert row(together, at) == row(alone, 0), line


def changed(model: bytes, changes: list[tuple[int, int]]) -> bytes:
    line = bytearray(model)
    for place, value in changes:
        line[place % len(line)] = value
    return bytes(line).replace(b"\n", b" ").rstrip(b"\r")


CHARACTERS = st.one_of(st.sampled_from(b"0123456789abcdefABCDEF .,#=/+xXRrTt\t"), st.integers(0, 255))
CHANGES = st.lists(st.tuples(st.integers(0, 200), CHARACTERS), max_size=3)


@pytest.mark.parametrize("name", GRAMMARS)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_line_means_the_same_alone_and_among_others(name: str, data: st.DataObject) -> None:
    models = data.draw(st.lists(st.sampled_from(MODELS[name]), min_size=1, max_size=3))
    lines = [
        changed(model, data.draw(CHANGES)) for model in models for _ in range(data.draw(st.integers(1, 20)))
    ]
    check(name, data.draw(st.permutations(lines)))


@pytest.mark.parametrize(
    ("name", "file"), [("candump", "short.log"), ("asc hex", "short.asc"), ("csv", "short.csv")]
)
def test_whole_files_read_line_by_line(name: str, file: str) -> None:
    lines = (DATA / file).read_bytes().splitlines()
    check(name, lines[:300])


@pytest.mark.parametrize("name", GRAMMARS)
def test_more_shapes_than_patience(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bulk, "PATIENCE", 2)
    model = MODELS[name][0]
    lines = [changed(model, [(place, 32)]) for place in range(len(model)) for _ in range(3)]
    check(name, lines)


@pytest.mark.parametrize("block", [1, 7, 64])
def test_blocks_of_any_size(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (DATA / "short.log").read_bytes()
    whole = bulk.tabulate(split(text), candump_grammar)
    monkeypatch.setattr(bulk, "BLOCK", block)
    parts = bulk.tabulate(split(text), candump_grammar)
    for name in ("times_ns", "idents", "data"):
        assert (getattr(whole, name) == getattr(parts, name)).all()
    assert [row(whole, at) for at in range(0, 1500, 97)] == [row(parts, at) for at in range(0, 1500, 97)]


def test_numbers_too_large_are_rejected_in_bulk_as_alone() -> None:
    lines = [
        b"(1790000000.000123) can0 7FF#00",
        b"(1790000000.000123) can0 FFF#00",
        b"(9000000001.000123) can0 7FF#00",
        b"(9000000000.000123) can0 7FF#00",
    ] * 5
    check("candump", lines)
    first = b"(1790000000.000123) can0 00000004#00"
    check("candump", [first, *[first.replace(b" 0000", b" %d000" % digit) for digit in range(10)] * 6])
    check("candump", [b"(999999999999.999999999) can0 7FF#00"] * 8)


def test_torn_comment_is_a_comment_but_torn_blank_is_not() -> None:
    head = b"1.0 1 310 Rx d 1 00\n"
    for tail, kind in (
        (b"// x", Kind.COMMENT),
        (b"  ", Kind.REJECTED),
        (head[:-2], Kind.REJECTED),
        (head[:-1], Kind.FRAME),
    ):
        table = bulk.tabulate(split(head + tail), GRAMMARS["asc hex"])
        assert [kind_of(table, row) for row in range(2)] == [Kind.FRAME, kind]


def test_junk_of_any_kind_is_read_to_its_end() -> None:
    junk = bytes(range(256)) * 40
    for grammar in GRAMMARS.values():
        table = bulk.tabulate(split(junk), grammar)
        assert {kind_of(table, row) for row in range(len(table.codes))} <= {Kind.REJECTED, Kind.COMMENT}


SOME_OF_ALL = [*b"0129aFgPQRSTUVrt \t#.,-", 200]
VARIED = {
    "candump": b"(1790000000.000123) can0 7FF##1" + b"00" * 12 + b" R",
    "asc hex": b" 0.000123 CANFD   1 Rx  7FF  0 0 9 12" + b" 00" * 12,
    "asc dec": b" 0.000123 1  2047             Tx   d 2   0   0",
    "trc": b"      1      1059.900 DT 1      0300 Rx -  2    00 00",
}


@pytest.mark.parametrize("name", VARIED)
def test_any_character_in_any_place_means_the_same_among_lines_that_are_like_the_first(name: str) -> None:
    """Channel, direction and flags may differ in lines that are read together, by what the grammar allows there."""
    model = VARIED[name]
    lines = [
        model[:place] + bytes([one]) + model[place + 1 :]
        for place in range(len(model))
        for one in SOME_OF_ALL
    ]
    grammar = GRAMMARS[name]
    together = bulk.tabulate(split(b"\n".join([model] * 20 + lines) + b"\n"), grammar)
    for at, line in enumerate(lines, 20):
        assert row(together, at) == row(bulk.tabulate(split(line + b"\n"), grammar), 0), line


WAYS = {
    "candump": ("(1790000000.000123) can{bus} 7FF##{flag}0000000000000000 {way}", "RTrt"),
    "asc hex": (" 0.000123 CANFD   {bus} {way}x  7FF  {flag} 0 8 8 00 00 00 00 00 00 00 00", "RT"),
    "asc dec": (" 0.000123 {bus}  2047            {way}x   d {flag}   0", "RT"),
    "trc": ("      1      1059.900 DT {bus}      0300 {way}x -  1    {flag}0", "RT"),
}


@pytest.mark.parametrize("name", WAYS)
def test_lines_of_all_channels_and_directions_are_read_in_one_go(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    form, ways = WAYS[name]
    lines = [form.format(bus=bus, way=way, flag=1).encode() for bus in range(10) for way in ways]
    check(name, lines)
    met, together = list[int](), bulk._read_together
    monkeypatch.setattr(bulk, "_read_together", lambda *args: met.append(len(args[1])) or together(*args))
    table = bulk.tabulate(split(b"\n".join(lines) + b"\n"), GRAMMARS[name])
    assert met == [len(lines) - 1]  # the last one stands too near to the end
    names = [form_of(table, at)[3] for at in range(len(lines))]
    assert [name[-1:] for name in names] == [b"%d" % bus for bus in range(10) for _ in ways]
