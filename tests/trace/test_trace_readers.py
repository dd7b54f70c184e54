"""Which reader reads a file: content before suffix, and an error that says what was tried."""

import shutil
from pathlib import Path

import pytest
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace import lines, parts, pile, readers
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


@pytest.mark.parametrize(("buses", "part"), [(500, 1 << 24), (501, 1 << 24), (500, 3000), (501, 3000)])
def test_a_log_of_more_buses_than_can_be_numbered_is_refused(
    tmp_path: Path, buses: int, part: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In one part of the file, or in all of them together."""
    for module in (parts, readers):
        monkeypatch.setattr(module, "PART", part)
    for module in (lines, pile):
        monkeypatch.setattr(module, "MOST_BUSES", 500)
    path = tmp_path / "many.log"
    path.write_bytes(b"".join(b"(1790000000.1) %x 123#00\n" % number for number in range(buses)))
    if buses == 500:
        assert len(read_log(path)[0].channels) == 500
        return
    with pytest.raises(LogError, match=r"many\.log: it names more than 65535 buses; give"):
        read_log(path)
