"""Whatever bytes a file holds: a reading whose ledger adds up, or one clear error; never a traceback, never a hang."""

import gzip
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace import CsvColumns, LogFile
from interlock.trace.readers import read_log

VCD = (
    b"$timescale 1 us $end\n$var wire 1 ! EN $end\n$var wire 4 # P $end\n$enddefinitions $end\n"
    b"#0\n0!\n#5\n1!\nb01 #\n#9\n"
)
TABLE = b"t,A,B\n0.001,1,2\n0.002,1,2\n0.003,,2\n0.004,1.5e1,2\n"
SEEDS = {
    "short.log": (DATA / "short.log").read_bytes()[:3000],
    "shown.log": b" (1790000000.000100)  can0  RX - -  120   [2]  01 02   '..'\n" * 9
    + b"  can0  120   [1]  01\n",
    "short.asc": (DATA / "short.asc").read_bytes()[:3000],
    "short.csv": (DATA / "short.csv").read_bytes()[:3000],
    "short.trc": (DATA / "short.trc").read_bytes()[:3000],
    "short.blf": (DATA / "short.blf").read_bytes(),
    "steps.sr": (DATA / "motion_steps.sr").read_bytes(),
    "lines.vcd": VCD,
    "packed.log.gz": gzip.compress((DATA / "short.log").read_bytes()[:3000]),
}
PLANS = [
    CsvColumns({"A": "A", "B": 3}, time="t"),
    CsvColumns({"A": 2}, period_s=Fraction(1, 3), heading_row=0, first_row=1),
    CsvColumns({"A": 2}, time=1, delimiter=";", decimal=",", heading_row=0, first_row=1, time_unit="us"),
]
CHANGES = st.lists(
    st.tuples(st.integers(0, 1 << 20), st.integers(0, 40), st.binary(max_size=40)), min_size=1, max_size=4
)
RARELY = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def changed(content: bytes, changes: list[tuple[int, int, bytes]]) -> bytes:
    for place, size, junk in changes:
        at = place % (len(content) + 1)
        content = content[:at] + junk + content[at + size :]
    return content


def tried(file: LogFile) -> None:
    """Read a file whose content nobody vouches for."""
    try:
        reading, source = read_log(file)
    except LogError as error:
        assert str(file.path) in str(error) or "columns of a table" in str(error)
        return
    ledger = reading.ledger
    assert ledger.lines_or_objects == ledger.frames + ledger.non_frames + ledger.rejected
    assert ledger.rejected == sum(piece.count for piece in reading.rejected)
    assert source.frames == ledger.frames
    rows = len(reading.columns.times_ns)
    assert rows == len(reading.columns.idents) == len(reading.columns.places) == len(reading.columns.data)
    assert all(0 <= piece.row <= piece.last_row <= rows for piece in reading.rejected)


@pytest.mark.parametrize("name", SEEDS)
@RARELY
@given(changes=CHANGES)
def test_damaged_files(tmp_path: Path, name: str, changes: list[tuple[int, int, bytes]]) -> None:
    path = tmp_path / name
    path.write_bytes(changed(SEEDS[name], changes))
    tried(LogFile(path))


@pytest.mark.parametrize("plan", PLANS)
@RARELY
@given(changes=CHANGES)
def test_damaged_tables(tmp_path: Path, plan: CsvColumns, changes: list[tuple[int, int, bytes]]) -> None:
    path = tmp_path / "scope.csv"
    path.write_bytes(changed(TABLE, changes))
    tried(LogFile(path, columns=plan))


@pytest.mark.parametrize("suffix", [".log", ".asc", ".csv", ".trc", ".blf", ".vcd", ".sr", ".gz"])
@RARELY
@given(content=st.binary(max_size=300))
def test_any_bytes(tmp_path: Path, suffix: str, content: bytes) -> None:
    path = tmp_path / f"any{suffix}"
    path.write_bytes(content)
    tried(LogFile(path))
