"""Proving the chain of the built-in bench, from the start of the process to the verdict."""

from collections.abc import Iterator
from pathlib import Path

from tests.bench.bench_row import Row, Size, within
from tests.bench.rows_file import interlock_run

__all__ = ["NAMES", "rows"]

NAMES = {"check_demo": "interlock check of the built-in bench"}
_DEMO = Path(__file__).resolve().parents[2] / "interlock" / "demo" / "bench.yaml"


def rows(size: Size, wanted: set[str]) -> Iterator[Row]:
    """A row for each wanted name."""
    if "check_demo" in wanted:
        runs = [interlock_run("check", _DEMO, "--json") for _ in range(size.of(5, 1))]
        best = min(runs, key=lambda run: run.seconds)
        work = f"{NAMES['check_demo']}, process start to verdict"
        yield within(
            "check_demo", work, best.seconds, 1.0, cpu_s=best.cpu_s, peak_mib=round(best.peak_mib, 1)
        )
