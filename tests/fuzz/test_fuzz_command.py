"""The command that tries spoiled files finds what a reader does wrong, keeps the file, and ends at the stated time."""

import io
import random
import time
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from fuzz import __main__ as command
from fuzz import fuzz_cases
from fuzz.fuzz_cases import SEEDS, held, spoiled, spoiled_within

from interlock.errors import LogError
from interlock.trace import LogFile, QualityKind
from interlock.trace.readers import read_log

SHORT = 0.002
Run = Callable[..., tuple[int, str, list[Path]]]


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """The command: its exit code, what it said, and the files that it kept."""

    def ran(*words: str, minutes: float = SHORT) -> tuple[int, str, list[Path]]:
        keep = tmp_path / "keep"
        code = command.main([*words, "--minutes", str(minutes), "--seed", "5", "--keep", str(keep)])
        return code, capsys.readouterr().out, sorted(keep.glob("*"))

    return ran


def ends(result: Exception | Callable[[], object]) -> Callable[[LogFile], bool]:
    """A reader that ends in this way for every file."""

    def reader(_: LogFile) -> bool:
        if isinstance(result, Exception):
            raise result
        result()
        return True

    return reader


def test_sound_readers_give_no_finding(run: Run) -> None:
    code, said, kept = run("candump", "table", "blf")
    assert (code, kept) == (0, [])
    lines = said.splitlines()
    assert [one.split(":")[0] for one in lines] == ["candump", "table", "blf"]
    for one in lines:
        words = one.replace(":", "").split()
        files, read, refused = (int(words[words.index(word) - 1]) for word in ("files,", "read,", "refused,"))
        assert files == read + refused > 0
        assert "0 findings" in one
        assert "--seed 5" in one


@pytest.mark.parametrize(
    "wrong",
    [
        ValueError("a bare one"),
        IndexError("out"),
        MemoryError(),
        AssertionError("counts differ"),
        OSError(5, "x"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_whatever_a_reader_lets_through_is_found_and_its_file_kept(
    wrong: Exception, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fuzz_cases, "held", ends(wrong))
    code, said, kept = run("trc")
    assert code == 1
    assert f"{command.MOST_FINDINGS} findings" in said  # then it stops
    assert type(wrong).__name__ in said
    assert len(kept) == command.MOST_FINDINGS
    assert all(str(path) in said for path in kept)


def test_a_reader_that_does_not_end_is_found(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def endless() -> None:
        while True:
            with suppress(Exception):  # a reader that swallows everything
                time.process_time()

    monkeypatch.setattr(command, "MOST_S", 0.02)
    monkeypatch.setattr(fuzz_cases, "held", ends(endless))
    code, said, kept = run("vcd")
    assert code == 1
    assert "longer than 0.02 s" in said
    assert kept


def test_memory_that_goes_on_growing_is_found(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    kept_for_ever: list[bytes] = []
    monkeypatch.setattr(command, "MOST_MIB", 4.0)
    monkeypatch.setattr(fuzz_cases, "held", ends(lambda: kept_for_ever.append(b"x" * (1 << 16))))
    code, said, _ = run("csv", minutes=3 * SHORT)
    assert code == 1
    assert "memory grew by" in said


def test_what_is_kept_at_first_only_is_no_growth(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    cache: list[bytes] = []
    monkeypatch.setattr(command, "MOST_MIB", 4.0)
    monkeypatch.setattr(fuzz_cases, "held", ends(lambda: None if cache else cache.append(b"x" * (32 << 20))))
    assert run("csv")[0] == 0


def test_the_law_itself_tells_read_from_refused(tmp_path: Path) -> None:
    sound, junk = tmp_path / "a.log", tmp_path / "b.xyz"
    sound.write_bytes(SEEDS["short.log"])
    junk.write_bytes(b"\0\1\2")
    assert held(LogFile(sound))
    assert not held(LogFile(junk))


def test_an_error_that_does_not_name_its_file_is_a_finding(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: LogFile) -> None:
        raise LogError("something is wrong somewhere")

    monkeypatch.setattr(fuzz_cases, "read_log", refuse)
    with pytest.raises(AssertionError):
        held(LogFile(tmp_path / "a.log"))


def test_accidents_are_the_same_for_the_same_seed_and_of_every_kind() -> None:
    content, other = bytes(range(256)) * 4, b"other" * 50
    first = [spoiled(content, other, random.Random(seed)) for seed in range(300)]
    assert first == [spoiled(content, other, random.Random(seed)) for seed in range(300)]
    assert len(set(first)) > 290
    sizes = {(len(one) > len(content)) - (len(one) < len(content)) for one in first}
    assert sizes == {-1, 0, 1}
    assert any(b"otherother" in one for one in first)
    assert spoiled(b"", b"", random.Random(1)) is not None


def test_an_unknown_reader_is_refused(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        run("nothing")
    assert end.value.code == 2
    assert "no such reader: nothing; choose from candump, " in capsys.readouterr().err


def test_seeds_are_sound(tmp_path: Path) -> None:
    """An accident to a file that is refused anyway would try nothing."""
    for name in ("fd.log", "plain.blf", "short.blf", "steps.sr", "lines.vcd"):
        path = tmp_path / name
        path.write_bytes(SEEDS[name])
        assert held(LogFile(path))
    assert not read_log(tmp_path / "plain.blf")[0].rejected
    assert {one.kind for one in read_log(tmp_path / "fd.log")[0].oddities} == {QualityKind.ERROR_FRAME}


def test_an_accident_within_an_archive_leaves_its_sums_right(tmp_path: Path) -> None:
    changed = [spoiled_within(SEEDS["steps.sr"], random.Random(seed)) for seed in range(12)]
    path = tmp_path / "steps.sr"
    read = 0
    for one in changed:
        with zipfile.ZipFile(io.BytesIO(one)) as archive:
            assert archive.testzip() is None
        path.write_bytes(one)
        read += held(LogFile(path))
    assert read > 2  # many meet the samples, not the description
