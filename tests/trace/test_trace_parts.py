"""Long files in parts: whatever the size of a part, the reading is that of the whole file."""

import gzip
import io
import random
from pathlib import Path

import pytest
from trace_kit import DATA, DBC, EXPECTED, rows_of

from interlock.errors import LogError
from interlock.trace import asc, candump, csvlog, load, parts, readers, trc
from interlock.trace.parts import parts_of
from interlock.trace.reading import Reading

LOG = (DATA / "short.log").read_bytes()
CSV = (DATA / "short.csv").read_bytes()


def cut(text: bytes, size: int) -> list[bytes]:
    """The text in parts of some such size that end with a line."""
    found, at = [], 0
    while at < len(text):
        end = text.find(b"\n", at + size) + 1 or len(text)
        found.append(text[at:end])
        at = end
    return found


def same(one: Reading, other: Reading) -> None:
    assert rows_of(one.columns) == rows_of(other.columns)
    assert one.columns.places.tolist() == other.columns.places.tolist()
    named = [[reading.channels[n] for n in reading.columns.channels.tolist()] for reading in (one, other)]
    assert named[0] == named[1]
    assert (one.ledger, one.rejected, one.oddities) == (other.ledger, other.rejected, other.oddities)
    assert (one.notes, one.resolution_ns, one.columns.absolute) == (
        other.notes,
        other.resolution_ns,
        other.columns.absolute,
    )


@pytest.mark.parametrize("size", [1, 50, 1000, 20_000, 10**6])
def test_parts_of_a_sound_file(size: int) -> None:
    path = Path("a.log")
    same(candump.read_long(path, cut(LOG, size)), candump.read(path, LOG))
    same(csvlog.read_long(path, cut(CSV, size)), csvlog.read(path, CSV))


def odd_log(seed: int) -> bytes:
    """Lines of many kinds: two buses, long frames, error and remote frames, junk, a torn end."""
    source = random.Random(seed)
    kinds = [
        lambda n: b"(1790000000.%06d) can0 120#%016X R\n" % (n, n),
        lambda n: b"(1790000000.%06d) can1 1ABCDEF0#%02X\n" % (n, n % 256),
        lambda n: b"(1790000000.%06d) can0 123##1%s\n" % (n, b"0A" * 12),
        lambda n: b"(1790000000.%06d) can0 20000080#0000000000000000\n" % n,
        lambda n: b"(1790000000.%06d) can0 123#R8\n" % n,
        lambda n: b"junk %d\n" % n,
        lambda _: b"\n",
    ]
    weights = [20, 6, source.choice([0, 3]), 1, 1, 1, 1]
    chosen = source.choices(kinds, weights, k=400)
    text = b"".join(make(n * 10) for n, make in enumerate(chosen, 1))
    return text[: source.choice([len(text), len(text) - 1, len(text) - 9])]


@pytest.mark.parametrize("seed", range(25))
def test_parts_of_an_odd_file(seed: int) -> None:
    text, path = odd_log(seed), Path("a.log")
    same(candump.read_long(path, cut(text, 1 + seed * 97)), candump.read(path, text))


@pytest.mark.parametrize("size", [7, 64, 4096, len(LOG) - 1, len(LOG), len(LOG) + 1])
def test_a_file_is_cut_at_its_lines_and_nothing_is_lost(monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    monkeypatch.setattr(parts, "PART", size)
    stream = io.BytesIO(LOG)
    found = list(parts_of(stream, stream.read(size)))
    assert b"".join(found) == LOG
    assert all(part.endswith(b"\n") for part in found if part)


def test_a_line_longer_than_a_part_stays_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parts, "PART", 10)
    text = b"x" * 95 + b"\nend\n"
    stream = io.BytesIO(text)
    found = list(parts_of(stream, stream.read(10)))
    assert found[0].startswith(b"x" * 95 + b"\n")
    assert b"".join(found) == text


@pytest.mark.parametrize("file", ["short.log", "short.csv", "short.asc", "short.blf", "short.trc"])
def test_every_format_reads_the_same_whatever_the_part(monkeypatch: pytest.MonkeyPatch, file: str) -> None:
    reading, source = readers.read_log(DATA / file)
    for module in (parts, readers):
        monkeypatch.setattr(module, "PART", 5000)
    again, source_again = readers.read_log(DATA / file)
    same(again, reading)
    assert source_again == source


def test_a_long_log_gives_the_same_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = load([DATA / "short.log"], DBC, messages=EXPECTED)
    for module in (parts, readers):
        monkeypatch.setattr(module, "PART", 3000)
    trace = load([DATA / "short.log"], DBC, messages=EXPECTED)
    assert (trace.sources, trace.quality, trace.end_ns) == (whole.sources, whole.quality, whole.end_ns)
    for name, samples in trace.signals.items():
        assert samples.values.tolist() == whole.signals[name].values.tolist()


def test_a_long_file_without_a_frame_is_an_error() -> None:
    with pytest.raises(LogError, match=r"a\.log:1: read as candump, but no line"):
        candump.read_long(Path("a.log"), [b"junk\n", b"more\n"])
    with pytest.raises(LogError, match="it holds no data frame"):
        candump.read_long(Path("a.log"), [b"\n", b"\n"])


def test_a_long_file_of_distances_is_never_believed() -> None:
    lines = [b"(0.%06d) can0 120#00 R\n" % (900 + 37 * (n % 7)) for n in range(60)]
    reading = candump.read_long(Path("a.log"), lines)
    assert [piece.kind.value for piece in reading.rejected] == ["time_relative"]


def asc_log(seed: int, stamps: str) -> bytes:
    """Trigger blocks with and without a date, frames and events, relative or absolute; some lines are lost."""
    source = random.Random(seed)
    kinds = [
        lambda n: b"%d.%06d 1  120             Rx   d 2 %02X 00\n" % (n, n, n % 256),
        lambda n: b"%d.%06d 2  18ABCDEFx       Tx   d 1 %02X\n" % (n, n, n % 256),
        lambda n: b"%d.%06d 1 ErrorFrame\n" % (n, n),
        lambda n: b"%d.%06d CANFD 1 Rx 310 0 0 9 12 %s130000 130 303000 e0006659\n" % (n, n, b"0A " * 12),
        lambda _: b"// a remark\n",
        lambda n: b"%d.%06d log this line\n" % (n, n),
        lambda _: b"End TriggerBlock\nBegin Triggerblock Mon Sep 21 02:15:20.5 pm 2026\n",
        lambda _: b"Begin Triggerblock\n",
        lambda n: b"%d,5 1  120 Rx d 0\n" % n,
    ]
    head = b"date Mon Sep 21 02:13:20.000 pm 2026\nbase hex  timestamps %s\n" % stamps.encode()
    weights = [20, 5, 1, source.choice([0, 2]), 1, 1, source.choice([0, 1]), source.choice([0, 1]), 1]
    lines = [make(n) for n, make in enumerate(source.choices(kinds, weights, k=300))]
    first = b"Begin Triggerblock Mon Sep 21 02:13:20.000 pm 2026\n" * source.choice([0, 1])
    end = source.choice([b"", b"End TriggerBlock\n", b"9.5 1 120 Rx d 1 0"])
    return head + first + b"".join(lines) + end


@pytest.mark.parametrize("stamps", ["absolute", "relative"])
@pytest.mark.parametrize("seed", range(15))
def test_parts_of_a_log_whose_lines_depend_on_those_before(seed: int, stamps: str) -> None:
    text, path = asc_log(seed, stamps), Path("a.asc")
    whole = asc.read(path, text)
    for size in (90, 90 + seed * 97, 10**6):
        again = asc.read_long(path, cut(text, size))
        same(again, whole)
        assert again.date_width_ns == whole.date_width_ns


@pytest.mark.parametrize("size", [300, 1000, 10**6])
def test_parts_of_a_log_with_a_header(size: int) -> None:
    text, path = (DATA / "short.trc").read_bytes(), Path("a.trc")
    first = text.index(b"\n      ")  # the header lies in the first part
    same(trc.read_long(path, [text[: first + 1], *cut(text[first + 1 :], size)]), trc.read(path, text))


def test_a_version_that_is_named_too_late_is_refused() -> None:
    parts_given = [b"     1)       1.0 Rx 0300 1 00\n", b";$FILEVERSION=2.1\n"]
    with pytest.raises(LogError, match=r"a\.trc: .* version"):
        trc.read_long(Path("a.trc"), [b";$FILEVERSION=1.1\n", *parts_given])


def test_a_number_base_that_changes_later_is_refused() -> None:
    parts_given = [b"base hex timestamps absolute\n1.0 1 120 Rx d 0\n", b"base dec timestamps absolute\n"]
    with pytest.raises(LogError, match=r"a\.asc:3: a second, different 'base' line"):
        asc.read_long(Path("a.asc"), parts_given)


def test_of_a_line_without_end_only_the_beginning_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parts, "PART", 1 << 12)
    text = b"x" * (1 << 16) + b"\n" + LOG[:500]
    found = list(parts_of(io.BytesIO(text), b""))
    assert max(map(len, found)) < 1 << 14
    assert b"".join(found).endswith(LOG[:500])
    assert b"".join(found).count(b"\n") == text.count(b"\n")


@pytest.mark.parametrize("file", ["short.log", "short.csv", "short.asc", "short.trc", "short.blf"])
def test_a_packed_file_is_read_in_parts_as_well(
    file: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / (file + ".gz")
    path.write_bytes(gzip.compress((DATA / file).read_bytes()))
    plain = readers.read_log(DATA / file)[0]
    for module in (parts, readers):
        monkeypatch.setattr(module, "PART", 5000)
    same(readers.read_log(path)[0], plain)
