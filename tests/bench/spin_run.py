"""Running SPIN (a general-purpose model checker, Debian package `spin`) breadth first over a Promela model."""

import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

__all__ = ["SpinRun", "spin_missing", "spin_run"]

_GCC = ("gcc", "-O2", "-w", "-DBFS", "-DSAFETY", "-DNOFAIR", "-DMEMLIM=16000", "-o", "pan", "pan.c")


@dataclass(frozen=True)
class SpinRun:
    """What SPIN's verifier said, and what it took; generation and compilation are left out."""

    states: int
    cpu_s: float
    peak_mib: float  # as SPIN says


def spin_missing() -> str:
    """Why SPIN cannot run here; empty if it can."""
    lacking = [name for name in ("spin", "gcc") if shutil.which(name) is None]
    return f"{' and '.join(lacking)} not installed" if lacking else ""


def spin_run(model: str, folder: Path, *, table_bits: int = 20) -> SpinRun:
    """Every state of the model, breadth first; raises RuntimeError if SPIN did not finish without error."""
    (folder / "model.pml").write_text(model, encoding="utf-8")
    for command in (("spin", "-a", "model.pml"), _GCC):
        subprocess.run(command, cwd=folder, check=True, capture_output=True)
    with (folder / "said").open("wb") as out:
        child = subprocess.Popen(["./pan", "-E", f"-w{table_bits}"], cwd=folder, stdout=out)
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
    said = (folder / "said").read_text()
    stored = re.search(r"^ *([0-9.e+]+) states, stored$", said, flags=re.M)
    memory = re.search(r"^ *([0-9.]+)\s+total actual memory usage$", said, flags=re.M)
    if child.returncode or stored is None or memory is None or "errors: 0" not in said or "Warning" in said:
        raise RuntimeError(f"SPIN did not finish: {said[-2000:]}")
    return SpinRun(int(float(stored[1])), usage.ru_utime + usage.ru_stime, float(memory[1]))
