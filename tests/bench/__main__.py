"""`python -m tests.bench NAME... [--json] [--quick]`: ratios of this machine, in one run; never a test.

NAME is a row (candump, check_demo, ...) or a group of them (traces, chain).
"""

import argparse
import json
from collections.abc import Iterator

from tests.bench import rows_chain, rows_explore, rows_faults, rows_file, rows_mf4, rows_monitor, rows_traces
from tests.bench.bench_row import Row, Size

MODULES = {
    "traces": (rows_traces, rows_mf4, rows_monitor, rows_file),
    "chain": (rows_chain, rows_faults, rows_explore),
}


def main() -> None:
    """Print each row as soon as it is measured."""
    names = {name: {name} for modules in MODULES.values() for module in modules for name in module.NAMES}
    groups = {
        group: {name for module in modules for name in module.NAMES} for group, modules in MODULES.items()
    }
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="+", choices=sorted({**groups, **names}), metavar="NAME")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")
    parser.add_argument("--quick", action="store_true", help="little work: shows that the rows run, no more")
    asked = parser.parse_args()
    wanted = set().union(*({**groups, **names}[name] for name in asked.names))
    if not asked.json:
        print(f"{'row':<18}{'ours':>12}{'peer':>12}{'ratio':>10}{'goal':>8}  work")
    for row in measured(wanted, Size(asked.quick)):
        print(json.dumps(row.as_json()) if asked.json else line(row), flush=True)


def measured(wanted: set[str], size: Size) -> Iterator[Row]:
    """The wanted rows, one after the other."""
    for modules in MODULES.values():
        for module in modules:
            yield from module.rows(size, wanted)


def line(row: Row) -> str:
    """The row as a line of a table."""
    figures = [
        "-" if value is None else f"{value:.4g}" for value in (row.ours, row.peer, row.ratio, row.goal)
    ]
    known = (
        "frames_per_s",
        "ratio_with_extra",
        "cpu_s",
        "peak_mib",
        "states",
        "verdict",
        "shortfall",
        "skipped",
    )
    more = "".join(f"; {key} {shown(row.more[key])}" for key in known if key in row.more)
    places = f"{row.name:<18}{figures[0]:>12}{figures[1]:>12}{figures[2]:>10}{figures[3]:>8}"
    return f"{places}  [{row.unit}] {row.work}{more}"


def shown(value: object) -> str:
    """A figure as people read it."""
    return f"{value:.4g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    main()
