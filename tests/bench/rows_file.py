"""Ten million frames, from the file to the verdict, in one process of its own: how fast, with how much memory?"""

import json
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from tests.bench.bench_logs import BENCH, candump_log
from tests.bench.bench_row import Row, Size

__all__ = ["NAMES", "Run", "interlock_run", "rows"]

NAMES = {"file_to_verdict": "interlock replay"}
_MIB = 1 << 20
_MOST_MIB = 1024.0
_MAIN = """\
import sys
from interlock.cli import main
try:
    main()
finally:
    from tests.bench.bench_row import peak_mib
    print(f"peak_mib {peak_mib()}", file=sys.stderr)
"""


def rows(size: Size, wanted: set[str]) -> Iterator[Row]:
    """The one row."""
    if "file_to_verdict" not in wanted:
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.log"
        frames = candump_log(path, size.of(10_000_000, 20_000))
        run = interlock_run("replay", BENCH, path, "--json")
        yield Row(
            "file_to_verdict",
            f"{frames} frames of a candump file of {path.stat().st_size / _MIB:.0f} MiB to the verdict; "
            "ratio: 1024 MiB over the peak of memory",
            run.seconds,
            None,
            _MOST_MIB / run.peak_mib,
            1.0,
            unit="s",
            more={
                "frames": frames,
                "frames_per_s": round(frames / run.seconds),
                "cpu_s": round(run.cpu_s, 2),
                "peak_mib": round(run.peak_mib, 1),
                "verdict": json.loads(run.said)["verdict"],
            },
        )


@dataclass(frozen=True)
class Run:
    """What a command in a process of its own took, and what it said."""

    seconds: float  # from its start to its end
    cpu_s: float
    peak_mib: float  # resident
    said: str


def interlock_run(*args: object) -> Run:
    """Run `interlock ARGS` from the checkout; raises RuntimeError if it ends without a verdict."""
    root = Path(__file__).resolve().parents[2]
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        begun = time.perf_counter()
        asked = [sys.executable, "-c", _MAIN, *map(str, args)]
        child = subprocess.Popen(asked, stdout=out, stderr=err, cwd=root)
        _, status, usage = os.wait4(child.pid, 0)
        seconds = time.perf_counter() - begun
        child.returncode = os.waitstatus_to_exitcode(status)
        said, told = (_all_of(file) for file in (out, err))
    peak = re.search(r"^peak_mib ([0-9.]+)$", told, flags=re.M)
    if child.returncode not in (0, 1, 3) or peak is None:
        raise RuntimeError(f"interlock {args[0]} ended with {child.returncode}: {told[-1000:]}")
    return Run(seconds, usage.ru_utime + usage.ru_stime, float(peak[1]), said)


def _all_of(file: IO[bytes]) -> str:
    file.seek(0)
    return file.read().decode()
