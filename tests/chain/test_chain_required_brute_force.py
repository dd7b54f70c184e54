"""Benches with zones, own limits, resets and none, wired at random: the plain judge finds what the prover finds.

The plain judge (`chain_naive`) is written from the requirement alone and shares no rule and no compiled form.
"""

import random
import re

import pytest
from chain_naive import Judge, World
from chain_naive_rules import soonest_of_all
from chain_shapes import SHAPES

from interlock.bench import Bench, parse_bench
from interlock.chain import PropertyResult, check
from interlock.errors import BenchError
from interlock.verdict import Verdict

SMALL = [
    "one_reset_for_two_zones",
    "flow_switch",
    "drive_that_trips",
    "start_stop_station",
    "ramp_beside_sto",
    "old_drive_behind_a_contactor",
    "two_hand_control",
    "stop_input_and_delay",
]
WIRE = re.compile(r"  [a-z0-9_]+\.[a-z_]+: ")


def rewired(name: str, rng: random.Random) -> Bench | None:
    """The bench with one or two of its wires changed; None if that makes no bench."""
    lines = (SHAPES / f"{name}.yaml").read_text("utf-8").splitlines()
    wires = [at for at, line in enumerate(lines) if WIRE.match(line)]
    ports = sorted(
        {port for at in wires for port in re.findall(r"\b[a-z0-9_]+\.[a-z_]+\b", lines[at].split(": ")[1])}
    )
    for at in rng.sample(wires, rng.choice([1, 2])):
        key, wired = lines[at].split(": ", 1)
        new = rng.choice(["({0}) or {1}", "({0}) and {1}", "({0}) or not {1}", "{1}"])
        lines[at] = f"{key}: {new.format(wired, rng.choice(ports))}"
    try:
        return parse_bench(f"{name}.yaml", "\n".join(lines) + "\n")
    except BenchError:
        return None


def steps_of(result: tuple[PropertyResult, ...], one: PropertyResult) -> int | None:
    """The fewest steps to a violation of the rule; properties that the plain judge does not tell apart count as one."""
    same = [
        len(other.acts)
        for other in result
        if (other.id, other.function, other.subject) == (one.id, one.function, one.subject)
        and other.verdict is Verdict.FAIL
    ]
    return min(same, default=None)


@pytest.mark.parametrize("seed", range(8))
def test_a_rewired_bench_is_judged_alike(seed: int) -> None:
    rng = random.Random(seed)
    bench = next(found for _ in range(50) if (found := rewired(rng.choice(SMALL), rng)) is not None)
    try:
        result = check(bench, faults=0).properties
    except BenchError:  # a loop without a delay
        with pytest.raises(RecursionError):
            World(bench).reachable()
        return
    judge = Judge(World(bench))
    for one in result:
        if one.id != "recovers":
            assert soonest_of_all(judge, one.id, one.function, one.subject) == steps_of(result, one), (
                one.title
            )
