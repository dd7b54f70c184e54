"""What the requirement speaks of, as truths over states, held against the plain interpreter."""

import numpy as np
import pytest
from plan_benches import DEMO, SAMPLE, WRONG, bench_of

from interlock.chain import reference
from interlock.procedure.faulted import FAULT, SOUND, Faulted, faulted
from interlock.procedure.features import Features, features_of, seen_ports
from interlock.procedure.moves import moves_of, table_of


@pytest.fixture(scope="module")
def demo() -> tuple[Faulted, Features]:
    bench = bench_of(DEMO)
    chain = faulted(bench)
    rest = table_of(chain.graph, chain.faulty.chain.events, moves_of(bench), 0).rest
    return chain, features_of(bench, chain, rest)


def test_shown_ports_are_seen_and_hidden_ones_are_not() -> None:
    ports = seen_ports(bench_of(DEMO))
    assert {"hood.a", "contactor.main", "prime.torque", "setpoints.set", "link.live"} <= set(ports)
    assert "relay.out_a" not in ports
    assert "stop_button.a" not in ports


def test_without_a_log_the_effects_are_what_one_sees() -> None:
    bench = bench_of(WRONG + "02_brake_sto_not_wired.yaml")
    devices = {port.partition(".")[0] for port in seen_ports(bench)}
    assert bench.shows is None
    assert devices == {"pump", "brake", "setpoints"}


@pytest.mark.parametrize("name", [DEMO, SAMPLE])
def test_a_bench_of_one_mode_has_one_situation(name: str) -> None:
    bench = bench_of(name)
    chain = faulted(bench)
    features = features_of(
        bench, chain, table_of(chain.graph, chain.faulty.chain.events, moves_of(bench), 0).rest
    )
    assert features.together == {(): (frozenset(bench.required.effects.torque_off.of),)}
    assert features.selectors == {}
    assert {features.situation(bench, state) for state in range(0, len(chain.graph.states), 997)} == {""}


def test_what_is_seen_is_what_the_interpreter_sees(demo: tuple[Faulted, Features]) -> None:
    """A sample of the states, each with its fault."""
    chain, features = demo
    fields = {one.id: one.field for one in chain.faults}
    outputs = chain.faulty.truth.compiled.outputs
    for number in np.random.default_rng(2).choice(len(chain.graph.states), 150, replace=False).tolist():
        state = chain.graph.layout.unpack(int(chain.graph.states[number]))
        fault = state.pop(FAULT)
        state |= {field: "present" if one == fault else "absent" for one, field in fields.items()}
        for bit, port in enumerate(features.ports):
            seen = bool(int(features.seen[number]) >> bit & 1)
            assert seen == reference.holds(outputs[port], state, state), (fault, port)


def test_power_up_of_the_sound_bench_is_at_rest_and_off(demo: tuple[Faulted, Features]) -> None:
    chain, features = demo
    at = int(chain.first[0])
    assert chain.graph.layout.unpack(int(chain.graph.states[at]))[FAULT] == SOUND
    assert not features.running(at)
    assert not features.under_load(at)
    assert not any(one[at] for one in features.demand.values())


def test_demands_are_those_of_the_person_even_if_a_contact_fails(demo: tuple[Faulted, Features]) -> None:
    chain, features = demo
    layout, states = chain.graph.layout, chain.graph.states
    pressed = layout.within(states, "stop_button", frozenset({"pressed"}))
    assert (features.demand["button_stop"] == pressed).all()


def test_a_mode_in_which_some_units_rest_counts_as_running_with_the_others() -> None:
    """Else the proof test would pass that mode over, as if the bench never ran in it."""
    bench = bench_of("tests/benches/shapes/set_up_of_one_unit.yaml")
    chain = faulted(bench)
    rest = table_of(chain.graph, chain.faulty.chain.events, moves_of(bench), 0).rest
    features = features_of(bench, chain, rest)
    running = [state for state in range(len(chain.graph.states)) if features.running(state)]
    sets = {(features.situation(bench, state), features.units(state)) for state in running}
    assert sets == {("key=work", frozenset({"drive", "load"})), ("key=setup", frozenset({"drive"}))}
