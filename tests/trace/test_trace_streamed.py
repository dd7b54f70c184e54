"""Records of signals in pieces: whatever the size of a piece, the reading is that of the file in one piece."""

import gzip
import random
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace import CsvColumns, LogFile, load, parts, pieces, readers, srzip, table
from interlock.trace.pieces import PIECE, allowed, begun, finer, too_many
from interlock.trace.readers import read_log
from interlock.trace.reading import Reading

HEAD = (
    b'$timescale 100 ps $end\n$var wire 1 ! EN $end\n$var wire 1 " STEP $end\n$var wire 4 # POS [3:0] $end\n'
    b"$enddefinitions $end\n"
)
SMALL = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@contextmanager
def pieces_of(size: int) -> Iterator[None]:
    """While this lasts files are read in pieces of some such size."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces, "PIECE", size)
        patch.setattr(srzip, "_STEP", size)
        for module in (parts, readers):
            patch.setattr(module, "PART", 3 * size)
        yield


def told(reading: Reading) -> tuple[object, ...]:
    """All that a reading says, so that it can be compared."""
    groups = tuple(
        (
            group.message,
            group.times_ns.tolist(),
            {name: [repr(one) for one in values.tolist()] for name, values in group.values.items()},
            dict(group.units),
            group.continuous,
        )
        for group in reading.sampled
    )
    columns = reading.columns
    return (
        groups,
        columns.times_ns.tolist(),
        columns.places.tolist(),
        columns.idents.tolist(),
        (reading.ledger, reading.rejected, reading.oddities, reading.notes, reading.resolution_ns),
    )


def whole_and_in(size: int, file: LogFile) -> tuple[tuple[object, ...] | str, tuple[object, ...] | str]:
    def tried() -> tuple[object, ...] | str:
        try:
            return told(read_log(file)[0])
        except LogError as error:
            return str(error)

    whole = tried()
    with pieces_of(size):
        return whole, tried()


BODY = [
    b"#%d",
    b"0!",
    b"1!",
    b'0"',
    b'1"',
    b"x!",
    b"b101 #",
    b"bx #",
    b"#1",
    b"#99999999999999999999",
    b"#999999999999999999",
    b"junk",
    b"",
]


@SMALL
@given(
    st.lists(st.integers(0, len(BODY) - 1), max_size=60),
    st.integers(1, 60),
    st.sampled_from([(), ("EN",), ("POS", "EN")]),
    st.sampled_from([b"", b"\n", b"\n#"]),
)
def test_dumps(tmp_path: Path, lines: list[int], size: int, wanted: tuple[str, ...], end: bytes) -> None:
    path = tmp_path / "logic.vcd"
    body = [BODY[kind] % (17 * at) if kind == 0 else BODY[kind] for at, kind in enumerate(lines)]
    path.write_bytes(HEAD + b"\n".join(body) + end)
    whole, again = whole_and_in(size, LogFile(path, wanted=wanted))
    assert again == whole


ROWS = [
    "{at}.5,1,{at}\n",
    "{at}.250,0.5,-{at}\n",
    "{at}.5,,1\n",
    "{at}.5,1\n",
    "{at}.5,1,1,1\n",
    "{at}.5,x,1\n",
    "{at}.5,1e,1\n",
    '"{at}.5","2","3"\n',
    "\n",
    "0.5,1,1\r\n",
]
PLANS = [
    CsvColumns({"A": "A", "B": 3}, time="t"),
    CsvColumns({"A": "A"}, time="t", changes_only=True),
    CsvColumns({"A": 2}, period_s=Fraction(1, 3), first_row=4),
    CsvColumns({"A": 2, "B": 3}, time=1, time_unit="ms", unit_row=2, units={"A": "1"}, first_row=3),
]


@SMALL
@given(
    st.lists(st.integers(0, len(ROWS) - 1), max_size=60),
    st.integers(1, 80),
    st.sampled_from(PLANS),
    st.sampled_from(["", "7.5,1", "\n"]),
)
def test_tables(tmp_path: Path, rows: list[int], size: int, plan: CsvColumns, end: str) -> None:
    path = tmp_path / "scope.csv"
    text = "".join(ROWS[kind].format(at=at) for at, kind in enumerate(rows))
    path.write_text("t,A,B\n" + text + end)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(table, "_SHOWN", 4)  # so few lines are looked at first, lest all be in the first piece
        patch.setattr(table, "_ENDS", 3)
        whole, again = whole_and_in(size, LogFile(path, columns=plan))
    assert again == whole


def test_rows_without_a_time_are_counted_on_from_piece_to_piece(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_text("t,A,B\n\n\n" + "".join(f"{n},{n % 5},1\n" + "\n" * (n % 3 == 0) for n in range(3000)))
    file = LogFile(path, columns=PLANS[2])
    with pieces_of(400):
        times = read_log(file)[0].columns.times_ns
    assert times.tolist() == [n * 10**9 // 3 for n in range(3000)]


def test_the_step_of_the_times_is_that_of_the_first_and_last_rows(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    rows = [f"{n / 1000:.1f},1,1\n" if 1700 < n < 1720 else f"{n / 1000:.3f},1,1\n" for n in range(2000)]
    path.write_text("t,A,B\n" + "".join(rows))
    whole, again = whole_and_in(500, LogFile(path, columns=PLANS[0]))
    assert again == whole
    assert read_log(LogFile(path, columns=PLANS[0]))[0].resolution_ns == 10**8


def test_a_long_table_of_which_the_first_rows_say_how_many_columns_it_has(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    first, others = "0.5,1,1\n" * 600, "0.75,1,1,1\n" * 5000
    path.write_text("t,A,B\n" + first + others)
    whole, again = whole_and_in(500, LogFile(path, columns=PLANS[0]))
    assert again == whole
    reading = read_log(LogFile(path, columns=PLANS[0]))[0]
    assert (reading.ledger.frames, reading.ledger.rejected) == (600, 5000)
    assert len(reading.rejected) == 1


@pytest.mark.parametrize("size", [5000, 99_991, 1 << 20])
@pytest.mark.parametrize("wanted", [(), ("0",)])
def test_captures(size: int, wanted: tuple[str, ...]) -> None:
    whole, again = whole_and_in(size, LogFile(DATA / "motion_steps.sr", wanted=wanted))
    assert again == whole
    assert not isinstance(whole, str)


def records(tmp_path: Path) -> list[LogFile]:
    dump = tmp_path / "logic.vcd"
    lines = "".join(f"#{n * 7}\n{n % 2}!\n" + ('1"\n' if n % 50 == 0 else "") for n in range(2000))
    dump.write_bytes(HEAD + lines.encode())
    samples = tmp_path / "scope.csv"
    samples.write_text("t,A,B\n" + "".join(f"{n / 1000},{n % 7},{n}\n" for n in range(3000)))
    return [LogFile(dump), LogFile(samples, columns=PLANS[0]), LogFile(DATA / "motion_steps.sr")]


def test_packed_records_are_read_in_pieces_as_well(tmp_path: Path) -> None:
    for file in records(tmp_path):
        path = tmp_path / (file.path.name + ".gz")
        path.write_bytes(gzip.compress(file.path.read_bytes()))
        packed = LogFile(path, columns=file.columns, name=file.message)
        _, again = whole_and_in(4000, packed)
        plain = told(read_log(LogFile(file.path, columns=file.columns, name=file.message))[0])
        assert again == plain


@pytest.mark.parametrize("seed", range(12))
def test_the_trace_of_a_torn_or_damaged_record_is_the_same(tmp_path: Path, seed: int) -> None:
    source = random.Random(seed)
    for file in records(tmp_path)[:2]:
        content = bytearray(file.path.read_bytes())
        at = source.randrange(200, len(content))
        content[at : at + source.choice([0, 1, 30])] = source.randbytes(source.choice([0, 1, 9]))
        path = tmp_path / f"damaged{file.path.suffix}"
        path.write_bytes(content[: source.choice([len(content), at + 100])])
        damaged = LogFile(path, columns=file.columns)
        whole = load([damaged], None, messages=[])
        with pieces_of(700):
            again = load([damaged], None, messages=[])
        assert again.quality == whole.quality
        assert (again.sources, again.end_ns, again.notes) == (whole.sources, whole.end_ns, whole.notes)
        for name, samples in whole.signals.items():
            assert np.array_equal(samples.values, again.signals[name].values, equal_nan=True)
            assert np.array_equal(samples.times_ns, again.signals[name].times_ns)


@given(st.lists(st.binary(max_size=20).map(lambda one: one.replace(b"\n", b"") + b"\n")), st.integers(1, 30))
def test_finer_parts_end_with_a_line_and_nothing_is_lost(lines: list[bytes], size: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces, "PIECE", size)
        found = list(finer([b"".join(lines[:5]), b"".join(lines[5:])]))
    assert b"".join(found) == b"".join(lines)
    assert all(one.endswith(b"\n") for one in found)
    assert all(len(one) <= max(size, *map(len, lines)) for one in found)


def test_the_beginning_is_read_until_enough_of_it_is_there() -> None:
    head, rest = begun(iter([b"a\n", b"b!\n", b"c\n"]), lambda part: b"!" in part, 1000)
    assert (head, list(rest)) == (b"a\nb!\n", [b"c\n"])
    head, rest = begun(iter([b"a\n", b"b\n", b"c\n"]), lambda part: b"!" in part, 3)
    assert (head, list(rest)) == (b"a\nb\n", [b"c\n"])
    assert begun(iter([]), lambda _: True, 3)[0] == b""


def test_what_is_kept_is_bounded() -> None:
    assert not too_many(0, 10**6)
    assert too_many(10**9, 1)
    rows = next(n for n in range(0, 10**8, 10**5) if too_many(n, 3))
    assert not too_many(rows // 2, 3)
    assert too_many(rows, 4)
    assert not too_many(rows, 3, most=1 << 40)
    assert PIECE < 1 << 24


def test_what_was_not_named_may_take_half_of_what_is_free(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pieces, "room", lambda: 100 << 30)
    assert (allowed(named=False), allowed(named=True)) == (50 << 30, pieces.MOST_BYTES)
    monkeypatch.setattr(pieces, "room", lambda: 1 << 20)
    assert allowed(named=False) == allowed(named=True) == pieces.MOST_BYTES


@pytest.mark.parametrize(
    ("name", "message"), [("logic.vcd", "changes up to here"), ("lines.sr", "changes; save")]
)
def test_more_changes_than_are_kept_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, message: str
) -> None:
    for module in ("vcd", "srzip"):
        monkeypatch.setattr(f"interlock.trace.{module}.too_many", lambda rows, _, **__: rows > 100)
    monkeypatch.setattr(pieces, "PIECE", 500)
    monkeypatch.setattr(srzip, "_STEP", 500)
    path = records(tmp_path)[0].path if name == "logic.vcd" else DATA / "motion_steps.sr"
    with pytest.raises(LogError, match=message) as caught:
        read_log(LogFile(path))
    assert "only the wires that are needed, in a bench file" in str(caught.value)


def test_more_rows_than_there_is_room_for_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pieces, "PIECE", 500)
    monkeypatch.setattr(pieces, "room", lambda: 0)
    monkeypatch.setattr(pieces, "MOST_BYTES", 50_000)
    with pytest.raises(LogError, match=r"scope\.csv:\d+: \d+ rows of samples up to here"):
        read_log(records(tmp_path)[1])
