"""Running SPIN (a general-purpose model checker, Debian package `spin`) breadth first over a Promela model."""

import os
import re
import shutil
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

__all__ = ["SpinRun", "spin_build", "spin_missing", "spin_run", "spin_verify"]

_GCC = ("gcc", "-w", "-DBFS", "-DSAFETY", "-DNOFAIR", "-DMEMLIM=16000", "-o", "pan", "pan.c")


@dataclass(frozen=True)
class SpinRun:
    """What SPIN's verifier said, and what it took; generation and compilation are left out."""

    states: int
    cpu_s: float
    peak_mib: float  # as SPIN says
    depth: int | None = None  # of the assertion that failed; None: none did


def spin_missing() -> str:
    """Why SPIN cannot run here; empty if it can."""
    lacking = [name for name in ("spin", "gcc") if shutil.which(name) is None]
    return f"{' and '.join(lacking)} not installed" if lacking else ""


def spin_build(model: str, folder: Path, headers: Mapping[str, str], *, optimise: str = "-O2") -> None:
    """Make the verifier of a model in the folder."""
    for name, text in {"model.pml": model, **headers}.items():
        (folder / name).write_text(text, encoding="utf-8")
    for command in (("spin", "-a", "model.pml"), (*_GCC, optimise)):
        subprocess.run(command, cwd=folder, check=True, capture_output=True)


def spin_verify(folder: Path, table_bits: int, env: Mapping[str, str] | None = None) -> SpinRun:
    """Every state, or up to the first assertion that fails; raises RuntimeError if SPIN did not come to an end."""
    with (folder / "said").open("wb") as out:
        child = subprocess.Popen(
            ["./pan", "-E", f"-w{table_bits}"], cwd=folder, stdout=out, env={**os.environ, **(env or {})}
        )
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
    said = (folder / "said").read_text()
    stored = re.search(r"^ *([0-9.e+]+) states, stored$", said, flags=re.M)
    memory = re.search(r"^ *([0-9.]+)\s+total actual memory usage$", said, flags=re.M)
    failed = re.search(r"precondition false.*\(at depth ([0-9]+)\)$", said, flags=re.M)
    doubts = said.replace("Warning: Search not completed", "") if failed else said
    ended = "errors: 0" in said if failed is None else "errors: 1" in said
    if child.returncode or stored is None or memory is None or not ended or "Warning" in doubts:
        raise RuntimeError(f"SPIN did not finish: {said[-2000:]}")
    states, mib = int(float(stored[1])), float(memory[1])
    return SpinRun(states, usage.ru_utime + usage.ru_stime, mib, None if failed is None else int(failed[1]))


def spin_run(model: str, folder: Path, *, table_bits: int = 20) -> SpinRun:
    """Every state of the model, breadth first; raises RuntimeError if SPIN did not finish without error."""
    spin_build(model, folder, {})
    found = spin_verify(folder, table_bits)
    if found.depth is not None:
        raise RuntimeError(f"an assertion failed at depth {found.depth}")
    return found
