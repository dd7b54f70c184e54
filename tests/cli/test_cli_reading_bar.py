"""The bar of reading: on a terminal only, gone afterwards, and never between a program and its JSON."""

import gzip
import io
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from interlock.cli.reading_bar import LONG, reading_bar
from interlock.trace import CsvColumns, LogFile, readers
from interlock.trace.progress import watching
from interlock.trace.readers import read_log

LOG = Path(__file__).parents[1] / "data" / "short.log"


class Terminal(io.StringIO):
    """A stream that says of itself that it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def long_log(tmp_path: Path) -> Path:
    path = tmp_path / "long.log"
    line = b"(1790000000.%06d) can0 7FF#00\n"
    content = b"".join(line % n for n in range(9000))
    path.write_bytes(content * (LONG // len(content) + 1))
    return path


def test_a_long_file_shows_its_rate_and_what_is_left_on_a_terminal(long_log: Path) -> None:
    terminal = Terminal()
    with reading_bar(as_json=False, stream=terminal):
        read_log(long_log)
    shown = terminal.getvalue()
    assert "long.log" in shown
    assert "/s" in shown
    assert "left" in shown
    assert "is read; working on it" in shown


@pytest.mark.parametrize("stream", [io.StringIO(), Terminal()])
def test_no_bar_without_a_terminal_or_between_a_program_and_its_json(
    long_log: Path, stream: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    with reading_bar(as_json=True, stream=stream):
        read_log(long_log)
    assert stream.getvalue() == ""


def test_a_short_file_shows_nothing() -> None:
    terminal = Terminal()
    with reading_bar(as_json=False, stream=terminal):
        read_log(LOG)
    assert terminal.getvalue() == ""


FILES = [
    "short.log",
    "short.asc",
    "short.trc",
    "short.csv",
    "short.blf",
    "motion_steps.sr",
    "bench.vcd",
    "a.csv",
]


def held(folder: Path, name: str) -> LogFile:
    """A log of that name: one of the data, a dump or a table made here."""
    path = folder / name
    if name == "bench.vcd":
        head = "$timescale 1 us $end\n$var wire 1 ! EN $end\n$enddefinitions $end\n"
        path.write_text(head + "".join(f"#{n}\n{n % 2}!\n" for n in range(3000)))
    elif name == "a.csv":
        path.write_text("t,A\n" + "".join(f"{n},{n % 3}\n" for n in range(4000)))
        return LogFile(path, columns=CsvColumns({"A": "A"}, time="t", time_unit="ms"))
    else:
        path.write_bytes(LOG.with_name(name).read_bytes())
    return LogFile(path)


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("name", FILES)
def test_what_is_told_rises_to_the_size_of_the_file(
    name: str, packed: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (readers, sys.modules["interlock.trace.parts"]):
        monkeypatch.setattr(module, "PART", 5000)
    monkeypatch.setattr(readers, "PAGE", 2000)
    monkeypatch.setattr("interlock.trace.packed._CHUNK", 1000)
    file, told = held(tmp_path, name), list[tuple[int, int]]()
    if packed:
        path = tmp_path / f"{name}.gz"
        path.write_bytes(gzip.compress(file.path.read_bytes()))
        file = replace(file, path=path)
    with watching(lambda _, done, total: told.append((done, total))):
        read_log(file)
    size = file.path.stat().st_size
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert told[-1] == (size, size)
    assert {total for _, total in told} == {size}
    assert len({done for done, _ in told}) >= 2  # it is told on the way, too


def test_a_watcher_is_told_nothing_once_it_left() -> None:
    told: list[int] = []
    with watching(lambda _, done, __: told.append(done)):
        pass
    read_log(LOG)
    assert told == []
