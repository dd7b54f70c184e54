"""Faults that go away by themselves: what a search finds is what walking the bench by hand finds.

That a fault's end must start nothing: ISO 13849-1:2015, 5.2.2 and 5.2.3, and ISO 14118 (unexpected start-up), clauses
from memory. The benches are invented.
"""

from collections import deque

import jsonschema
import numpy as np
import pytest
from chain_benches import sample
from chain_fault_naive import FaultyWorld, every_fault
from chain_shapes import shape

from interlock.bench import Bench, builtin_kinds
from interlock.chain import check, check_schema
from interlock.chain.clearing import judge_clearing
from interlock.chain.clearing_property import clearing_properties
from interlock.chain.clearing_result import Clearing
from interlock.chain.clearing_sets import GONE, THERE, ComingAndGoing, coming
from interlock.verdict import Verdict

FAN = "line_motor_by_two_contactors"
SEALED_BEFORE = (
    "k2.coil: k1.out_a and (go.pressed or q1.aux and q2.aux)",
    "k2.coil: k1.out_a and (go.pressed or k2.out_a)",
)
NEVER: frozenset[str] = frozenset()


@pytest.fixture(scope="module")
def sealed_before() -> Bench:
    """The start relay seals itself in: it remembers the start even while the contactors' coils have no current."""
    return shape(FAN, SEALED_BEFORE)


@pytest.fixture(scope="module")
def cleared(sealed_before: Bench) -> Clearing:
    return judge_clearing(sealed_before)


def test_a_motor_that_remembers_its_start_starts_again_by_a_loose_wire(cleared: Clearing) -> None:
    found = {one.fault: one for one in cleared.found}
    loose = found["q1.wire_coil_break"]
    assert loose.restarts == ("fan",)
    words = [act.words for act in loose.acts]
    assert words[-1].startswith("a moment later") or "goes away by itself" in words[-1]
    assert "the fault goes away by itself: first contactor: the wire to coil is broken" in words
    gone = words.index("the fault goes away by itself: first contactor: the wire to coil is broken")
    assert [act.who for act in loose.acts[gone + 1 :]] == ["first contactor"]  # it closes, nobody acts


def test_sealed_in_by_the_contactors_themselves_it_stays_off() -> None:
    assert [one.fault for one in judge_clearing(shape(FAN)).found if one.restarts] == []


def test_a_fault_that_lasts_is_not_let_go() -> None:
    """A broken actuator does not mend itself; the demo's kinds say so of what is broken or has come off."""
    lasting = {
        f"{kind}.{name}"
        for kind, declared in builtin_kinds().items()
        for name, fault in declared.faults.items()
        if not fault.clears
    }
    assert {
        "guard_switch.does_not_follow",
        "emergency_stop.contacts_come_off",
        "guard_locking.bolt_breaks",
    } <= lasting
    assert "contactor.welds" not in lasting


def test_the_check_fails_by_it_only_when_faults_are_asked_for(sealed_before: Bench) -> None:
    assert check(sealed_before, faults=0).verdict is Verdict.PASS
    asked = check(sealed_before, faults=1)
    [one] = [one for one in asked.properties if one.id == "clearing_never_starts"]
    assert (one.verdict, one.subject) == (Verdict.FAIL, "fan")
    assert one.acts
    jsonschema.validate(asked.as_json(), check_schema())
    jsonschema.validate(check(sealed_before, faults=0).as_json(), check_schema())


def test_a_flickering_reset_contact_resets_unasked() -> None:
    """Pressed and let go is all that a relay sees of a reset: a contact that flickers looks the same."""
    found = {one.fault: one for one in judge_clearing(sample()).found}
    assert set(found) == {
        "reset.stays_pressed",
        "reset.stays_open",
        "relay.wire_reset_short_to_supply",
        "relay.wire_reset_break",
    }
    assert found["reset.stays_pressed"].lost == ("cover_stop", "button_stop", "emergency_stop")
    assert all(one.restarts == () for one in found.values())


def test_what_was_not_seen_whole_never_passes(sealed_before: Bench) -> None:
    short = judge_clearing(sealed_before, most_bytes=1000)
    assert not short.whole
    assert [one.verdict for one in clearing_properties(sealed_before, short)] == [Verdict.INCONCLUSIVE]
    nothing = Clearing((), "searched", whole=True)
    assert [one.verdict for one in clearing_properties(sealed_before, nothing)] == [Verdict.PASS]


# The sets: no fault, one that is there, one that has gone.


def test_sets_of_faults_that_come_and_go() -> None:
    sets = ComingAndGoing(coming(["x", "y", "z"]))
    assert sets.sets == ((), (0,), (1,), (2,), (), (), ())
    assert [sets.within(number) for number in range(7)] == [[], [0], [0], [0], [1], [2], [3]]
    assert [one[0][1] for one in sets.each[1:]] == [THERE] * 3 + [GONE] * 3
    assert [sets.less(number) for number in (0, 2, 5)] == [set(), {0}, {0, 2}]
    assert sets.unpack(sets.having("y")[None, :])[0].tolist() == [
        False,
        False,
        True,
        False,
        False,
        False,
        False,
    ]


def test_a_fault_arrives_once_and_what_has_gone_stays_gone() -> None:
    sets = ComingAndGoing(coming([f"f{number}" for number in range(70)]))  # more than one word of bits

    def after(number: int) -> list[int]:
        one = np.zeros((1, len(sets.sets)), np.bool_)
        one[0, number] = True
        return np.flatnonzero(sets.unpack(sets.one_more(sets.pack(one)))[0]).tolist()

    assert after(0) == list(range(1, 71))
    assert after(3) == [73]
    assert after(73) == []


# A second opinion: each fault in a world of its own, walked state by state.


def restarted_by_hand(bench: Bench, name: str, unit: str) -> bool:
    """Whether the unit's torque begins by the fault's going away, or late after that, and not while it is there."""
    faults, sound = every_fault(bench), FaultyWorld(bench, every_fault(bench), NEVER)
    bent = FaultyWorld(bench, faults, frozenset({name}))
    todo = deque([("never", sound.start), ("there", bent.start)])
    met, torque = set(todo), f"{unit}.torque"
    meant = {"reset", *(one.demand for one in bench.required.functions.values())}

    def unasked(was: tuple[str, ...], now: tuple[str, ...], actor: str | None) -> bool:
        starts = sound.values(now)[torque] and not sound.values(was)[torque]
        held = any(value for port, value in sound.values(now).items() if port == "go.pressed")
        return starts and not held and (actor is None or actor in meant)

    found = {"there": False, "gone": False}
    while todo:
        stage, state = todo.popleft()
        world = bent if stage == "there" else sound
        after = [
            (stage, move.after, None if move.delay_ns is not None else move.device)
            for move in world.moves(state)
        ]
        if stage == "never":
            after.append(("there", bent.settle(state), None))
        if stage == "there":
            after.append(("gone", sound.settle(state), None))
        for step in after:
            if step[0] in found and unasked(state, step[1], step[2]):
                found[step[0]] = True
            if step[:2] not in met:
                met.add(step[:2])
                todo.append(step[:2])
    return found["gone"] and not found["there"]


@pytest.mark.parametrize(
    "name",
    [
        "q1.wire_coil_break",
        "q1.does_not_close",
        "q1.mirror_stays_open",
        "k2.does_not_pick",
        "k1.out_a_stays_open",
    ],
)
def test_walked_by_hand_the_same_faults_start_the_motor(
    sealed_before: Bench, cleared: Clearing, name: str
) -> None:
    found = {one.fault for one in cleared.found if one.restarts}
    assert (name in found) == restarted_by_hand(sealed_before, name, "fan")
