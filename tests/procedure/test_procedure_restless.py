"""Benches that never come to rest: told with their place, or with the fault under which they do not."""

import copy
from pathlib import Path
from typing import Any

import pytest
import yaml
from plan_benches import ROOT, SAMPLE

from interlock.bench import Bench, parse_bench
from interlock.errors import BenchError, InterlockError
from interlock.procedure import derive

BUZZER: dict[str, Any] = {
    "text": "relay that follows its coil at once",
    "inputs": {"coil": "never"},
    "start": "off",
    "states": {"off": "dropped out", "on": "picked up"},
    "outputs": {"out": "on"},
    "transitions": [
        {"when": "coil", "from": "off", "to": "on"},
        {"when": "not coil", "from": "on", "to": "off"},
    ],
}


def bench_with(wiring: str, faults: dict[str, Any], tmp_path: Path) -> tuple[Bench, Path]:
    data = yaml.safe_load((ROOT / SAMPLE).read_text("utf-8"))
    data.pop("shows")
    data.pop("rating", None)
    data["kinds"] = {"buzzer": {**copy.deepcopy(BUZZER), "faults": faults}}
    data["devices"]["buzz"] = {"kind": "buzzer", "name": "auxiliary relay"}
    data["wiring"]["buzz.coil"] = wiring
    path = tmp_path / "bench.yaml"
    path.write_text(yaml.safe_dump(data, sort_keys=False))
    return parse_bench(str(path), path.read_text()), path


def test_a_loop_of_the_sound_bench_has_its_place(tmp_path: Path) -> None:
    bench, path = bench_with("not buzz.out", {}, tmp_path)
    with pytest.raises(BenchError, match="loop without a delay") as refused:
        derive(bench, file=path)
    assert str(refused.value).startswith(f"{path}:")
    line = int(str(refused.value).removeprefix(f"{path}:").split(":")[0])
    assert "buzz.coil" in path.read_text().splitlines()[line - 1]


def test_a_loop_under_a_fault_names_the_fault(tmp_path: Path) -> None:
    fault = {"text": "the contact acts the wrong way round", "source": "invented", "outputs": {"out": "off"}}
    bench, path = bench_with("buzz.out and cover.a", {"reversed": fault}, tmp_path)
    with pytest.raises(
        InterlockError, match=r"with fault 'buzz\.reversed' auxiliary relay keeps changing by itself"
    ):
        derive(bench, file=path)


def test_without_a_loop_it_is_planned(tmp_path: Path) -> None:
    bench, path = bench_with("cover.a", {}, tmp_path)
    plan = derive(bench, file=path)
    assert plan.not_exercised == ()
    assert plan.cost <= 1.15 * plan.lower_bound
