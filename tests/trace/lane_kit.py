"""Lines of text logs made at random: mostly well formed, of every kind and width, some spoilt."""

import random
from base64 import b64encode
from collections.abc import Callable

from interlock.trace.forms import bus_of, length_of, wide_of
from interlock.trace.lines import Table
from interlock.trace.shape import Kind

__all__ = ["LINES", "TAILS", "Form", "Make", "blanks", "form_of", "hexadecimal", "kind_of"]

Form = tuple[Kind, bool, int, bytes]  # kind, whether the identifier is extended, bytes of data, bus


def kind_of(table: Table, row: int) -> Kind:
    """What the table says that a line is."""
    return Kind(int(table.codes[row]) >> 8 & 7)


def form_of(table: Table, row: int) -> Form:
    """The same with what it tells of a frame."""
    code, kind = table.codes[row : row + 1], kind_of(table, row)
    if kind is not Kind.FRAME:
        assert code[0] & 0xFF == 0
        assert bus_of(code)[0] == 0
        return kind, False, 0, b""
    return kind, bool(wide_of(code)[0]), int(length_of(code)[0]), list(table.buses)[int(bus_of(code)[0])]


FD_LENGTHS = (*range(9), 12, 16, 20, 24, 32, 48, 64)

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


def bytes_of(source: random.Random, lengths: tuple[int, ...]) -> list[bytes]:
    return [hexadecimal(source, 1) for _ in range(source.choice(lengths))]


def candump_line(source: random.Random) -> bytes:
    stamp = b"(%d.%06d)" % (source.choice([1790000000, 1790000001, 9000000000]), source.randrange(10**6))
    if source.random() < 0.2:
        stamp = source.choice(
            [b"(7.25)", b"(012.123456789)", b"(1790000000.1234567890)", b"(1.)", b"(9000000001.5)"]
        )
    ident = source.choice([b"%03X" % source.randrange(0x820), b"%08x" % source.randrange(1 << 30)])
    ident = source.choice([ident] * 6 + [b"20000080", b"3fffffff", b"40000000", b"7FF", b"1234"])
    channel = source.choice([b"can0", b"can1", b"v", b"slcan10", b"longname0", b"*"])
    tail = source.choice([b"", b"", b" R", b" T", b" ", b"\tR ", b" t", b"\r", b" R\r", b" x"])
    mark = source.choice([b"#"] * 6 + [b"##1", b"##f", b"##g", b":"])
    data = hexadecimal(source, source.choice([*range(9), 8, 8, 12] if mark == b"#" else FD_LENGTHS))
    data = source.choice(
        [data] * 12 + [data + b"_9", data[1:], data + b"a", b"R", b"r8", b"Rx", b"R12", b"r "]
    )
    if source.random() < 0.03:
        return source.choice([b"", b"  ", b"\t", b"// a remark", b"#"])
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
    if source.random() < 0.3:
        return lead + asc_other(source, stamp, channel, ident, way, tail)
    words = (stamp, channel, ident, way, kind, b"%d" % dlc)
    head = b"".join(word + blanks(source) for word in words[:-1])
    return lead + head + words[-1] + before + gap.join(data) + tail


def asc_flexible(source: random.Random, channel: bytes, ident: bytes, way: bytes) -> list[bytes]:
    """The words of a CAN FD frame behind its stamp."""
    size = source.choice(FD_LENGTHS)
    data = bytes_of(source, (size,) * 9 + (size + 1,))
    code = source.choice([b"%x" % FD_LENGTHS.index(size), b"0", b"0f", b"g"])
    rest = source.choice([b"0 0 1000 0 0 0 0 0", b"", b"12 x", b"0123456789abc", b"0 1 2g", b"0" * 40])
    symbol = source.choice([[], [], [b"Name_1"], [b"9a"], [b"f"]])
    flags = [source.choice([b"0", b"1", b"0", b"2"]), source.choice([b"0", b"1"])]
    return [b"CANFD", channel, way, ident, *symbol, *flags, code, b"%d" % size, *data, rest]


def asc_fd_line(source: random.Random) -> bytes:
    """A CAN FD frame, mostly with one blank between its data bytes."""
    ident = source.choice([b"%X" % source.randrange(0x820), b"%xx" % source.randrange(1 << 30)])
    words = asc_flexible(
        source, source.choice([b"1", b"02", b"a"]), ident, source.choice([b"Rx", b"Tx", b"TxRq"])
    )
    even = source.random() < 0.7
    gaps = [b" " if even and at > 8 else blanks(source) for at in range(len(words))]
    stamp = b" %d.%06d" % (source.choice([0, 7, 1234567]), source.randrange(10**6))
    return stamp + b"".join(gap + word for gap, word in zip(gaps, words, strict=True))


def asc_other(
    source: random.Random, stamp: bytes, channel: bytes, ident: bytes, way: bytes, tail: bytes
) -> bytes:
    """Lines that hold no classic data frame: long, remote and error frames, events, remarks."""
    flexible = asc_flexible(source, channel, ident, way)
    lines = [
        *(flexible,) * 6,
        [channel, ident, way, b"r", source.choice([b"4", b"", b"d", b"12", b"B", tail])],
        [channel, b"ErrorFrame" + source.choice([b"", b"", b" ", b"s", b" Flags = 0x2", b"\t"])],
        [b"CANFD", channel, way, b"ErrorFrame"],
        [channel, b"Statistic: D 0 R 4 XD 0 XR 0 E 0 O 0 B 1.5%"],
        [b"Start of measurement"],
    ]
    remarks = [b"// a remark", b"//", b"/ x", b"", b" ", b"End TriggerBlock", b"no internal events logged"]
    if source.random() < 0.15:
        return source.choice(remarks)
    return stamp + b"".join(blanks(source) + word for word in source.choice(lines))


def stamp_ms(source: random.Random) -> bytes:
    number = source.choice([b"0", b"17", b"1234567", b"123456789", b"123456789012", b"1234567890123"])
    return number + source.choice([b".0", b".25", b".123456", b"", b".", b".1234567", b",5", b".5"])


def trc_line(source: random.Random, columns: str) -> bytes:
    kind = source.choice([b"DT", b"DT", b"DT", b"FD", b"FB", b"BI", b"RR", b"ER", b"XX", b"FDx"])
    lengths = FD_LENGTHS if kind[:1] in b"FB" else tuple(range(9))
    size = source.choice(lengths)
    data = bytes_of(source, (size,) * 9 + (size + 1,))
    ident = [
        b"%04X" % source.randrange(0x820),
        b"%08x" % source.randrange(1 << 30),
        b"123",
        b"00310",
        b"FFFFFFFF",
    ]
    fields = {
        "N": b"%d" % source.choice([0, 9, 10**6, 10**12 - 1, 10**12]),
        "O": stamp_ms(source),
        "T": kind,
        "B": source.choice([b"1", b"02", b"-", b"123", b"a"]),
        "I": source.choice([ident[0], ident[0], ident[0], *ident]),
        "d": source.choice([b"Rx", b"Tx", b"Rx", b"rx", b"RxTx"]),
        "R": source.choice([b"-", b"a0", b"EC", b"g0"]),
        "L": b"%d" % source.choice([FD_LENGTHS.index(size), size, size, 15, 100]),
        "l": b"%d" % size,
    }
    if "T" not in columns:
        fields["N"] += source.choice([b")"] * 9 + [b""])
    words = [fields[letter] for letter in columns]
    words += source.choice([data] * 12 + [[b"RTR"], []])
    gap = source.choice([b" ", b" ", b"  ", b"\t"])
    text = gap.join(words) if source.random() < 0.6 else b"".join(word + blanks(source) for word in words)
    remark = source.random() < 0.06
    return source.choice([b"; a remark", b"  ;", b"", b" "]) if remark else source.choice([b"", b"  "]) + text


def csv_line(source: random.Random) -> bytes:
    payload = source.randbytes(source.choice((*FD_LENGTHS, *range(9), 9, 65)))
    stamp = b"%d.%d" % (
        source.choice([0, 7, 1790000000, 9000000001, 10**12]),
        source.choice([0, 5, 250000, 10**9]),
    )
    ident = b"0x" + source.choice(
        [b"%x" % source.randrange(0x820), b"%X" % source.randrange(1 << 30), b"", b"123456789"]
    )
    flags = [source.choice([b"0"] * 9 + [b"1", b"2"]) for _ in range(3)]
    flags[0] = source.choice([b"0", b"1"])
    size = b"%d" % source.choice([len(payload)] * 9 + [len(payload) + 1])
    data = b64encode(payload)
    data = source.choice(
        [data] * 12 + [data[:-1], data.replace(b"=", b"A"), data[:-2] + b"==", b"YR==", b"=" + data]
    )
    fields = (stamp, ident, *flags, source.choice([size] * 9 + [b"0" + size, b"", b":"]), data)
    return source.choice([b","] * 30 + [b", ", b";"]).join(fields)


LINES: dict[str, Make] = {
    "candump": candump_line,
    "asc": asc_line,
    "asc_fd": asc_fd_line,
    "csv": csv_line,
    "trc": lambda source: trc_line(source, "NOTBIdRL"),
    "trc_1": lambda source: trc_line(source, "NOBdIRL"),
}
