"""Bytes become text, or one error at the byte that is to blame; nothing that is no file raises anything else."""

import os
from pathlib import Path

import pytest
from bench_sample import FILE, FOLDER, TEXT, WHOLE, load
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench import load_bench, parse_bench
from interlock.bench.text_file import MOST_BYTES, decode, read_text
from interlock.errors import BenchError


def refused(path: Path) -> str:
    with pytest.raises(BenchError) as caught:
        load_bench(path)
    assert len(caught.value.problems) == 1
    return str(caught.value)


def written(folder: Path, data: bytes) -> Path:
    path = folder / "bench.yaml"
    path.write_bytes(data)
    (folder / "bench.dbc").write_bytes((FOLDER / "bench.dbc").read_bytes())
    return path


def test_the_sample_is_read_as_it_stands() -> None:
    assert read_text(FILE) == WHOLE


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path: Path) -> None:
    assert load_bench(written(tmp_path, b"\xef\xbb\xbf" + TEXT.encode())) == load(TEXT)


def test_a_byte_order_mark_moves_no_column(tmp_path: Path) -> None:
    text = TEXT[TEXT.index("bench:\n") :].replace("bench:", "bensch:", 1)
    said = refused(written(tmp_path, b"\xef\xbb\xbf" + text.encode()))
    assert said == (
        f"{tmp_path}/bench.yaml:1:1: unknown key 'bensch': a bench file has no such entry; did you mean bench?"
    )


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_line_ends_of_other_systems_change_nothing(tmp_path: Path, end: str) -> None:
    path = written(tmp_path, TEXT.replace("\n", end).encode())
    assert load_bench(path) == load(TEXT)


def test_line_ends_of_other_systems_move_no_place(tmp_path: Path) -> None:
    text = TEXT.replace("within: 100 ms", "within: 100", 1)
    one, other = written(tmp_path, text.encode()), tmp_path / "other"
    other.mkdir()
    assert refused(one) == refused(written(other, text.replace("\n", "\r\n").encode())).replace("other/", "")


def test_latin_1_is_said_at_its_byte(tmp_path: Path) -> None:
    data = TEXT.replace("not stated", "Prüfhalle", 1).encode("latin-1")
    assert refused(written(tmp_path, data)) == (
        f"{tmp_path}/bench.yaml:5:12: encoding: byte 0xFC is not UTF-8 (in Latin-1 it is 'ü'); save the file as UTF-8"
    )


def test_utf_16_is_said_at_its_first_byte(tmp_path: Path) -> None:
    said = refused(written(tmp_path, TEXT.encode("utf-16")))
    assert said.startswith(f"{tmp_path}/bench.yaml:1:1: encoding: byte 0xFF is not UTF-8")


def test_text_of_any_script_is_kept(tmp_path: Path) -> None:
    place = "Prüfhalle 3, Ост, 試験棟"
    bench = load_bench(written(tmp_path, TEXT.replace("not stated", place, 1).encode()))
    assert bench.bench.place == place


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    path = tmp_path / "none.yaml"
    why = "it cannot be read (No such file or directory)"
    assert refused(path) == f"{path}:1:1: file: {why}; give the path of a bench description"


def test_a_directory_is_no_file(tmp_path: Path) -> None:
    assert "it cannot be read (Is a directory)" in refused(tmp_path)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_an_unreadable_file_is_said(tmp_path: Path) -> None:
    path = written(tmp_path, TEXT.encode())
    path.chmod(0)
    assert "it cannot be read (Permission denied)" in refused(path)


def test_a_path_with_a_zero_byte_is_said() -> None:
    assert "it cannot be read (embedded null byte)" in refused(Path("a\0b"))


def test_a_log_given_as_a_bench_is_refused_unread(tmp_path: Path) -> None:
    said = refused(written(tmp_path, b"# " + b"x" * MOST_BYTES))
    assert said.endswith(":1:1: file: it is longer than 500,000 bytes; give a bench description, not a log")


def test_the_longest_file_is_read(tmp_path: Path) -> None:
    path = written(tmp_path, TEXT.encode() + b"#" * (MOST_BYTES - len(TEXT.encode()) - 1) + b"\n")
    assert path.stat().st_size == MOST_BYTES
    assert load_bench(path) == load(TEXT)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no endless file on this system")
def test_an_endless_file_ends() -> None:
    assert "longer than" in refused(Path("/dev/zero"))


@given(st.binary(max_size=200))
def test_any_bytes_are_text_or_one_error_inside_them(data: bytes) -> None:
    try:
        text = decode("f", data)
    except BenchError as error:
        (problem,) = error.problems
        lines = data.split(b"\n")
        assert 1 <= problem.line <= len(lines) + data.count(b"\r")
        assert problem.column >= 1
    else:
        assert text.encode() == data.removeprefix(b"\xef\xbb\xbf")


@given(st.binary(max_size=300))
def test_any_bytes_load_or_are_refused(data: bytes) -> None:
    with pytest.raises(BenchError):
        parse_bench("f", decode("f", data))
