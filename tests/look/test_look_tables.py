"""A table that nobody described: what its first lines suggest is what the csv module reads, and a bench can state it.

Real export: `scope_times.csv` and `scope_even.csv` (RigolWFM, BSD-3-Clause), see tests/data/README.md.
"""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import yaml

from interlock.bench.source_models import Table
from interlock.errors import LogError
from interlock.look import look
from interlock.look.tables import suggested

DATA = Path(__file__).parents[1] / "data"


def test_a_scope_s_export_is_read_as_numpy_reads_it() -> None:
    seen = look([DATA / "scope_times.csv"])
    rows = np.loadtxt(DATA / "scope_times.csv", delimiter=",", skiprows=2, usecols=(0, 1, 2))
    got = {one.name: one for one in seen.signals}
    assert set(got) == {"CH2", "CH4"}
    assert (got["CH2"].least, got["CH2"].most, got["CH2"].unit) == (
        rows[:, 1].min(),
        rows[:, 1].max(),
        "Volt",
    )
    assert (got["CH4"].least, got["CH4"].most, got["CH4"].count) == (
        rows[:, 2].min(),
        rows[:, 2].max(),
        len(rows),
    )
    assert seen.duration_ns == round((rows[-1, 0] - rows[0, 0]) * 1e9)
    assert any("a bench file would say 'table: {time: 1, units: 2}'" in note for note in seen.notes)


def test_a_table_whose_rows_bear_no_time_is_refused_with_what_to_do() -> None:
    with pytest.raises(LogError, match=r"scope_even\.csv: it holds no frames; .*--bench"):
        look([DATA / "scope_even.csv"])


@pytest.mark.parametrize(
    ("text", "words", "names", "step_ns"),
    [
        ("Time,A,B\n0.0,1,2\n0.1,1,2\n0.2,1,3\n", "time: 'Time'", ["A", "B"], 10**8),
        ("Zeit [ms];Moment [Nm]\n0,0;1,5\n0,5;1,6\n1,0;1,7\n", None, ["Moment"], 500_000),
        ("# made by hand\n\nt\tSTO A\n0\t1\n1\t0\n2\t0\n", None, ["STO_A"], 10**9),
        (
            "0;1,5\n1;1,6\n2;1,7\n",
            "time: 1, separator: semicolon, decimal: comma, headings: 0",
            ["column_2"],
            10**9,
        ),
        ("Time,A\nus,V\n0,1\n10,2\n20,3\n", "time: 'Time', time_unit: us, units: 2", ["A"], 10_000),
        ("no,Time [s],A,A\n1,0.0,1,5\n2,0.1,1,6\n3,0.2,1,7\n", None, ["no", "A", "A_4"], 10**8),
    ],
)
def test_layouts_of_many_kinds(
    text: str, words: str | None, names: list[str], step_ns: int, tmp_path: Path
) -> None:
    found = suggested(text.encode("latin-1"))
    assert found is not None
    assert words is None or found.words == words
    assert list(found.columns.signals) == names
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="latin-1")
    seen = look([path])
    assert [one.name for one in seen.signals] == names
    assert seen.messages[0].periods is not None
    assert seen.messages[0].periods.median_ns == step_ns


def test_the_words_are_what_a_bench_file_takes() -> None:
    for text in (
        "Zeit [ms];A\n0,0;1,5\n0,5;1,6\n1,0;1,7\n",
        "\n\nt\tA\n0\t1\n1\t0\n2\t0\n",
        "0;1,5\n1;1,6\n2;1,7\n",
    ):
        found = suggested(text.encode())
        assert found is not None
        stated = Table.model_validate(yaml.safe_load(f"{{{found.words}}}"))
        assert stated.first_line == found.columns.first_row
        assert {"semicolon": ";", "tab": "\t", "comma": ","}[stated.separator] == found.columns.delimiter
        assert stated.time_unit == found.columns.time_unit
        assert (stated.decimal == "comma") == (found.columns.decimal == ",")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Time,A\n",
        "Time,A\n0,1\n1,2\n",  # too few rows
        "Time,A\n0,1\n1,x\n2,3\n",  # not all of them numbers
        "Time,A\n2,1\n1,2\n0,3\n",  # no column that grows
        "A,B\n0,1\n1,2\n2,3\n",  # none that is a time
        "Time [h],A\n0,1\n1,2\n2,3\n",  # in a unit that is not known here
        "hello\nworld\n",
    ],
)
def test_what_shows_no_times_is_not_guessed_at(text: str) -> None:
    assert suggested(text.encode()) is None


def test_frames_and_a_table_are_looked_at_together() -> None:
    seen = look([DATA / "short.log", DATA / "scope_times.csv"], DATA / "bench.dbc")
    assert [file.format for file in seen.files] == ["candump", "table"]
    assert {"SAFE_State", "scope_times"} <= {one.name for one in seen.messages}
    assert any("scope_times.csv count from its own start" in note for note in seen.notes)
    assert Fraction(seen.duration_ns, 10**9) > 0
