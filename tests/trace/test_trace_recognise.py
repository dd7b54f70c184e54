"""What a file is by its first bytes, whatever its name."""

import gzip
import shutil
from pathlib import Path

import pytest
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace.recognise import recognise

KNOWN = {
    "short.log": "candump",
    "short.asc": "asc",
    "short.blf": "blf",
    "short.csv": "csv",
    "short.trc": "trc",
    "motion_steps.sr": "sr",
    "two_buses.mf4": "mf4",
    "scope_even.csv": None,
    "scope_times.csv": None,
}


@pytest.mark.parametrize("name", KNOWN)
@pytest.mark.parametrize("packed", [False, True])
def test_the_content_decides_and_not_the_name(name: str, packed: bool, tmp_path: Path) -> None:
    path = tmp_path / "data.bin"
    if packed:
        path.write_bytes(gzip.compress((DATA / name).read_bytes()))
    else:
        shutil.copy(DATA / name, path)
    found = recognise(path)
    assert found.format == KNOWN[name]
    assert found.frames == (KNOWN[name] in {"candump", "asc", "blf", "csv", "trc"})


def test_cells_of_the_lines_of_a_table() -> None:
    found = recognise(DATA / "scope_times.csv")
    assert found.cells(1, ",") == ["", "CH2", "CH4"]
    assert found.cells(2, ",") == ["Second", "Volt", "Volt"]
    assert found.cells(0, ",") == found.cells(10**6, ",") == []


def test_marks_and_quotes_are_no_part_of_a_heading(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes(b'\xef\xbb\xbf"Time";"CH 1" \r\n1;2\r\n')
    assert recognise(path).cells(1, ";") == ["Time", "CH 1"]


def test_an_empty_file_is_nothing_that_is_known(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    path.write_bytes(b"")
    assert (recognise(path).format, recognise(path).head) == (None, b"")


def test_what_cannot_be_opened_is_named(tmp_path: Path) -> None:
    with pytest.raises(LogError, match=r"absent\.log: cannot be opened"):
        recognise(tmp_path / "absent.log")
    path = tmp_path / "broken.gz"
    path.write_bytes(b"\x1f\x8b\x08" + b"\xff" * 100)
    with pytest.raises(LogError, match=r"broken\.gz: the packed file is damaged"):
        recognise(path)
