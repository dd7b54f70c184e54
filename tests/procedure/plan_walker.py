"""Walks a plan of the built-in bench on its twin: who stands at the twin does what the steps say, and waits."""

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from interlock.bench import Bench, load_bench
from interlock.demo.cell import cell
from interlock.demo.walk import BENCH_FILE
from interlock.procedure.derive import derive
from interlock.procedure.plan import Plan
from interlock.replay import Judgement, replay
from interlock.twin import Act, Deed, Defect, Fault, Flaw, Scenario, humanly, run, write

ACTS = {
    ("hood", "open_a"): Act.OPEN_COVER,
    ("hood", "close_a"): Act.CLOSE_COVER,
    ("stop_button", "press"): Act.PRESS_STOP,
    ("stop_button", "release"): Act.RELEASE_STOP,
    ("emergency", "press"): Act.PRESS_EMERGENCY,
    ("emergency", "release"): Act.RELEASE_EMERGENCY,
    ("reset", "press"): Act.PRESS_RESET,
    ("reset", "release"): Act.RELEASE_RESET,
    ("supply_on", "press"): Act.PRESS_SUPPLY,
    ("supply_on", "release"): Act.RELEASE_SUPPLY,
}
RUN_UP = {("prime", "start"), ("brake", "start"), ("setpoints", "set")}  # on the twin one act together
TO_STEP_1 = (Deed(0.6, Act.RELEASE_EMERGENCY), Deed(0.9, Act.RELEASE_STOP), Deed(1.4, Act.CLOSE_COVER))
"""The twin wakes with every device asking for a stop."""
STEP_1_S = 2.0


@cache
def demo_bench() -> Bench:
    return load_bench(BENCH_FILE)


@cache
def demo_plan() -> Plan:
    return derive(demo_bench())


def scenario(
    steps: Iterable[tuple[str, tuple[str, ...], int]],
    rpm: float = 2400.0,
    ends: list[float] | None = None,
) -> Scenario:
    """The deeds of steps given as device, acts, seconds to wait; `ends` takes the instant when each is over."""
    deeds, at_s, begun = list(TO_STEP_1), STEP_1_S, set[tuple[str, str]]()
    for device, does, wait_s in steps:
        if not does:
            if ends is not None:
                ends.append(at_s)
            continue
        at_s += 0.4
        if (device, does[0]) in RUN_UP:
            begun.add((device, does[0]))
            if begun == RUN_UP:
                deeds += [
                    Deed(at_s, Act.START),
                    Deed(at_s, Act.SET_SPEED, rpm),
                    Deed(at_s + 0.9, Act.SET_TORQUE, 16.0),
                ]
                begun = set()
        else:
            deeds.append(Deed(at_s, ACTS[device, does[0]]))
        at_s += wait_s
        if ends is not None:
            ends.append(at_s)
    end = (Deed(at_s, Act.SET_TORQUE, 0.0), Deed(at_s, Act.SET_SPEED, 0.0))
    return Scenario((*deeds, *end), at_s + 1.5)


def walked(
    plan: Plan,
    folder: Path,
    flaws: Iterable[Flaw | Defect] = (),
    faults: Iterable[Fault] = (),
    seed: int = 5,
) -> Judgement:
    """The verdict on the log of the plan walked on the twin with these flaws and faults."""
    rng = np.random.default_rng(seed)
    acted = humanly(scenario((one.device, one.does, one.wait_s) for one in plan.steps), rng)
    twin = replace(cell(), step_s=0.001)
    done, log = run(twin, acted, rng, flaws, faults=faults), folder / "walk.log"
    write(done.log, done.truth.epoch_s, log)
    return replay(BENCH_FILE, demo_bench(), [log])
