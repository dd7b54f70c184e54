"""Tables of samples: exact stamps, every row accounted for; real scope exports read as csv and float read them.

`scope_even.csv` and `scope_times.csv`: from RigolWFM (scottprahl, BSD-3-Clause), see tests/data/README.md.
"""

import csv
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace import CsvColumns, LogFile, QualityKind, load
from interlock.trace.readers import read_log
from interlock.trace.reading import Reading
from interlock.trace.table import row_times_ns
from interlock.trace.table_cells import headings

PLAN = CsvColumns({"STO_A": "A", "STO_B": "B"}, time="t")
HEAD = "t,A,B\n"


def read(file: LogFile) -> Reading:
    """The reading of a table, its ledger checked."""
    reading, source = read_log(file)
    ledger = reading.ledger
    assert ledger.lines_or_objects == ledger.frames + ledger.non_frames + ledger.rejected
    assert ledger.frames == len(reading.columns.times_ns)
    assert ledger.rejected == sum(piece.count for piece in reading.rejected)
    assert source.format == "table"
    return reading


def table(tmp_path: Path, text: str, plan: CsvColumns = PLAN) -> Reading:
    path = tmp_path / "scope.csv"
    path.write_bytes(text.encode("latin-1"))
    return read(LogFile(path, columns=plan))


def values(reading: Reading) -> dict[str, list[float]]:
    (group,) = reading.sampled
    return {name: one.tolist() for name, one in group.values.items()}


@pytest.mark.parametrize(
    ("file", "plan", "first", "columns"),
    [
        (
            "scope_even.csv",
            CsvColumns({"a": "CH1", "b": 3}, period_s=Fraction("1e-8"), first_row=3),
            3,
            (1, 2),
        ),
        ("scope_times.csv", CsvColumns({"a": "CH2", "b": "CH4"}, time=1, first_row=3), 3, (1, 2)),
    ],
)
def test_real_exports_hold_what_the_csv_module_reads(
    file: str, plan: CsvColumns, first: int, columns: tuple[int, int]
) -> None:
    reading = read(LogFile(DATA / file, columns=plan))
    with (DATA / file).open(newline="") as stream:
        rows = list(csv.reader(stream))[first - 1 :]
    assert values(reading)["a"] == [float(row[columns[0]]) for row in rows]
    assert values(reading)["b"] == [float(row[columns[1]]) for row in rows]
    if plan.time is not None:
        assert reading.columns.times_ns.tolist() == [int(Fraction(row[0]) * 10**9) for row in rows]
        assert reading.resolution_ns == 100  # the last digit of -1.63840e-02 s
    else:
        assert reading.columns.times_ns.tolist() == [10 * n for n in range(len(rows))]
    assert (reading.rejected, reading.columns.absolute) == ((), False)


@pytest.mark.parametrize(
    ("text", "plan"),
    [
        ("t;A;B\n0,001;1,5;0\n0,002;2,5;1\n", CsvColumns(PLAN.signals, time="t", delimiter=";", decimal=",")),
        (
            "t\tA\tB\n1\t1.5\t0\n2\t2.5\t1\n",
            CsvColumns(PLAN.signals, time="t", delimiter="\t", time_unit="ms"),
        ),
        (
            "t,A,B\nms,V,V\n1,1.5,0\n2,2.5,1\n",
            CsvColumns(PLAN.signals, time="t", first_row=3, time_unit="ms"),
        ),
        ('"t","A","B"\n"0.001","1.5","0"\n"0.002","2.5","1"\n', PLAN),
        (
            "model x\n\nt , A , B \n1e-3, +1.5 ,0\n2E-3,2.5,1\n",
            CsvColumns(PLAN.signals, time="t", heading_row=3, first_row=4),
        ),
        (
            "0.001,1.5,0\n0.002,2.5,1\n",
            CsvColumns({"STO_A": 2, "STO_B": 3}, time=1, heading_row=0, first_row=1),
        ),
        ("ï»¿t,A,B\r\n.001,1.5,0\r\n.002,2.5,1\r\n", PLAN),
        ("t,A,B,\n0.001,1.5,0,\n0.002,2.5,1,\n\n", PLAN),
    ],
)
def test_tables_of_many_kinds_hold_the_same(tmp_path: Path, text: str, plan: CsvColumns) -> None:
    reading = table(tmp_path, text, plan)
    assert reading.columns.times_ns.tolist() == [10**6, 2 * 10**6]
    assert values(reading) == {"STO_A": [1.5, 2.5], "STO_B": [0, 1]}
    assert reading.rejected == ()


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("0.002,1", "not as many columns"),
        ("0.002,1,2,3", "not as many columns"),
        ("0.002,1,x", "characters that no number has"),
        ("0.002,1,1e", "a cell that is no number"),
        ("0.002,1,--", "a cell that is no number"),
        ("0,002,1,1", "not as many columns"),
    ],
)
def test_other_rows_are_rejected_with_place_and_reason(tmp_path: Path, row: str, reason: str) -> None:
    reading = table(tmp_path, f"{HEAD}0.001,1,1\n{row}\n0.003,1,1\n0.004,1,1\n")
    (piece,) = reading.rejected
    assert (piece.place, piece.row, piece.kind) == (3, 1, QualityKind.UNREADABLE)
    assert reason in piece.why
    assert reading.columns.places.tolist() == [2, 4, 5]


def test_an_empty_cell_is_a_sample_that_is_not_known(tmp_path: Path) -> None:
    reading = table(tmp_path, f"{HEAD}0.001,1,1\n0.002,,1\n0.003,1,1\n")
    assert np.isnan(values(reading)["STO_A"]).tolist() == [False, True, False]
    trace = load([LogFile(tmp_path / "scope.csv", columns=PLAN)], None, messages=[])
    assert [(doubt.kind, doubt.signal) for doubt in trace.quality] == [(QualityKind.NOT_A_NUMBER, "STO_A")]


def test_a_torn_last_row_is_no_evidence(tmp_path: Path) -> None:
    (piece,) = table(tmp_path, f"{HEAD}0.001,1,1\n0.002,1,1").rejected
    assert (piece.kind, piece.place, piece.until_end) == (QualityKind.TRUNCATED, 3, True)


@pytest.mark.parametrize(
    ("cells", "whole"),
    [
        (["0", "1"] * 5, True),
        (["1.20", "-13.45"] * 5, True),
        (["1.5e-03", "2.5e-04"] * 5, True),
        ([*["1.25", "2.50"] * 5, "2.5"], False),
        ([*["1.25", "2.50"] * 5, "2"], False),
        ([*["1.25", "2.50"] * 5, ""], False),
        (["3", "4"] * 5, False),  # of 43, say
        (["1.5", "2.25"] * 5, False),  # a recorder that writes what digits there are
        (["1.25"] * 3, False),  # too few to tell
    ],
    ids=lambda one: str(one)[-14:],
)
def test_a_last_row_without_line_end_is_read_if_it_is_written_as_the_others(
    tmp_path: Path, cells: list[str], whole: bool
) -> None:
    text = HEAD + "\n".join(f"0.{number + 1:03d},1,{cell}" for number, cell in enumerate(cells))
    found, ended = table(tmp_path, text), table(tmp_path, text + "\n")
    assert (found.rejected == ()) is whole
    assert found.ledger.lines_or_objects == ended.ledger.lines_or_objects
    if whole:
        assert values(found) == values(ended)


def test_a_row_that_is_lost_keeps_the_time_of_the_others(tmp_path: Path) -> None:
    plan = CsvColumns({"V": 1}, period_s=Fraction(1, 1000), heading_row=0, first_row=1)
    assert table(tmp_path, "1\nx\n3\n", plan).columns.times_ns.tolist() == [0, 2 * 10**6]


def test_times_that_run_backwards_are_told(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_text(f"{HEAD}0.001,1,1\n0.003,1,1\n0.002,1,1\n0.004,1,1\n")
    trace = load([LogFile(path, columns=PLAN)], None, messages=[])
    assert [doubt.kind for doubt in trace.quality] == [QualityKind.TIME_BACKWARDS]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("t,A\n0,1\n", r"scope\.csv:1: not exactly one column is headed 'B'"),
        ("t,A,B,B\n0,1,1,1\n", "not exactly one column is headed 'B'"),
        (HEAD, "no row of samples"),
        (f"{HEAD}x\n", "no row of samples in it; line 2"),
        (f"{HEAD}1790000000.5,1,1\n", "count from the start of the record"),
        (f"{HEAD}nan,1,1\n", "cannot be told to the nanosecond"),
        (f"{HEAD}inf,1,1\n", "cannot be told to the nanosecond"),
    ],
)
def test_tables_that_cannot_be_read_are_errors(tmp_path: Path, text: str, reason: str) -> None:
    with pytest.raises(LogError, match=reason):
        table(tmp_path, text)


def test_a_column_number_beyond_the_table(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no row of samples"):
        table(tmp_path, "1,2\n", CsvColumns({"V": 7}, time=1, heading_row=0, first_row=1))


def test_only_wanted_signals_are_read(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_text(f"{HEAD}0.001,1,2\n")
    assert list(values(read(LogFile(path, columns=PLAN, wanted=("STO_B",))))) == ["STO_B"]


def test_units_and_name_go_into_the_trace(tmp_path: Path) -> None:
    path = tmp_path / "scope one.csv"
    path.write_text(f"{HEAD}0.001,1,2\n0.002,1,2\n")
    plan = CsvColumns({"STO_A": "A"}, time="t", units={"STO_A": "V"})
    trace = load([LogFile(path, "STO", plan)], None, messages=[])
    assert trace.signals["STO.STO_A"].unit == "V"
    assert set(trace.messages) == {"STO"}
    assert not trace.absolute


@given(st.integers(-(2**50), 2**50), st.sampled_from(["s", "ms", "us", "ns"]))
def test_stamps_of_whole_nanoseconds_are_exact(
    tmp_path_factory: pytest.TempPathFactory, time: int, unit: str
) -> None:
    digits = {"s": 9, "ms": 6, "us": 3, "ns": 0}[unit]
    sign, size = "-" if time < 0 else "", abs(time)
    whole, rest = divmod(size, 10**digits)
    text = f"{sign}{whole}" + (f".{rest:0{digits}}" if digits else "")
    path = tmp_path_factory.getbasetemp() / "exact.csv"
    path.write_text(f"{text},1\n")
    plan = CsvColumns({"V": 2}, time=1, time_unit=unit, heading_row=0, first_row=1)
    assert read(LogFile(path, columns=plan)).columns.times_ns.tolist() == [time]


@given(
    st.lists(st.integers(0, 2**40), min_size=1, max_size=5).map(sorted),
    st.integers(1, 10**12),
    st.integers(1, 10**12),
)
def test_rows_at_an_even_rate_are_exact(index: list[int], top: int, bottom: int) -> None:
    period = Fraction(top, bottom * 1000)
    expected = [int(n * period * 10**9) for n in index]
    if expected[-1] < 2**62:
        assert row_times_ns(np.array(index, np.int64), period).tolist() == expected


CHANGES = CsvColumns({"STO_A": "A", "STO_B": "B"}, time="t", changes_only=True)


def test_a_table_of_changes_holds_between_its_rows(tmp_path: Path) -> None:
    """A logic analyser's export: each row a change; until then nothing had changed."""
    path = tmp_path / "scope.csv"
    path.write_text(HEAD + "0.000,1,1\n0.500,0,1\n0.503,0,0\n")
    reading, source = read_log(LogFile(path, columns=CHANGES))
    assert (source.lines_or_objects, source.frames, source.non_frames, source.rejected) == (4, 3, 1, 0)
    assert reading.columns.times_ns.tolist() == [0, 499_000_000, 500_000_000, 502_000_000, 503_000_000]
    assert values(reading) == {"STO_A": [1, 1, 0, 0, 0], "STO_B": [1, 1, 1, 1, 0]}
    assert reading.sampled[0].continuous


def test_a_change_that_is_lost_leaves_everything_after_it_in_doubt(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_text(HEAD + "0.000,1,1\n0.500,?,1\n0.503,0,0\n0.9,1,1\n")
    trace = load([LogFile(path, "x", CHANGES)], None, messages=[])
    (lost,) = [one for one in trace.quality if one.blinds]
    assert (lost.span.lo, lost.span.hi) == (0, None)
    assert "whatever changed here is not known from here on" in lost.sentence


def test_a_unit_that_is_not_the_expected_one_is_refused(tmp_path: Path) -> None:
    plan = CsvColumns({"a": "A", "b": "B"}, time="t", units={"a": "V", "b": "Nm"}, unit_row=2, first_row=3)
    assert values(table(tmp_path, "t,A,B\n[s],(V),Nm\n0,1,2\n", plan)) == {"a": [1.0], "b": [2.0]}
    for units, told in (
        ("ms,V,Nm", "the time is in 'ms' by this line and in 's'"),
        ("s,mV,Nm", "signal a is in 'mV' by this line and in 'V'"),
        ("s,V,", "signal b is in '' by this line and in 'Nm'"),
        ("s,V", "signal b is in ''"),
    ):
        with pytest.raises(LogError, match=rf"scope\.csv:2: {told}"):
            table(tmp_path, f"t,A,B\n{units}\n0,1,2\n", plan)


def test_a_unit_of_which_nothing_is_expected_is_not_compared(tmp_path: Path) -> None:
    """The volts of a transducer that the bench tells in newton metres."""
    plan = CsvColumns({"a": "A", "b": "B"}, time="t", units={"a": "V"}, unit_row=2, first_row=3)
    assert values(table(tmp_path, "t,A,B\ns,V,V\n0,1,2\n", plan)) == {"a": [1.0], "b": [2.0]}


TEXTS = {
    "comment": "0.001,1.5,0,started\n0.002,2.5,1,\n",
    "accents": "0.001,1.5,0,Prüfung läuft °\n0.002,2.5,1,±\n",
    "quoted": '0.001,1.5,0,"a, b"\n0.002,2.5,1,"said ""stop"", then, off"\n',
    "inches": '0.001,1.5,0,5" shaft\n0.002,2.5,1,6" and 7" shaft\n',
}


@pytest.mark.parametrize("kind", TEXTS)
@pytest.mark.parametrize("place", ["behind", "before"])
def test_text_in_columns_that_nobody_asks_for_costs_no_row(tmp_path: Path, kind: str, place: str) -> None:
    rows = [("t", "A", "B", '"note, free"')]
    rows += [tuple(line.split(",", 3)) for line in TEXTS[kind].splitlines()]
    if place == "before":
        rows = [(row[3], *row[:3]) for row in rows]
    reading = table(tmp_path, "".join(",".join(row) + "\n" for row in rows))
    assert reading.columns.times_ns.tolist() == [10**6, 2 * 10**6]
    assert values(reading) == {"STO_A": [1.5, 2.5], "STO_B": [0, 1]}
    assert reading.rejected == ()


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("0.002,1,1,a,b", "not as many columns"),  # a delimiter in text without quotes
        ("0.002,1,1", "not as many columns"),
        ('0.002,"a,b",1', "not as many columns"),  # as many delimiters as the others, and a column is missing
        ('0.002,1,1,"a', "a quote that does not close"),
        ('0.002,1,1,"a"b"', "a quote that does not close"),
        ("0.002,on,1,a", "characters that no number has"),
        ('0.002,"1, 5",1,a', "a cell that is no number"),
        ("0.002,1,1,a\0", "characters that no text has"),
        ("0.002,1,1,a0.0025,2,2,b", "not as many columns"),  # a line end was lost
        ("0.0\x07,1,1,a", "characters that no number has"),
    ],
    ids=ascii,
)
@pytest.mark.parametrize("others", ["ok", '"o, k"'])
def test_rows_that_cannot_be_told_are_rejected_beside_text(
    tmp_path: Path, row: str, reason: str, others: str
) -> None:
    text = f"t,A,B,note\n0.001,1,1,{others}\n{row}\n0.003,3,0,{others}\n0.004,1,1,{others}\n"
    reading = table(tmp_path, text)
    (piece,) = reading.rejected
    assert (piece.place, piece.count, piece.row) == (3, 1, 1)
    assert reason in piece.why
    assert values(reading) == {"STO_A": [1, 3, 1], "STO_B": [1, 0, 1]}


CELLS = st.text(alphabet='ab,;" 0.5\t', max_size=6)


@given(
    rows=st.lists(st.tuples(CELLS, st.integers(0, 9), CELLS), min_size=1, max_size=8),
    delimiter=st.sampled_from([",", ";", "\t"]),
)
def test_what_the_csv_module_writes_is_read(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, int, str]], delimiter: str
) -> None:
    path = tmp_path_factory.getbasetemp() / "written.csv"
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream, delimiter=delimiter, lineterminator="\n")
        writer.writerow(["first, one", "A", "last; one"])
        writer.writerows(rows)
    plan = CsvColumns({"A": "A", "N": 2}, period_s=Fraction(1), delimiter=delimiter)
    reading = read(LogFile(path, columns=plan))
    numbers = [number for _, number, _ in rows]
    assert values(reading) == {"A": numbers, "N": numbers}
    assert reading.rejected == ()


@pytest.mark.parametrize("mark", ["-", "[-]", "1", ""])
def test_a_signal_without_a_unit_may_be_marked_so(tmp_path: Path, mark: str) -> None:
    """Common practice, no source: a line of units says '-' or '1' of a number or a state."""
    plan = CsvColumns({"a": "A", "b": "B"}, time="t", units={"a": "V", "b": ""}, unit_row=2, first_row=3)
    reading = table(tmp_path, f"t,A,B\ns,V,{mark}\n0,1,2\n", plan)
    assert reading.sampled[0].values["b"].tolist() == [2.0]
    with pytest.raises(LogError, match=f"'{mark.strip('[]')}' by this line and in 'V'"):
        table(tmp_path, f"t,A,B\ns,{mark},{mark}\n0,1,2\n", plan)


def test_a_lone_carriage_return_in_a_heading_is_no_accident_of_the_library(tmp_path: Path) -> None:
    """Found by spoiled files: the csv module refuses such a line, quoted or not; the table is told as any other."""
    with pytest.raises(csv.Error):
        next(csv.reader(['t,"u"\rv']))
    assert headings('t,"u"\rv', ",") == ["t", 'u"\rv']
    with pytest.raises(LogError, match="not exactly one column is headed 'A'"):
        table(tmp_path, 't,"u"\rv\n0,1\n1,2\n2,3\n')
