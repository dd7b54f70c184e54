"""How much memory the reading of long files takes, in a process of its own: for what is kept, not for what is read."""

import gzip
import io
import json
import subprocess
import sys
import zipfile
import zlib
from pathlib import Path

import numpy as np
import pytest
from trace_kit import DATA

from interlock.trace import memory
from interlock.trace.memory import disk_room, give_back, room

VCD = b'$timescale 1 us $end\n$var wire 1 ! EN $end\n$var wire 1 " STEP $end\n$enddefinitions $end\n#0\n0!\n'
_READ = """
import json, sys
from pathlib import Path
from interlock.errors import LogError
from interlock.trace import CsvColumns, LogFile, load

def peak():
    said = Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0]
    return int(said) / 1024

def read(path):
    columns = CsvColumns({"A": "A"}, time="t", time_unit="us") if ".csv" in path.name else None
    try:
        load([LogFile(path, wanted=() if columns else ("EN",), columns=columns)], None, messages=[])
    except LogError as error:
        return str(error)
    return ""

folder = Path(sys.argv[1])
for path in sorted(folder.glob("few*")):
    read(path)
found = {}
for path in sorted(folder.glob("many*")):
    Path("/proc/self/clear_refs").write_text("5")  # the peak is counted anew
    before = peak()
    error = read(path)
    found[path.name] = (peak() - before, error)
print(json.dumps(found))
"""


def dump(instants: int) -> bytes:
    """Steps at every instant, and three changes of the wire that is wanted."""
    steps = b"".join(b'#%d\n%d"\n' % (n, n % 2) for n in range(1, instants))
    return VCD + steps + b"#999999990\n1!\n#999999999\n0!\n"


def capture(samples: int) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as made:
        made.writestr(
            "metadata",
            "[device 1]\ncapturefile=logic-1\nsamplerate=1 MHz\nunitsize=1\nprobe1=EN\nprobe2=STEP\n",
        )
        with made.open("logic-1-1", "w") as member:
            piece = np.tile(np.repeat([0, 2], 50), 1 << 14).astype(np.uint8).tobytes()
            for _ in range(0, samples, len(piece)):
                member.write(piece)
    return stream.getvalue()


def wide_lines(lines: int) -> bytes:
    """Lines that are nothing, packed less well than what is refused as a bomb."""
    source = np.random.default_rng(1)
    more = b"".join(source.bytes(60).hex().encode() + b" " * 15_000 + b"\n" for _ in range(70))
    packer = zlib.compressobj(6, zlib.DEFLATED, 31)
    parts = [packer.compress(VCD), *(packer.compress(more) for _ in range(0, lines, 70))]
    return b"".join([*parts, packer.flush()])


def table(rows: int) -> bytes:
    return b"t,A,B,C\n" + b"".join(
        b"%d.0000,%d,1234567.1234567,1234567.1234567\n" % (n, n % 9) for n in range(rows)
    )


MANY = {
    "many.vcd": (lambda: dump(600_000), 70.0),
    "many.vcd.gz": (lambda: gzip.compress(dump(800_000), 1), 70.0),
    "many.sr": (lambda: capture(40_000_000), 30.0),
    "many_wide.vcd.gz": (lambda: wide_lines(2800), 125.0),
    "many.csv": (lambda: table(400_000), 65.0),
}
"""Long files, and how many MiB more than short ones they may take."""


@pytest.mark.skipif(
    not Path("/proc/self/clear_refs").exists(), reason="the system does not tell peaks of memory"
)
def test_long_files_take_memory_for_what_is_kept_of_them(tmp_path: Path) -> None:
    for name, (content, _) in MANY.items():
        (tmp_path / name).write_bytes(content())
    (tmp_path / "few.vcd").write_bytes(dump(100_000))
    (tmp_path / "few.sr").write_bytes((DATA / "motion_steps.sr").read_bytes())
    (tmp_path / "few.csv").write_bytes(table(3000))
    done = subprocess.run([sys.executable, "-c", _READ, tmp_path], capture_output=True, text=True, check=True)
    found = json.loads(done.stdout)
    assert set(found) == set(MANY)
    assert {name: error for name, (_, error) in found.items()} == dict.fromkeys(MANY, "")
    assert {name: mib for name, (mib, _) in found.items() if mib > MANY[name][1]} == {}


def test_room_is_what_the_system_tells_or_a_guess(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    told = tmp_path / "meminfo"
    monkeypatch.setattr(memory, "_MEMORY", told)
    assert room() == 4 << 30
    told.write_text("MemTotal: 9 kB\nMemAvailable:    1234 kB\n")
    assert room() == 1234 << 10
    told.write_text("MemAvailable: much\n")
    assert room() == 4 << 30


def test_at_most_half_of_the_free_disk_is_used() -> None:
    assert 0 <= disk_room() < 1 << 60


def test_memory_is_given_back_where_the_system_takes_it(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []

    class Library:
        def malloc_trim(self, kept: int) -> None:
            asked.append(kept)

    monkeypatch.setattr(memory.ctypes, "CDLL", lambda _: Library())
    give_back()
    assert asked == [0]


@pytest.mark.parametrize("error", [OSError, AttributeError, TypeError])
def test_where_it_cannot_be_given_back_nothing_happens(
    error: type[Exception], monkeypatch: pytest.MonkeyPatch
) -> None:
    def absent(_: object) -> None:
        raise error

    monkeypatch.setattr(memory.ctypes, "CDLL", absent)
    give_back()
