"""Two faults that both come and go, and one that does so twice: what only the sum of their pulses does.

That a fault's end must start nothing: ISO 13849-1:2015, 5.2.2 and 5.2.3, and ISO 14118 (unexpected start-up), clauses
from memory. The bench is invented: a motor that runs once two relays, or one that counts, have seen a pulse each.
"""

from collections import deque
from functools import cache
from io import StringIO
from itertools import product
from typing import Any

import jsonschema
import pytest
from chain_benches import WRONG
from chain_fault_benches import SMALL, only
from chain_fault_naive import FaultyWorld, every_fault
from rich.console import Console

from interlock.bench import Bench, load_bench
from interlock.chain import Cleared, check, check_schema
from interlock.chain.clearing import judge_clearing
from interlock.chain.story import Part
from interlock.cli.clearing_page import show_clearing
from interlock.verdict import Verdict

PULSE = {"text": "a pulse comes in on its wire", "source": "invented", "inputs": {"pulse": "always"}}
ONCE: dict[str, Any] = {
    "text": "relay that picks up by a pulse",
    "inputs": {"pulse": "never"},
    "start": "off",
    "states": {"off": "off", "armed": "within a pulse", "on": "on"},
    "outputs": {"out": "on"},
    "transitions": [
        {"when": "pulse", "from": "off", "to": "armed"},
        {"when": "not pulse", "from": "armed", "to": "on"},
    ],
    "faults": {"flickers": PULSE, "chatters": {**PULSE, "clears": False}},
}
TWICE: dict[str, Any] = {
    **ONCE,
    "states": {**ONCE["states"], "half": "saw one pulse", "again": "within the second pulse"},
    "transitions": [
        {"when": "pulse", "from": "off", "to": "armed"},
        {"when": "not pulse", "from": "armed", "to": "half"},
        {"when": "pulse", "from": "half", "to": "again"},
        {"when": "not pulse", "from": "again", "to": "on"},
    ],
}
Phases = tuple[str, ...]
AFTER = {"never": "there", "there": "gone", "gone": "back", "back": "left"}


def bench(kind: dict[str, Any], *relays: str, kept: tuple[str, ...]) -> Bench:
    devices = {name: {"kind": "pulse_relay", "name": f"{name} relay"} for name in relays}
    wiring = {"unit.run": " and ".join(f"{name}.out" for name in relays)}
    built = Bench.model_validate(
        {
            **SMALL,
            "kinds": {"pulse_relay": kind},
            "devices": {**SMALL["devices"], **devices},
            "wiring": {**SMALL["wiring"], **wiring},
            "exclusions": [],
        }
    )
    return only(built, *kept)


@cache
def two() -> Bench:
    return bench(ONCE, "first", "second", kept=("first.flickers", "second.flickers"))


@cache
def counted() -> Bench:
    return bench(TWICE, "first", kept=("first.flickers",))


def found(one: Bench) -> tuple[Cleared, ...]:
    clearing = judge_clearing(one, unnoticed=[])
    assert clearing.both is not None
    assert clearing.both.whole
    return clearing.both.found


def starts_by_hand(one: Bench, *names: str, twice: bool = False) -> set[Phases]:
    """The phases of the faults in which the unit begins to make torque by nobody's start, walked state by state."""
    faults = every_fault(one)
    phases = ("never", "there", "gone", *(("back", "left") if twice else ()))
    worlds = {
        stage: FaultyWorld(
            one,
            faults,
            frozenset(name for name, at in zip(names, stage, strict=True) if at in {"there", "back"}),
        )
        for stage in product(phases, repeat=len(names))
    }
    sound, meant = worlds[("never",) * len(names)], {"unit"}
    todo = deque((stage, world.start) for stage, world in worlds.items() if set(stage) <= {"never", "there"})
    met, starts = set(todo), set[Phases]()
    while todo:
        stage, state = todo.popleft()
        after = [(stage, move.after, move.device) for move in worlds[stage].moves(state)]
        for at, now in enumerate(stage):
            then = (*stage[:at], AFTER.get(now, ""), *stage[at + 1 :])
            if then in worlds:
                after.append((then, worlds[then].settle(state), ""))
        for then, now, actor in after:
            torque = [sound.values(moment)["unit.torque"] for moment in (state, now)]
            if torque == [False, True] and actor not in meant:
                starts.add(then)
            if (then, now) not in met:
                met.add((then, now))
                todo.append((then, now))
    return starts


# What is found.


def test_two_relays_that_each_saw_a_pulse_start_the_motor() -> None:
    [one] = found(two())
    assert (one.fault, one.beside, one.passing) == ("first.flickers", "second.flickers", True)
    assert one.restarts == ("unit",)
    assert starts_by_hand(two(), "first.flickers", "second.flickers") == {("gone", "gone")}


def test_one_relay_that_counts_needs_the_same_fault_twice() -> None:
    [one] = found(counted())
    assert (one.fault, one.beside, one.passing) == ("first.flickers", "first.flickers", True)
    assert starts_by_hand(counted(), "first.flickers", twice=True) == {("left",)}
    assert starts_by_hand(counted(), "first.flickers") == set()


def test_alone_or_beside_a_lasting_fault_neither_does_harm() -> None:
    for one in (two(), counted()):
        clearing = judge_clearing(one, unnoticed=["first.flickers"])
        assert clearing.found == ()
        assert clearing.beside is not None
        assert clearing.beside.found == ()


def test_a_fault_that_does_not_clear_is_no_pulse() -> None:
    lasting = bench(ONCE, "first", "second", kept=("first.flickers", "second.chatters"))
    assert found(lasting) == ()
    assert starts_by_hand(lasting, "first.flickers") == set()


def test_what_one_does_alone_is_not_told_of_two() -> None:
    alone = bench(ONCE, "first", kept=("first.flickers", "relay.out_a_welds"))
    assert found(alone) == ()
    assert [one.fault for one in judge_clearing(alone).found] == ["first.flickers"]


@pytest.mark.parametrize(
    "other", ["stop.a_stays_closed", "relay.out_a_welds", "relay.wire_reset_short_to_supply"]
)
def test_walked_by_hand_the_same_pairs_start_the_motor(other: str) -> None:
    mixed = bench(ONCE, "first", kept=("first.flickers", other))
    by_hand = starts_by_hand(mixed, "first.flickers", other)
    less = {one for one in by_hand if one != ("gone", "gone")}
    told = {(one.fault, one.beside) for one in found(mixed) if one.restarts}
    assert bool(told - {("first.flickers", "first.flickers")}) == (("gone", "gone") in by_hand and not less)


def test_on_a_bench_with_two_relays_two_flickering_reset_wires_reset_it() -> None:
    """Each relay takes the end of a short as its reset released, and no person has pressed anything."""
    wires = ("k1.wire_reset_short_to_supply", "k2.wire_reset_short_to_supply")
    series = load_bench(WRONG / "14_hood_stops_only_the_pump.yaml")
    [one] = [one for one in found(only(series, *wires)) if one.lost]
    assert {one.fault, one.beside} == set(wires)
    assert "halt_stop" in one.lost


# How it is told.


def test_it_is_told_with_acts_and_a_picture_in_which_both_go() -> None:
    [one] = found(two())
    words = [act.words for act in one.acts]
    assert sum("the fault goes away by itself" in said for said in words) == 2
    assert one.title == f"{one.words}, AND {one.beside_words}"
    assert "once both have gone away by themselves" in one.sentence
    assert "Neither of the two faults does that alone." in one.sentence
    assert one.sentence.endswith(f"It takes {len(one.acts)} steps.")
    rows = [row for row in one.story.signals if row.part is Part.FAULT]
    assert len(rows) == 2
    assert all(not row.high[-1] and any(row.high) for row in rows)
    assert one.story.moments == len(one.acts) + 1


def test_the_same_fault_twice_is_told_once_in_the_picture() -> None:
    [one] = found(counted())
    assert one.title == f"{one.words}, TWICE"
    assert "Once alone it does not do that." in one.sentence
    [row] = [row for row in one.story.signals if row.part is Part.FAULT]
    changes = [b for a, b in zip(row.high, row.high[1:], strict=False) if a != b]
    assert changes[-2:] == [True, False]
    assert sum("the fault goes away by itself" in act.words for act in one.acts) == 2


def test_it_informs_and_changes_no_verdict() -> None:
    result = check(two(), faults=2)
    rule = [one for one in result.properties if one.id == "clearing_never_starts"]
    assert [one.verdict for one in rule] == [Verdict.PASS]


def test_only_two_faults_at_a_time_ask_for_it() -> None:
    one = check(two(), faults=1).clearing
    assert one is not None
    assert one.both is None
    assert one.as_json()["both"] is None
    assert "one at a time" in check(two(), faults=1).assumptions[0]
    assert "twice, and with any other such fault" in check(two(), faults=2).assumptions[0]


def test_the_result_follows_its_schema_and_names_the_pair() -> None:
    document = check(two(), faults=2).as_json()
    jsonschema.validate(document, check_schema())
    [one] = document["clearing"]["both"]["found"]
    assert one["title"] == f"{one['words']}, AND {one['beside_words']}"


def test_the_text_says_what_was_and_what_was_not_looked_at() -> None:
    clearing = judge_clearing(two(), unnoticed=[])
    show_clearing(Console(file=(out := StringIO()), width=120), clearing, every=False)
    text = " ".join(out.getvalue().split())
    assert "Two faults that both go away by themselves, or one that comes twice" in text
    assert "any two of 2 kinds of faults that come and go, and each of them twice" in text
    assert "More than two comings and goings were not looked at." in text
    assert "first relay: a pulse comes in on its wire, AND second relay" in text


def test_what_was_not_seen_whole_is_said_so() -> None:
    clearing = judge_clearing(two(), unnoticed=[], most_bytes=100)
    assert clearing.both is not None
    assert not clearing.both.whole
    assert clearing.both.sentence.startswith("Not verified: ")
    assert clearing.both.found == ()
