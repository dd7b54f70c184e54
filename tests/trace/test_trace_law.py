"""The law of damaged logs: what is lost lies inside a span of doubt, and nothing ends in a traceback.

For each damage to a sound file: every frame of the sound file that is not read as it was lies, at its true time, in a
blinding span of its message or of all messages. Not covered, because no reader can see it: a change inside one line of
text that leaves a line of the same form with a time between its neighbours'; and a file that ends early at a line end,
or just before it, where the trace simply ends.
"""

import random
import time
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import pytest
from trace_kit import DATA, DBC, EXPECTED, frames_by_message

from interlock.errors import LogError
from interlock.trace import Trace, load

FILES = ["short.log", "short.asc", "short.csv", "short.blf", "short.trc"]
SOUND = {file: frames_by_message(DATA / file) for file in FILES}
CONTENT = {file: (DATA / file).read_bytes() for file in FILES}
SLOWEST_S = 5.0
STARTED_NS = 1_790_000_000_000_000_000
"""What the headers of these files say, known here even if they are damaged."""


class Loss(NamedTuple):
    """A frame of the sound file that was not read as it was."""

    message: str
    since_1970_ns: int


class Outcome(NamedTuple):
    """What became of a damaged file."""

    trace: Trace
    uncovered: list[Loss]


def outcome(tmp_path: Path, file: str, content: bytes) -> Outcome | None:
    """What a damaged file is read as; None if it is refused with a clear error."""
    path = tmp_path / ("damaged" + Path(file).suffix)
    path.write_bytes(content)
    started = time.perf_counter()
    try:
        trace = load([path], DBC, messages=EXPECTED)
    except LogError as error:
        assert str(path) in str(error)
        return None
    finally:
        assert time.perf_counter() - started < SLOWEST_S
    shift = 0 if trace.absolute else STARTED_NS
    read = {
        name: Counter({(t + shift, payload): n for (t, payload), n in frames.items()})
        for name, frames in frames_by_message(path).items()
    }
    lost = [
        Loss(name, time_ns)
        for name, frames in SOUND[file].items()
        for time_ns, _ in (frames - read.get(name, Counter())).elements()
    ]
    return Outcome(trace, [loss for loss in lost if not covered(trace, loss, shift)])


def covered(trace: Trace, loss: Loss, shift: int) -> bool:
    at = loss.since_1970_ns - trace.start_ns - shift
    return any(
        max(at, 0) in finding.span  # before the first frame left: the doubt at the start counts
        for finding in trace.quality
        if finding.blinds and finding.signal is None and finding.message in (None, loss.message)
    )


@pytest.mark.parametrize("file", FILES)
def test_sound_file_loses_nothing(tmp_path: Path, file: str) -> None:
    found = outcome(tmp_path, file, CONTENT[file])
    assert found is not None
    assert (found.uncovered, found.trace.quality) == ([], ())


@pytest.mark.parametrize("file", FILES)
def test_file_cut_at_every_997th_byte(tmp_path: Path, file: str) -> None:
    content = CONTENT[file]
    for cut in range(1, len(content), 997):
        found = outcome(tmp_path, file, content[:cut])
        if found is None:
            continue
        beyond = [
            loss for loss in found.uncovered if loss.since_1970_ns - found.trace.start_ns > found.trace.end_ns
        ]
        assert found.uncovered == beyond
        lacks = content[cut : content.find(b"\n", cut)].strip(b" R\r")  # of the frame in its last line
        if lacks and not content[:cut].endswith(b"\n"):
            assert not beyond


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize("seed", range(3))
def test_one_bit_flipped(tmp_path: Path, file: str, seed: int) -> None:
    source = random.Random(f"{file} {seed}")
    for _ in range(25):
        content = bytearray(CONTENT[file])
        content[source.randrange(len(content))] ^= 1 << source.randrange(8)
        found = outcome(tmp_path, file, bytes(content))
        if found is None:
            continue
        if file == "short.blf" or found.trace.sources[0].rejected:
            assert not found.uncovered
        assert len(found.uncovered) <= 1


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize("seed", range(3))
def test_bytes_overwritten_taken_out_or_put_in(tmp_path: Path, file: str, seed: int) -> None:
    source = random.Random(f"{file} {seed} more")
    for _ in range(25):
        at, size = source.randrange(len(CONTENT[file])), source.randrange(1, 400)
        junk = source.randbytes(source.choice([0, 0, 3, size]))
        found = outcome(tmp_path, file, CONTENT[file][:at] + junk + CONTENT[file][at + size :])
        if found is not None and (junk or file == "short.blf"):
            assert not found.uncovered or _torn_into_one(file, found)


def _torn_into_one(file: str, found: Outcome) -> bool:
    """Two half lines that happen to make one of the right form: nothing was rejected, at most two cut lines differ."""
    return file != "short.blf" and not found.trace.sources[0].rejected


@pytest.mark.parametrize("file", [file for file in FILES if file != "short.blf"])
@pytest.mark.parametrize("seed", range(2))
def test_lines_swapped(tmp_path: Path, file: str, seed: int) -> None:
    source = random.Random(f"{file} {seed} swap")
    lines = CONTENT[file].splitlines(keepends=True)
    for _ in range(10):
        first, second = sorted(source.sample(range(8, len(lines) - 1), 2))
        swapped = [
            *lines[:first],
            lines[second],
            *lines[first + 1 : second],
            lines[first],
            *lines[second + 1 :],
        ]
        found = outcome(tmp_path, file, b"".join(swapped))
        assert found is not None
        assert not found.uncovered
        assert any(finding.blinds for finding in found.trace.quality)


@pytest.mark.parametrize("file", [file for file in FILES if file != "short.blf"])
@pytest.mark.parametrize("seed", range(3))
def test_many_lines_lost_are_gaps(tmp_path: Path, file: str, seed: int) -> None:
    source = random.Random(f"{file} {seed} lost")
    lines = CONTENT[file].splitlines(keepends=True)
    first = source.randrange(50, len(lines) - 450)
    found = outcome(tmp_path, file, b"".join([*lines[:first], *lines[first + 350 :]]))
    assert found is not None
    assert not found.uncovered


@pytest.mark.parametrize("file", [file for file in FILES if file != "short.blf"])
def test_windows_line_ends_change_nothing(tmp_path: Path, file: str) -> None:
    found = outcome(tmp_path, file, CONTENT[file].replace(b"\r\n", b"\n").replace(b"\n", b"\r\n"))
    assert found is not None
    assert (found.uncovered, found.trace.quality) == ([], ())


@pytest.mark.parametrize("file", ["short.log", "short.asc"])
def test_tabs_instead_of_blanks_change_nothing_or_are_told(tmp_path: Path, file: str) -> None:
    found = outcome(tmp_path, file, CONTENT[file].replace(b" ", b"\t"))
    assert found is not None
    assert not found.uncovered


@pytest.mark.parametrize("file", FILES)
def test_decimal_commas_are_refused(tmp_path: Path, file: str) -> None:
    found = outcome(tmp_path, file, CONTENT[file].replace(b".", b","))
    assert found is None or file == "short.blf"


@pytest.mark.parametrize("file", ["short.log", "short.asc", "short.csv"])
def test_distances_instead_of_times_are_never_believed(tmp_path: Path, file: str) -> None:
    path = tmp_path / ("relative" + Path(file).suffix)
    path.write_bytes(b"".join(_distances(file)))
    trace = load([path], DBC, messages=EXPECTED)
    doubted = [finding.span for finding in trace.quality if finding.blinds and finding.message is None]
    assert any(span.hi is None and span.lo < 20 * 10**6 for span in doubted)


def _distances(file: str) -> list[bytes]:
    """The file with the time since the line above in place of each stamp, and no word about it."""
    import re

    stamp = re.compile(
        {"short.log": rb"^\((\d+)\.(\d{6})\)", "short.asc": rb"^ (\d+)\.(\d{6})"}.get(file, rb"^(\d+)\.(\d+)")
    )
    lines, last = [], None
    for line in CONTENT[file].splitlines(keepends=True):
        match = stamp.match(line)
        if match is None:
            lines.append(line)
            continue
        now = int(match[1]) * 10**9 + int(match[2].ljust(9, b"0"))
        step = 0 if last is None else now - last
        last = now
        written = b"%d.%06d" % (step // 10**9, step % 10**9 // 1000)
        lines.append(line.replace(match[1] + b"." + match[2], written, 1))
    return lines


@pytest.mark.parametrize("suffix", [".log", ".asc", ".csv", ".blf", ".trc", ".vcd", ".sr", ".xyz"])
@pytest.mark.parametrize("seed", range(6))
def test_junk_is_a_clear_error(tmp_path: Path, suffix: str, seed: int) -> None:
    source = random.Random(seed)
    path = tmp_path / ("junk" + suffix)
    kinds = [
        source.randbytes(5000),
        b"\n" * 3000,
        b"\0" * 3000,
        b"LOGG" + source.randbytes(500),
        b" " * 9000,
        b"(" * 9000,
    ]
    path.write_bytes(kinds[seed])
    with pytest.raises(LogError, match="junk"):
        load([path], DBC, messages=EXPECTED)
