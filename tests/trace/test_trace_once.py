"""A log in which every frame stands twice is the log in which each stands once; any other repetition stays a doubt."""

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from trace_kit import DATA, DBC, EXPECTED, kinds

from interlock.trace import QualityKind, Trace, load

Lines = list[bytes]
LINES = (DATA / "short.log").read_bytes().splitlines(keepends=True)


def doubled(lines: Lines) -> Lines:
    return [line for line in lines for _ in range(2)]


def loaded(tmp_path: Path, *files: Lines) -> Trace:
    paths = [tmp_path / f"{number}.log" for number in range(len(files))]
    for path, lines in zip(paths, files, strict=True):
        path.write_bytes(b"".join(lines))
    return load(paths, DBC, messages=EXPECTED)


def taken(trace: Trace) -> list[str]:
    """Of the note how many frames were left out."""
    return [found[1] for one in trace.notes if (found := re.search(r"taken once, (\d+) were left out", one))]


def same(trace: Trace, whole: Trace) -> bool:
    return trace.messages.keys() == whole.messages.keys() and all(
        np.array_equal(one.times_ns, whole.signals[name].times_ns)
        and np.array_equal(one.values, whole.signals[name].values)
        for name, one in trace.signals.items()
    )


@pytest.mark.parametrize(
    ("files", "left_out"),
    [
        ([doubled(LINES)], len(LINES)),
        ([doubled(LINES)[1:-1]], len(LINES) - 2),
        ([doubled(LINES[:800]), doubled(LINES[800:])], len(LINES)),
    ],
    ids=["whole", "begins and ends within a pair", "two files"],
)
def test_every_frame_twice_is_every_frame_once(tmp_path: Path, files: list[Lines], left_out: int) -> None:
    trace, whole = loaded(tmp_path, *files), load([DATA / "short.log"], DBC, messages=EXPECTED)
    assert trace.quality == ()
    assert same(trace, whole)
    assert taken(trace) == [str(left_out)]
    assert sum(one.frames for one in trace.sources) == sum(map(len, files))  # the ledger counts all


def test_a_log_without_any_repetition_is_left_alone(tmp_path: Path) -> None:
    assert taken(loaded(tmp_path, LINES)) == []


def in_second(change: Callable[[bytes], bytes], *, only: int | None = None) -> Lines:
    """The second of each pair (or of one) is changed."""
    return [
        change(line) if at % 2 and only in (None, at // 2) else line for at, line in enumerate(doubled(LINES))
    ]


def later(line: bytes) -> bytes:
    stamp, rest = line.split(b")", 1)
    return b"%s%06d)%s" % (stamp[:-6], int(stamp[-6:]) + 1, rest)


def coarse(line: bytes) -> bytes:
    stamp, rest = line.split(b")", 1)
    return stamp[:-4] + b"0000)" + rest


SPOILT = {
    "half of the log": [*LINES[:700], *doubled(LINES[700:])],
    "all but a few": [*doubled(LINES[:700]), *LINES[700:705], *doubled(LINES[705:])],
    "another payload in one": in_second(lambda line: line.replace(b"#", b"#FF", 1)[:-5] + b" R\n", only=700),
    "stamped later": in_second(later),
    "stamps of 10 ms": [coarse(line) for line in doubled(LINES)],
    "on another bus": in_second(lambda line: line.replace(b"can0", b"can1")),
    "one block after the other": [*LINES, *LINES],
}


@pytest.mark.parametrize("lines", SPOILT.values(), ids=SPOILT)
def test_any_other_repetition_is_no_evidence(tmp_path: Path, lines: Lines) -> None:
    """Should fail: of none of these is it known that both are one frame."""
    trace = loaded(tmp_path, lines)
    assert taken(trace) == []
    assert any(one.blinds for one in trace.quality)


def test_frames_that_only_some_messages_repeat_stop_their_counters(tmp_path: Path) -> None:
    trace = loaded(tmp_path, [line for line in LINES for _ in range(1 + (b" 120#" in line))])
    assert taken(trace) == []
    assert kinds(trace.quality)[QualityKind.COUNTER_STOPPED] >= 1
