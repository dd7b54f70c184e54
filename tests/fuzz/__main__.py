"""`python -m tests.fuzz [READER...] [--minutes N]`: spoiled files for every reader of logs, for so long; never a test.

READER is a format (candump, asc, csv, trc, blf, vcd, sr, table, mf4); none: all. N is CPU time for each of them. Every
other file is packed. A finding is whatever is no reading and no clear error, a file that takes longer than the limit,
or memory that goes on growing; its file is kept, and the exit code is 1.
"""

import argparse
import ctypes
import gc
import gzip
import random
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from types import FrameType

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from fuzz import fuzz_cases  # noqa: E402
from fuzz.fuzz_cases import DATA, PLANS, SEEDS, TABLE, spoiled, spoiled_within  # noqa: E402

from interlock.trace import LogFile  # noqa: E402

READERS = {
    "candump": ("short.log", "shown.log", "fd.log"),
    "asc": ("short.asc",),
    "csv": ("short.csv",),
    "trc": ("short.trc",),
    "blf": ("short.blf", "plain.blf", "plain.blf"),
    "vcd": ("lines.vcd",),
    "sr": ("steps.sr",),
    "table": ("table.csv",),
    "mf4": ("two_buses.mf4",),
}
MOST_S = 30.0
"""CPU seconds for one file: these are of a few kB."""
MOST_MIB = 48.0
"""Growth of memory from the first quarter of the cases to the last: what the allocator keeps stays below it."""
MOST_FINDINGS = 5


class HungError(BaseException):
    """A file took too long; no reader may catch it."""


@dataclass
class Tried:
    """What became of the files of one reader."""

    cases: int = 0
    read: int = 0
    spent_s: float = 0.0
    slowest_s: float = 0.0
    findings: list[str] = field(default_factory=list)
    mib: list[tuple[float, float]] = field(default_factory=list)  # when seconds were spent, resident memory

    @property
    def grown_mib(self) -> float:
        """From the first quarter of the time, in which caches fill and loops are compiled, to the end."""
        warm = next((mib for at, mib in self.mib if at >= self.mib[-1][0] / 4), self.mib[0][1])
        return self.mib[-1][1] - warm


def main(words: Sequence[str] | None = None) -> int:
    """Print a line for each reader; 1 if anything was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("readers", nargs="*", metavar="READER", help=f"of {', '.join(READERS)}; none: all")
    parser.add_argument("--minutes", type=float, default=1.0, help="CPU time for each reader (default 1)")
    parser.add_argument(
        "--seed", type=int, default=None, help="of the accidents (default: another each time)"
    )
    parser.add_argument("--keep", type=Path, help="folder for files with a finding (default: a new one)")
    asked = parser.parse_args(words)
    if strange := set(asked.readers) - set(READERS):
        parser.error(f"no such reader: {', '.join(sorted(strange))}; choose from {', '.join(READERS)}")
    seed = random.randrange(1 << 32) if asked.seed is None else asked.seed
    keep = asked.keep or Path(tempfile.mkdtemp(prefix="fuzz"))
    found = 0
    for name in asked.readers or READERS:
        if name == "mf4" and find_spec("asammdf") is None:
            print("mf4: not tried, as asammdf is not installed")
            continue
        tried = fuzz(name, 60 * asked.minutes, seed, keep)
        print(line(name, seed, tried), *tried.findings, sep="\n  ", flush=True)
        found += len(tried.findings)
    return 1 if found else 0


def line(name: str, seed: int, tried: Tried) -> str:
    """The figures of one reader."""
    return (
        f"{name}: {tried.cases} files, {tried.read} read, {tried.cases - tried.read} refused, "
        f"{len(tried.findings)} findings; slowest {tried.slowest_s:.2f} s; memory {tried.mib[0][1]:.0f} MiB at first, "
        f"{tried.mib[-1][1]:.0f} at the end ({tried.grown_mib:+.0f} after the first quarter); --seed {seed}"
    )


def fuzz(name: str, seconds: float, seed: int, keep: Path) -> Tried:
    """Spoil the seeds of a reader for so many CPU seconds."""
    chance, tried = random.Random(f"{seed} {name}"), Tried()
    with tempfile.TemporaryDirectory() as folder:
        tried.mib.append((0.0, resident_mib()))
        while tried.spent_s < seconds and len(tried.findings) < MOST_FINDINGS:
            begun = time.process_time()
            _one(name, chance, Path(folder), keep, tried)
            tried.spent_s += time.process_time() - begun
            if tried.spent_s > tried.mib[-1][0] + seconds / 4:
                tried.mib.append((tried.spent_s, resident_mib()))
        tried.mib.append((tried.spent_s, resident_mib()))
    if tried.grown_mib > MOST_MIB:
        tried.findings.append(f"memory grew by {tried.grown_mib:.0f} MiB after the first quarter")
    return tried


def _one(name: str, chance: random.Random, folder: Path, keep: Path, tried: Tried) -> None:
    key = chance.choice(READERS[name])
    content = _seed(key)
    if name == "sr" and chance.random() < 0.8:
        content = spoiled_within(content, chance)
    else:
        content = spoiled(content, _seed(chance.choice(READERS[name])), chance)
    if packed := chance.random() < 0.5:
        content = gzip.compress(content, 1)
        content = spoiled(content, content, chance) if chance.random() < 0.2 else content
    path = folder / f"{key}{'.gz' if packed else ''}"
    path.write_bytes(content)
    begun = time.process_time()
    try:
        with limited(MOST_S):
            file = LogFile(path, columns=chance.choice(PLANS)) if name == "table" else LogFile(path)
            tried.read += fuzz_cases.held(file)
    except HungError:
        tried.findings.append(f"{_kept(path, keep, tried)}: longer than {MOST_S:g} s")
    except Exception as error:  # noqa: BLE001 - whatever a reader lets through is what is looked for
        where = traceback.extract_tb(error.__traceback__)[-1]
        tried.findings.append(
            f"{_kept(path, keep, tried)}: {error!r:.200} at {Path(where.filename).name}:{where.lineno}"
        )
    tried.cases += 1
    tried.slowest_s = max(tried.slowest_s, time.process_time() - begun)


def _seed(key: str) -> bytes:
    return TABLE if key == "table.csv" else SEEDS.get(key) or (DATA / key).read_bytes()


def _kept(path: Path, keep: Path, tried: Tried) -> Path:
    keep.mkdir(parents=True, exist_ok=True)
    there = keep / f"{tried.cases}_{path.name}"
    there.write_bytes(path.read_bytes())
    return there


@contextmanager
def limited(seconds: float) -> Iterator[None]:
    """Raise HungError in what takes longer, in CPU time."""

    def hung(_: int, __: FrameType | None) -> None:
        raise HungError

    before = signal.signal(signal.SIGPROF, hung)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def resident_mib() -> float:
    """Memory of this process after everything that is free was given back (0 where the system does not tell)."""
    gc.collect()
    table = Path("/proc/self/statm")
    if not table.exists():
        return 0.0
    ctypes.CDLL(None).malloc_trim(0)
    return int(table.read_text().split()[1]) * 4096 / (1 << 20)


if __name__ == "__main__":
    sys.exit(main())
