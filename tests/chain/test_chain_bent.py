"""Faults compiled into a chain: absent they change nothing, present they do what their kind says."""

import pytest
from chain_benches import sample
from chain_fault_benches import faulty_benches, only, small
from hypothesis import given, settings

from interlock.bench import Bench
from interlock.chain import ir, reference
from interlock.chain.bent import ABSENT, PRESENT, Faulty, compile_faulty
from interlock.chain.compile import compile_bench
from interlock.chain.fault_classes import assume, classes
from interlock.chain.fault_list import considered, excluded, faults_of
from interlock.chain.losses import losses


def compiled(bench: Bench) -> Faulty:
    return compile_faulty(bench, considered(bench))


def start(faulty: Faulty, *there: str) -> reference.State:
    state = {field.name: field.start for field in faulty.chain.fields}
    return {**state, **{f"fault {one}": PRESENT for one in there}}


def shown(faulty: Faulty, state: reference.State, port: str) -> bool:
    return reference.holds(faulty.truth.compiled.outputs[port], state, state)


def reached(faulty: Faulty, state: reference.State, port: str) -> bool:
    return reference.holds(faulty.truth.compiled.inputs[port], state, state)


@settings(max_examples=15, deadline=None)
@given(faulty_benches())
def test_without_faults_present_every_move_is_that_of_the_sound_bench(bench: Bench) -> None:
    faulty, sound = compiled(bench), compile_bench(bench).chain
    absent = {one.field: ABSENT for one in faulty.faults}
    try:
        todo = [reference.start(sound)]
        for state in todo[:1] + [after for _, after in reference.successors(sound, todo[0])]:
            plain = dict(reference.successors(sound, state))
            bent = dict(reference.successors(faulty.chain, {**state, **absent}))
            assert bent == {number: {**after, **absent} for number, after in plain.items()}
    except reference.WiringLoop:
        return


@pytest.mark.parametrize(
    ("faults", "port", "value"),
    [
        ((), "stop.a", True),
        (("stop.a_stays_open",), "stop.a", False),
        (("stop.a_stays_open", "stop.a_stays_closed"), "stop.a", False),  # at an output off wins
        (("stop.contacts_come_off",), "stop.b", True),
    ],
)
def test_an_output_is_forced(faults: tuple[str, ...], port: str, value: bool) -> None:
    faulty = compiled(small())
    assert shown(faulty, start(faulty, *faults), port) is value


@pytest.mark.parametrize(
    ("faults", "value"),
    [
        ((), True),
        (("relay.wire_channel_a_break",), False),
        (("stop.a_stays_open",), False),
        (("stop.a_stays_open", "relay.cross_short"), True),  # fed by the other line
        (("relay.wire_channel_a_break", "relay.wire_channel_a_short_to_supply"), True),  # at an input on wins
    ],
)
def test_an_input_is_forced(faults: tuple[str, ...], value: bool) -> None:
    faulty = compiled(small())
    assert reached(faulty, start(faulty, *faults), "relay.channel_a") is value


def test_a_person_demands_whatever_the_contacts_make_of_it() -> None:
    faulty = compiled(small())
    state = {**start(faulty, "stop.contacts_come_off"), "stop": "pressed"}
    assert reference.holds(faulty.person.demand("halt"), state, state)
    assert shown(faulty, state, "stop.a")


def test_a_blocked_delay_no_longer_waits() -> None:
    """Else an act that takes longer than the delay could never follow: nobody could unlatch the emergency stop."""
    faulty = compiled(sample())
    state = {**start(faulty, "contactor.welds"), "contactor": "opening", "estop": "latched"}
    possible = {
        (faulty.chain.events[number].device, faulty.chain.events[number].trigger)
        for number, _ in reference.successors(faulty.chain, state)
    }
    assert ("contactor", "drop_out") not in possible
    assert ("estop", "release") in possible


def test_a_way_between_two_states_is_blocked_from_that_state_alone() -> None:
    faulty = compiled(small())
    ready = {**start(faulty, "relay.out_a_welds"), "relay": "ready", "reset": "pressed"}
    assert reference.settle(faulty.chain, ready)["relay"] == "ready"
    armed = {**ready, "relay": "armed", "reset": "released"}
    assert reference.settle(faulty.chain, armed)["relay"] == "energised"


def alike(bench: Bench) -> list[set[str]]:
    faulty = compiled(bench)
    groups = classes(faulty, [loss.term for loss in losses(faulty)])
    return [{one.id for one in group} for group in groups.alike]


def test_contacts_in_series_that_stay_open_are_alike() -> None:
    [group] = [group for group in alike(sample()) if "cover.a_stays_open" in group]
    assert group == {"cover.a_stays_open", "button.a_stays_open", "estop.a_stays_open"}


def test_a_broken_wire_is_not_alike_to_an_open_contact() -> None:
    """With the two lines shorted to each other the other line feeds past the contact, but not past the break."""
    assert {"relay.wire_channel_a_break"} in alike(sample())


def test_a_dead_input_and_its_shorted_wire_are_alike() -> None:
    assert {"drive.sto_a_dead", "drive.wire_sto_a_short_to_supply"} in alike(sample())


def test_contacts_that_stay_closed_are_not_alike() -> None:
    assert {"cover.a_stays_closed"} in alike(sample())


def test_each_fault_is_in_one_class_or_idle() -> None:
    faulty = compiled(sample())
    groups = classes(faulty, [loss.term for loss in losses(faulty)])
    found = [one.id for group in groups.alike for one in group] + [one.id for one in groups.idle]
    assert sorted(found) == sorted(one.id for one in faulty.faults)
    assert {one.id for one in groups.idle} == {"contactor.mirror_stays_closed", "contactor.mirror_stays_open"}


def test_assuming_a_fault_folds_the_term() -> None:
    there = ir.Now("fault x", frozenset({PRESENT}))
    other = ir.Now("d", frozenset({"on"}))
    assert assume(ir.all_of([ir.no(there), other]), "fault x") == ir.FALSE
    assert assume(ir.any_of([ir.all_of([there, other]), ir.Was("e", frozenset({"s"}))]), "fault x") == ir.Any(
        (other, ir.Was("e", frozenset({"s"})))
    )


def test_excluded_faults_are_not_considered_but_listed() -> None:
    bench = only(small(), "stop.a_stays_closed")
    assert [one.id for one in considered(bench)] == ["stop.a_stays_closed"]
    assert len(excluded(bench)) == len(faults_of(bench)) - 1
    assert excluded(bench)[0].as_json()["reason"] == "invented"
