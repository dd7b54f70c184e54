"""Faults that are the wiring itself are left out of account; what stays in account may change something.

The oracle is the plain interpreter: with a fault that was left out, any random walk over the bench reads as without.
"""

import random
from functools import cache
from pathlib import Path

import pytest

from interlock.bench import Bench, load_bench, parse_bench
from interlock.chain import reference
from interlock.chain.bent import PRESENT, compile_faulty
from interlock.chain.fault_list import BenchFault, considered, excluded, faults_of

BENCHES = Path(__file__).parents[1] / "benches"
OLD = "shapes/old_drive_behind_a_contactor.yaml"  # its torque-off input is bridged to the supply

LEFT_OUT = {
    OLD: {"drive.sto_dead", "drive.wire_sto_short_to_supply"},  # a break still stops it for good
    "shapes/diagnostic_feedback.yaml": {"k1.cross_short"},  # one contact feeds both channels
    "shapes/stop_input_and_delay.yaml": {"drive.wire_run_break"},  # no start command is wired: `never`
    "wrong/03_one_sto_input_bridged.yaml": {"brake.sto_b_dead", "brake.wire_sto_b_short_to_supply"},
    "wrong/07_set_points_kept.yaml": {"setpoints.zeroing_lost"},  # nothing zeroes them anyway
    "sample/bench.yaml": set(),
    "shapes/three_doors.yaml": set(),  # each line is of a contact of its own
}


@cache
def bench_of(name: str) -> Bench:
    return load_bench(BENCHES / name)


def idle(bench: Bench) -> dict[str, BenchFault]:
    out = {one.id for one in considered(bench)} | {one.fault for one in excluded(bench)}
    return {one.id: one for one in faults_of(bench) if one.id not in out}


@pytest.mark.parametrize("name", sorted(LEFT_OUT))
def test_what_changes_nothing_is_left_out_and_nothing_else(name) -> None:
    assert set(idle(bench_of(name))) == LEFT_OUT[name]


def walked(bench: Bench, fault: BenchFault, seed: int, *, present: bool) -> list[reference.State]:
    """Where 60 events chosen by lot lead, faults left aside."""
    chain = compile_faulty(bench, (fault,)).chain
    first = {field.name: field.start for field in chain.fields}
    state = reference.settle(chain, {**first, **({fault.field: PRESENT} if present else {})})
    chance, seen = random.Random(seed), []
    own = [event for event in chain.events if event.device in bench.devices]
    for _ in range(60):
        event = chance.choice(own)
        if (step := reference.step_taken(event, state)) is not None:
            state = reference.settle(chain, {**state, event.device: step.to})
        seen.append({name: value for name, value in state.items() if name in bench.devices})
    return seen


@pytest.mark.parametrize("name", sorted(name for name, faults in LEFT_OUT.items() if faults))
def test_with_a_fault_that_was_left_out_the_bench_goes_the_same_ways(name) -> None:
    bench = bench_of(name)
    for fault in idle(bench).values():
        for seed in range(3):
            assert walked(bench, fault, seed, present=True) == walked(bench, fault, seed, present=False), (
                fault.id
            )


@pytest.mark.parametrize("id_", ["hood.a_stays_closed", "k1.wire_channel_a_break", "drive.wire_sto_break"])
def test_the_oracle_tells_a_fault_that_was_not_left_out(id_) -> None:
    bench = bench_of(OLD)
    [fault] = [one for one in considered(bench) if one.id == id_]
    assert any(
        walked(bench, fault, seed, present=True) != walked(bench, fault, seed, present=False)
        for seed in range(10)
    )


def test_an_exclusion_of_such_a_fault_is_still_taken() -> None:
    """Whoever excluded it in words may keep the words, and they are printed."""
    text = (BENCHES / OLD).read_text("utf-8") + (
        "\nexclusions:\n  - {fault: drive.sto_dead, reason: the input is bridged, source: own drawing}\n"
    )
    bench = parse_bench("bench.yaml", text)
    assert "drive.sto_dead" in {one.fault for one in excluded(bench)}
    assert "drive.sto_dead" not in {one.id for one in considered(bench)}
