"""Scope exports of other makes of heading: what the csv module reads, at the times that are written there.

`scope_blanks.csv`, `scope_units.csv`: from RigolWFM (scottprahl, BSD-3-Clause), see tests/data/README.md. All 24 tables
of its tests that have a heading, a row of units or none were read once in the same way; all rows agree.
"""

import csv
from fractions import Fraction

import pytest
from trace_kit import DATA

from interlock.trace import CsvColumns, LogFile
from interlock.trace.readers import read_log

FILES = {
    # columns, first row, resolution of the stamps
    "scope_blanks.csv": (CsvColumns({"a": "CH 1 (V)", "b": "CH 2 (V)"}, time="X"), 1, 10),
    "scope_units.csv": (CsvColumns({"a": "CH1"}, time=1, first_row=3), 2, 100),
}


@pytest.mark.parametrize("name", FILES)
def test_real_exports_hold_what_the_csv_module_reads(name: str) -> None:
    plan, first, resolution_ns = FILES[name]
    reading, source = read_log(LogFile(DATA / name, columns=plan))
    with (DATA / name).open(newline="") as stream:
        rows = list(csv.reader(stream))[first:]
    (group,) = reading.sampled
    for column, signal in enumerate(plan.signals, 1):
        assert group.values[signal].tolist() == [float(row[column]) for row in rows]
    start = Fraction(rows[0][0])
    passed = [(Fraction(row[0]) - start) * 10**9 for row in rows]
    mine = (reading.columns.times_ns - reading.columns.times_ns[0]).tolist()
    assert all(abs(one - other) <= 1 for one, other in zip(mine, passed, strict=True))
    assert reading.resolution_ns == resolution_ns
    assert (source.frames, source.rejected) == (len(rows), 0)
