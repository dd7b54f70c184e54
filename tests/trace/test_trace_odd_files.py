"""Files that are no plain sound logs: links, pipes, folders, empty or locked ones, growing or shrinking ones, bombs.

Each is read sensibly or refused with one clear error; none hangs, and none takes memory without bound.
"""

import gzip
import hashlib
import io
import os
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace import CsvColumns, LogFile, QualityKind, load, readers
from interlock.trace.inputs import opened
from interlock.trace.paged import PAGE
from interlock.trace.progress import Again, Watched
from interlock.trace.readers import read_log
from interlock.trace.recognise import recognise

LOG = DATA / "short.log"
VCD = b"$timescale 1 us $end\n$var wire 1 ! EN $end\n$enddefinitions $end\n"
TABLE = CsvColumns({"A": "A"}, time="t")


def test_a_link_is_read_as_what_it_leads_to(tmp_path: Path) -> None:
    link = tmp_path / "link.log"
    link.symlink_to(LOG)
    reading, source = read_log(link)
    whole, plain = read_log(LOG)
    assert reading.ledger == whole.ledger
    assert (source.path, source.sha256) == (str(link), plain.sha256)


@pytest.mark.parametrize("read", [read_log, recognise, opened], ids=["read_log", "recognise", "opened"])
class TestRefused:
    """Whatever opens a log refuses what is none."""

    def test_a_link_that_leads_nowhere(self, tmp_path: Path, read: Callable[[Path], object]) -> None:
        link = tmp_path / "link.log"
        link.symlink_to(tmp_path / "gone.log")
        with pytest.raises(LogError, match=r"link\.log: cannot be opened: No such file"):
            read(link)

    def test_a_link_that_leads_back_to_itself(self, tmp_path: Path, read: Callable[[Path], object]) -> None:
        link = tmp_path / "link.log"
        link.symlink_to(link)
        with pytest.raises(LogError, match=r"link\.log: cannot be opened: "):
            read(link)

    def test_a_folder(self, tmp_path: Path, read: Callable[[Path], object]) -> None:
        with pytest.raises(LogError, match="this is a folder; give the log files in it"):
            read(tmp_path)

    @pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
    def test_a_pipe_that_nobody_writes_to(self, tmp_path: Path, read: Callable[[Path], object]) -> None:
        os.mkfifo(tmp_path / "pipe.log")
        with pytest.raises(
            LogError, match=r"pipe\.log: this is a pipe or a device, not a file; save the log"
        ):
            read(tmp_path / "pipe.log")

    def test_a_device(self, tmp_path: Path, read: Callable[[Path], object]) -> None:
        with pytest.raises(LogError, match="this is a pipe or a device"):
            read(Path(os.devnull))

    @pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is locked for root")
    def test_a_file_that_may_not_be_read(self, tmp_path: Path, read: Callable[[Path], object]) -> None:
        path = tmp_path / "locked.log"
        path.write_bytes(LOG.read_bytes())
        path.chmod(0)
        with pytest.raises(
            LogError, match=r"locked\.log: cannot be opened: Permission denied; check path and rights"
        ):
            read(path)

    def test_rights_that_the_system_denies(
        self, tmp_path: Path, read: Callable[[Path], object], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def denied(*_: object) -> None:
            raise PermissionError(13, "Permission denied")

        (tmp_path / "locked.log").write_bytes(b"x")
        monkeypatch.setattr(Path, "open", denied)
        with pytest.raises(LogError, match="cannot be opened: Permission denied; check path and rights"):
            read(tmp_path / "locked.log")


@pytest.mark.parametrize("name", ["a.log", "a.vcd", "a.sr", "a.blf", "a.mf4", "a.log.gz"])
def test_an_empty_file(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"")
    with pytest.raises(LogError, match="the file is empty; give a log with frames in it"):
        read_log(tmp_path / name)


@pytest.mark.parametrize("name", ["a.log.gz", "a.vcd.gz"])
def test_a_packed_file_with_nothing_in_it(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(gzip.compress(b""))
    with pytest.raises(LogError, match="the file is empty"):
        read_log(tmp_path / name)


def test_an_empty_table(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(b"")
    with pytest.raises(LogError, match="not exactly one column is headed"):
        read_log(LogFile(tmp_path / "a.csv", columns=TABLE))


def while_read(what: Callable[[], None], monkeypatch: pytest.MonkeyPatch) -> None:
    """Do this once the file was opened and its first bytes are read."""
    first = [True]
    plain = Watched.read

    def read(self: Watched, size: int = -1, /) -> bytes:
        piece = plain(self, size)
        if first:
            first.clear()
            what()
        return piece

    monkeypatch.setattr(Watched, "read", read)


def sample(folder: Path, name: str) -> LogFile:
    path = folder / name
    if name.endswith(".vcd"):
        path.write_bytes(VCD + b"".join(b"#%d\n%d!\n" % (n, n % 2) for n in range(900)))
    elif name == "table.csv":
        path.write_bytes(b"t,A\n" + b"".join(b"0.%04d,1\n" % n for n in range(900)))
        return LogFile(path, columns=TABLE)
    else:
        path.write_bytes((DATA / name).read_bytes())
    return LogFile(path)


NAMES = [
    "short.log",
    "short.asc",
    "short.trc",
    "short.csv",
    "short.blf",
    "motion_steps.sr",
    "a.vcd",
    "table.csv",
]


@pytest.mark.parametrize("name", NAMES)
def test_a_file_that_grows_is_read_as_far_as_it_was_and_its_end_is_in_doubt(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = sample(tmp_path, name)
    content = file.path.read_bytes()
    whole = load([file], None, messages=[])

    def grow() -> None:
        with file.path.open("ab") as stream:
            stream.write(content[-300:])

    while_read(grow, monkeypatch)
    trace = load([file], None, messages=[])
    assert trace.sources == whole.sources
    assert trace.sources[0].sha256 == hashlib.sha256(content).hexdigest()
    (doubt,) = set(trace.quality) - set(whole.quality)
    assert (doubt.kind, doubt.blinds, doubt.span.hi) == (QualityKind.TRUNCATED, True, None)
    assert f"its first {len(content)} bytes are judged" in doubt.sentence
    assert 0 < doubt.span.lo <= trace.end_ns


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("left", [0, 100])
def test_a_file_that_is_cut_meanwhile_is_refused(
    tmp_path: Path, name: str, left: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = sample(tmp_path, name)
    monkeypatch.setattr(readers, "PART", 500)
    while_read(lambda: os.truncate(file.path, left), monkeypatch)
    with pytest.raises(LogError) as caught:
        read_log(file)
    assert str(file.path) in str(caught.value)


def test_a_log_that_somebody_still_writes_ends_in_a_torn_line(tmp_path: Path) -> None:
    path = tmp_path / "run.log"
    path.write_bytes(LOG.read_bytes()[:-7])
    kinds = [piece.kind for piece in read_log(path)[0].rejected]
    assert kinds == [QualityKind.TRUNCATED]


def test_errors_of_a_disk_are_told_as_such(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> bytes:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(Watched, "read", broken)
    with pytest.raises(
        LogError, match=r"short\.log: cannot be read: Input/output error; copy it to another disk"
    ):
        read_log(LOG)


def test_too_little_memory_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> bytes:
        raise MemoryError

    monkeypatch.setattr(Watched, "read", full)
    with pytest.raises(LogError, match=r"short\.log: it needs more memory than there is; give a shorter log"):
        read_log(LOG)


def test_a_packed_file_that_no_disk_has_room_for_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "short.blf.gz"
    path.write_bytes(gzip.compress((DATA / "short.blf").read_bytes()))
    monkeypatch.setattr(readers, "disk_room", lambda: 1000)
    with pytest.raises(LogError, match=r"short\.blf\.gz: it unpacks to more than .* has no room for"):
        read_log(path)


@pytest.mark.parametrize("name", ["short.log", "short.blf", "motion_steps.sr", "a.vcd", "table.csv"])
def test_the_digest_is_that_of_the_whole_file_however_damaged_its_packing(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(readers, "PART", 1000)
    file = sample(tmp_path, name)
    packed = gzip.compress(file.path.read_bytes(), mtime=0) + b"junk behind it" * 20_000
    path = tmp_path / f"{name}.gz"
    path.write_bytes(packed)
    reading, source = read_log(LogFile(path, columns=file.columns))
    assert source.sha256 == hashlib.sha256(packed).hexdigest()
    assert "belong to nothing" in reading.rejected[-1].why


def bomb(path: Path, beginning: bytes, more: bytes, times: int) -> Path:
    """A packed file that begins as a log does and goes on with the same bytes again and again."""
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    with path.open("wb") as stream:
        stream.write(packer.compress(beginning))
        for _ in range(times):
            stream.write(packer.compress(more))
        stream.write(packer.flush())
    return path


ZEROS = bytes(1 << 20)


@pytest.mark.parametrize(
    ("name", "beginning", "more"),
    [
        ("a.log.gz", LOG.read_bytes(), ZEROS),
        ("a.log.gz", LOG.read_bytes(), b"\n" * (1 << 20)),
        ("a.asc.gz", (DATA / "short.asc").read_bytes(), ZEROS),
        ("a.vcd.gz", VCD + b"#1\n1!\n", ZEROS),
        ("a.vcd.gz", VCD[:-18], b"\n" * (1 << 20)),
        ("a.blf.gz", (DATA / "short.blf").read_bytes(), ZEROS),
        ("a.sr.gz", (DATA / "motion_steps.sr").read_bytes(), ZEROS),
    ],
)
def test_a_small_file_that_unpacks_to_much_is_refused_early(
    tmp_path: Path, name: str, beginning: bytes, more: bytes
) -> None:
    path = bomb(tmp_path / name, beginning, more, 20)
    assert path.stat().st_size < 1 << 18
    with pytest.raises(LogError, match=rf"{name}: .*(no log does that|definitions do not end)"):
        read_log(path)


def test_an_archive_that_says_to_hold_more_than_any_capture_is_refused(tmp_path: Path) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as made:
        made.writestr(
            "metadata", "[device 1]\ncapturefile=logic-1\nsamplerate=1 MHz\nunitsize=1\nprobe1=EN\n"
        )
        for piece in range(1, 7):
            made.writestr(f"logic-1-{piece}", b"\0")
    content = bytearray(stream.getvalue())
    at = -1
    while (at := content.find(b"PK\x01\x02", at + 1)) >= 0:
        if content[at + 46 : at + 51] == b"logic":
            content[at + 24 : at + 28] = (0xFFFFFFF0).to_bytes(4, "little")
    path = tmp_path / "a.sr"
    path.write_bytes(content)
    with pytest.raises(LogError, match=r"a\.sr: it unpacks to more than \d+ bytes; save a shorter capture"):
        read_log(path)


def test_a_stream_read_again_is_what_it_was_when_it_was_opened(tmp_path: Path) -> None:
    content = bytes(range(200))
    stream = io.BytesIO(content + b"grown")
    watched = Watched(tmp_path, stream, 200, hashlib.sha256())
    assert watched.read() + watched.read(PAGE) == content
    again = Again(stream, 200, watched)
    assert again.seek(-10, io.SEEK_END) == 190
    assert (again.read(50), again.read(50), again.tell()) == (content[190:], b"", 200)
    assert again.seek(20) == 20
    assert again.seek(5, io.SEEK_CUR) == 25
    assert again.read(5) == content[25:30]
    assert again.seek(500) == 500
    assert again.read(5) == b""
    with pytest.raises(OSError, match="before the first byte"):
        again.seek(-1)
