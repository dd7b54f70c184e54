"""The whole job on the built-in bench, station by station; everything in it is invented.

Each station says what was done, what came of it, and whether that is what had to come of it: a wrong bench,
a defective log, and a report or a register with one changed bit must be refused.
"""

import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from interlock.demo.keeping import hand_over, keep
from interlock.demo.measuring import judge, record
from interlock.demo.proving import WRONG_BENCH, prove, try_faults, work_out_test, wrong_bench
from interlock.demo.station import Station
from interlock.errors import InterlockError
from interlock.verdict import Verdict

__all__ = ["BENCH_FILE", "walk"]

BENCH_FILE: Final = Path(__file__).with_name("bench.yaml")
_TEST: Final = timedelta(minutes=10)
"""Before it is judged the test has been made; it takes less than this."""


def walk(folder: Path, *, now: datetime) -> Iterator[Station]:
    """Walk the job in `folder` (made if need be); each station is given as soon as it is done.

    InterlockError for a folder that holds something and is not of an earlier walk: its files would be overwritten.
    """
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / WRONG_BENCH).exists() and any(folder.iterdir()):
        raise InterlockError(
            f"{folder}: it holds files that are not of the demo, and some might be overwritten; name an empty folder"
        )
    bench = folder / "bench.yaml"
    for name in ("bench.yaml", "bench.dbc"):
        shutil.copyfile(BENCH_FILE.with_name(name), folder / name)
    wrong = wrong_bench(bench)
    yield prove(bench, "Prove the chain of the bench as built, in every state", Verdict.PASS)
    title = "The same bench with the emergency stop left out of the contactor's line"
    yield prove(wrong, title, Verdict.FAIL)
    yield try_faults(bench)
    yield work_out_test(bench, folder)
    sound = record(folder / "proof_test.log", None, begun=now - _TEST)
    yield judge(bench, sound, "Judge the log of a proof test on the simulated bench", Verdict.PASS)
    late = record(folder / "late_brake.log", "SLOW_STO_LOAD", begun=now - _TEST)
    yield judge(bench, late, "The same test on a bench whose brake loses its torque too late", Verdict.FAIL)
    yield from hand_over(folder, bench, sound, now)
    yield from keep(folder, bench, sound, now)
