"""Which reader reads a file: content before suffix, and an error that says what was tried."""

import shutil
from pathlib import Path

import pytest
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace.readers import FORMATS, choose, read_log

FILES = {
    "short.log": "candump",
    "short.asc": "asc",
    "short.csv": "csv",
    "short.blf": "blf",
    "short.trc": "trc",
}


@pytest.mark.parametrize(("file", "name"), FILES.items())
@pytest.mark.parametrize("suffix", [".log", ".asc", ".csv", ".blf", ".txt", ""])
def test_content_decides_whatever_the_suffix(tmp_path: Path, file: str, name: str, suffix: str) -> None:
    path = tmp_path / f"x{suffix}"
    shutil.copy(DATA / file, path)
    assert read_log(path)[1].format == name


@pytest.mark.parametrize(("file", "name"), [(f, n) for f, n in FILES.items() if n != "blf"])
def test_damaged_first_lines_do_not_hide_the_format(file: str, name: str) -> None:
    content = b"\x00\xff junk\n" * 3 + (DATA / file).read_bytes()[100:]
    assert choose(Path("x"), content) == name


@pytest.mark.parametrize(
    ("suffix", "name"),
    [
        (".log", "candump"),
        (".ASC", "asc"),
        (".csv", "csv"),
        (".blf", "blf"),
        (".trc", "trc"),
        (".log.gz", "candump"),
    ],
)
def test_suffix_decides_where_the_content_is_silent(suffix: str, name: str) -> None:
    assert choose(Path("x" + suffix), b"nothing that anybody knows\n") == name


def test_unknown_content_and_suffix_is_an_error_that_says_what_was_tried() -> None:
    with pytest.raises(
        LogError, match=r"x\.dat: nobody here reads.*candump, asc, csv, blf, trc, table, vcd, sr, mf4"
    ):
        choose(Path("x.dat"), b"\x7fELF and so on")


def test_empty_file_is_an_error() -> None:
    with pytest.raises(LogError, match="empty"):
        choose(Path("x.log"), b"")


def test_missing_file_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="cannot be opened"):
        read_log(tmp_path / "none.log")


def test_directory_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="this is a folder; give the log files in it"):
        read_log(tmp_path)


@pytest.mark.parametrize("file", FILES)
def test_source_names_the_file_and_its_hash(file: str) -> None:
    import hashlib

    source = read_log(DATA / file)[1]
    assert source.sha256 == hashlib.sha256((DATA / file).read_bytes()).hexdigest()
    assert source.path.endswith(file)
    assert source.lines_or_objects == source.frames + source.non_frames + source.rejected


def test_every_format_has_a_reader_and_a_suffix() -> None:
    assert set(FORMATS) == set(FILES.values())
