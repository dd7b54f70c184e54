"""Every state of a generated chain: this package's search against SPIN's, both breadth first, both without edges.

Compared is the processor time of the search, one thread each; reading the bench, SPIN's generation and gcc are
left out. Memory is that of the whole process.
"""

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from interlock.chain.compile import compile_bench
from tests.bench.bench_row import Row, Size, compared, skipped
from tests.bench.chain_doors import doors
from tests.bench.promela import promela
from tests.bench.spin_run import spin_missing, spin_run

__all__ = ["NAMES", "rows"]

NAMES = {"explore": "every state of a generated chain"}
_GOAL = 2.0
_ROOT = Path(__file__).resolve().parents[2]


def rows(size: Size, wanted: set[str]) -> Iterator[Row]:
    """The one row."""
    if "explore" not in wanted:
        return
    if why := spin_missing():
        yield skipped("explore", NAMES["explore"], why, _GOAL)
        return
    many = (size.of(7, 1), size.of(1, 0))  # 7 doors and a button more: above five million states
    asked = [sys.executable, "-m", "tests.bench.explore_once", *map(str, many)]
    ours = json.loads(subprocess.run(asked, cwd=_ROOT, check=True, capture_output=True, text=True).stdout)
    with tempfile.TemporaryDirectory() as folder:
        model = promela(compile_bench(doors(*many)).chain)
        peer = spin_run(model, Path(folder), table_bits=size.of(24, 18))
    if ours["shortfall"] or ours["states"] != peer.states:
        raise AssertionError(f"{ours['states']} states here, {peer.states} by SPIN")
    yield compared(
        "explore",
        f"{peer.states} states of a bench with {many[0]} doors more; memory {ours['peak_mib']:.0f} MiB, "
        f"SPIN's {peer.peak_mib:.0f} MiB",
        ours["cpu_s"],
        peer.cpu_s,
        _GOAL,
        states=peer.states,
        peak_mib=round(ours["peak_mib"], 1),
        peer_peak_mib=round(peer.peak_mib, 1),
    )
