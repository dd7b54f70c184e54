"""Damaged files: never a traceback but a LogError, never a hang, never a pass that the whole log would not get."""

import functools
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from replay_formats import flipped, relative, swapped, with_commas, with_crlf, with_tabs, written
from replay_tape import COVER, COVER_3, Tape, found, judged, lines, sound

from interlock.errors import LogError
from interlock.replay import Judgement
from interlock.verdict import Verdict

FORMATS = (".log", ".asc", ".blf")
EVERY = pytest.mark.parametrize("suffix", FORMATS)


def kept(tape: Tape) -> Tape:
    """References that survive the first stop: this log must never pass."""
    return tape.hold("SpeedRef", COVER.on - 0.1, COVER.start + 0.1)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, str], bytes]:
    """Content by format, and what is in it: `sound` (the whole run), `piece` (sound, 12 s), `kept` (a fail, 12 s)."""
    made = {"sound": sound(), "piece": sound().drop(None, 12), "kept": kept(sound().drop(None, 12))}
    folder = tmp_path_factory.mktemp("formats")
    return functools.cache(lambda suffix, what: written(made[what], suffix, folder))


def tried(content: bytes, folder: Path, suffix: str) -> Judgement | None:
    """None: the file was refused in words."""
    began = time.process_time()
    try:
        return judged(content, folder, f"a{suffix}")
    except LogError as error:
        assert "a" + suffix in str(error)
        assert len(str(error)) < 600
        return None
    finally:
        assert time.process_time() - began < 20


def better(damaged: Judgement, whole: Judgement) -> list[str]:
    """Findings of demands that pass in the damaged log and fail in the whole one."""
    failed = {
        (one.function, one.subject, one.effect) for one in whole.findings if one.verdict is Verdict.FAIL
    }
    return [
        one.sentence
        for one in damaged.findings
        if one.verdict is Verdict.PASS and (one.function, one.subject, one.effect) in failed
    ]


@EVERY
def test_the_three_formats_are_judged_alike(
    suffix: str, file: Callable[[str, str], bytes], tmp_path: Path
) -> None:
    said, plain = judged(file(suffix, "sound"), tmp_path, f"a{suffix}"), judged(sound(), tmp_path)
    assert said.verdict is Verdict.PASS
    assert len(said.findings) == len(plain.findings)
    for one, other in zip(said.findings, plain.findings, strict=True):
        assert (one.function, one.subject, one.effect, one.verdict) == (
            other.function,
            other.subject,
            other.effect,
            other.verdict,
        )
        if one.latency is not None and one.latency.hi is not None and other.latency is not None:
            assert abs(one.latency.lo - other.latency.lo) < 100_000  # the width of a stamp
            assert abs(one.latency.hi - (other.latency.hi or 0)) < 100_000


@EVERY
@pytest.mark.parametrize("what", ["piece", "kept"])
def test_a_file_cut_anywhere(
    suffix: str, what: str, file: Callable[[str, str], bytes], tmp_path: Path
) -> None:
    content = file(suffix, what)
    whole = judged(content, tmp_path, f"a{suffix}")
    for size in range(0, len(content), len(content) // 25 + 17):
        said = tried(content[:size], tmp_path, suffix)
        if said is not None:
            assert said.verdict is not Verdict.PASS
            assert better(said, whole) == []


@EVERY
def test_a_file_that_lost_its_beginning(
    suffix: str, file: Callable[[str, str], bytes], tmp_path: Path
) -> None:
    content = file(suffix, "kept")
    whole = judged(content, tmp_path, f"a{suffix}")
    for start in range(13, len(content), len(content) // 8):
        said = tried(content[start:], tmp_path, suffix)
        assert said is None or better(said, whole) == []


@EVERY
def test_a_file_that_lost_a_piece_in_the_middle(
    suffix: str, file: Callable[[str, str], bytes], tmp_path: Path
) -> None:
    content = file(suffix, "kept")
    whole = judged(content, tmp_path, f"a{suffix}")
    for lo in range(101, len(content) - 9000, len(content) // 8):
        said = tried(content[:lo] + content[lo + 8011 :], tmp_path, suffix)
        assert said is None or better(said, whole) == []


@EVERY
@pytest.mark.parametrize("count", [1, 20])
def test_bits_turned_over(suffix: str, count: int, file: Callable[[str, str], bytes], tmp_path: Path) -> None:
    content = file(suffix, "kept")
    for seed in range(10):
        said = tried(flipped(content, np.random.default_rng(seed), count), tmp_path, suffix)
        assert said is None or said.verdict is not Verdict.PASS


@pytest.mark.parametrize("suffix", [".log", ".asc"])
def test_lines_swapped(suffix: str, file: Callable[[str, str], bytes], tmp_path: Path) -> None:
    for seed in range(8):
        said = tried(swapped(file(suffix, "sound"), np.random.default_rng(seed)), tmp_path, suffix)
        assert said is not None
        assert said.verdict is Verdict.INCONCLUSIVE
        (one,) = [one for one in found(said, "data_complete") if one.subject == "all"]
        assert "stamped before the frame above" in one.sentence


@pytest.mark.parametrize("suffix", [".log", ".asc"])
def test_windows_line_ends_change_nothing(
    suffix: str, file: Callable[[str, str], bytes], tmp_path: Path
) -> None:
    unix, windows = (
        judged(one, tmp_path, f"a{suffix}")
        for one in (file(suffix, "sound"), with_crlf(file(suffix, "sound")))
    )
    assert windows.verdict is Verdict.PASS
    assert windows.findings == unix.findings


@pytest.mark.parametrize("suffix", [".log", ".asc"])
@pytest.mark.parametrize("spoil", [with_tabs, with_commas], ids=["tabs", "commas"])
@pytest.mark.parametrize("what", ["sound", "kept"])
def test_tabs_and_decimal_commas_are_read_rightly_or_refused(
    suffix: str, spoil: Callable[[bytes], bytes], what: str, file: Callable[[str, str], bytes], tmp_path: Path
) -> None:
    plain = judged(file(suffix, what), tmp_path, f"a{suffix}")
    said = tried(spoil(file(suffix, what)), tmp_path, suffix)
    if said is not None and said.findings != plain.findings:
        assert said.verdict is not Verdict.PASS
        assert better(said, plain) == []


def test_stamps_counted_from_the_frame_above_never_pass(
    file: Callable[[str, str], bytes], tmp_path: Path
) -> None:
    said = tried(relative(file(".log", "sound")), tmp_path, ".log")
    assert said is None or said.verdict in {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}


def test_stamps_counted_from_the_start_pass_without_a_date(tmp_path: Path) -> None:
    said = judged(sound().text(epoch=0), tmp_path)
    assert said.verdict is Verdict.PASS


@pytest.mark.parametrize(
    "content", [b"", b"\n", b"\0" * 4000, b"LOGG", b"LOGG" + b"\0" * 400, b"hello\nworld\n", b"\xff" * 999]
)
@EVERY
def test_what_is_no_log_is_refused_in_words(suffix: str, content: bytes, tmp_path: Path) -> None:
    said = tried(content, tmp_path, suffix)
    assert said is None or said.verdict is not Verdict.PASS


@pytest.mark.parametrize("after", [0.02, 0.4, 1.5, 2.9, 3.02, 3.5, 4.2])
def test_a_whole_run_cut_in_its_last_stop_never_passes(
    after: float, file: Callable[[str, str], bytes], tmp_path: Path
) -> None:
    """By bytes, not by frames: the last line is torn."""
    content = file(".log", "sound")
    stamp = f"({1_790_000_000 + int(COVER_3.on + after)}".encode()
    said = judged(content[: content.index(stamp) + 31], tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE


def test_a_violation_at_the_very_end_is_not_lost_by_a_torn_last_line(tmp_path: Path) -> None:
    content = written(lines(sound(), 1, COVER_3.gone, COVER_3.release), ".log", tmp_path)
    assert judged(content[:-9], tmp_path).verdict is Verdict.FAIL
