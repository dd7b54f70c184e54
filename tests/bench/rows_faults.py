"""Every set of faults of the built-in bench, the faults arriving at any moments: how long does the whole table take?"""

from collections.abc import Iterator
from pathlib import Path

from interlock.bench import load_bench
from tests.bench.bench_row import Row, Size, cpu_seconds, skipped, within

__all__ = ["NAMES", "rows"]

NAMES = {"faults_2": 2, "faults_3": 3}
_MOST_S = {"faults_2": 1.0, "faults_3": 15.0}
_DEMO = Path(__file__).resolve().parents[2] / "interlock" / "demo" / "bench.yaml"


def rows(size: Size, wanted: set[str]) -> Iterator[Row]:
    """A row for each wanted name; with `quick` single faults alone."""
    for name in [name for name in NAMES if name in wanted]:
        try:
            yield _row(name, size.of(NAMES[name], 1))
        except ImportError as missing:
            yield skipped(name, "every fault set of the demo", f"{missing}", 1.0)


def _row(name: str, most: int) -> Row:
    from interlock.chain.bent import compile_faulty
    from interlock.chain.fault_list import considered
    from interlock.chain.fault_table import explore_faults
    from interlock.chain.hunt import MOST_BYTES

    bench = load_bench(_DEMO)
    found = []
    seconds = cpu_seconds(
        lambda: found.append(explore_faults(compile_faulty(bench, considered(bench)), most, MOST_BYTES))
    )
    explored = found[0]
    classes, faults = len(explored.faults), len(considered(bench))
    work = (
        f"the demo under every set of at most {most} of its {faults} faults ({classes} that differ in effect, "
        f"{len(explored.sets.sets)} sets), arriving at any moments"
    )
    more = {"sets": len(explored.sets.sets), "faults": faults}
    if explored.shortfall:
        more["shortfall"] = explored.shortfall
    return within(name, work, seconds, _MOST_S[name], unit="s of CPU", **more)
