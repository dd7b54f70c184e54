"""A bench with many doors in series, for chains of millions of states; invented."""

from pathlib import Path

import yaml

from interlock.bench import Bench, parse_bench

__all__ = ["doors"]

_SAMPLE = Path(__file__).resolve().parents[1] / "benches" / "sample" / "bench.yaml"


def doors(count: int, buttons: int = 0) -> Bench:
    """The sample bench with so many more guard switches and stop buttons in both channels of its relay."""
    data = yaml.safe_load(_SAMPLE.read_text(encoding="utf-8"))
    del data["shows"]
    more = {f"door{number}": {"kind": "guard_switch", "name": f"door {number}"} for number in range(count)}
    more |= {f"stop{number}": {"kind": "stop_button", "name": f"stop {number}"} for number in range(buttons)}
    data["devices"] |= more
    for channel in "ab":
        data["wiring"][f"relay.channel_{channel}"] += "".join(f" and {name}.{channel}" for name in more)
    return parse_bench("doors", yaml.safe_dump(data, sort_keys=False))
