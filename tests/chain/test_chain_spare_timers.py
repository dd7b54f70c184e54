"""A guard that two timers keep locked, or a timer beside a standstill monitor: one fault of the one is no loss.

ISO 14119:2013, 5.7 (guard locking) and ISO 13849-1:2015, 6.2.6 (category 3), both from memory. Invented benches.
"""

from dataclasses import replace
from functools import cache

import pytest
from chain_fault_benches import only
from chain_shapes import shape

from interlock.bench import Bench
from interlock.chain import FaultResult, check, ir, judge_faults
from interlock.chain.assumptions import of_spare_timers
from interlock.chain.bent import PRESENT, compile_faulty
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.fault_list import considered
from interlock.chain.fault_property import fault_properties
from interlock.chain.judge import judge
from interlock.chain.lock_rules import danger, timers
from interlock.chain.property import NeverStep, Property
from interlock.chain.requirement import Requirement
from interlock.chain.watched import watch
from interlock.verdict import Verdict

Change = tuple[str, str]
NAME, LOST = "lock_freed_by_a_relay", "locked_until_standstill"
WIRES = "  k2.coil: k1.out_a and k1.out_b\n  guard.permit: not k2.out_a and not k2.out_b"
ONE = "  k2: {kind: off_delay_relay, name: timer relay, delays: {off_delay: 15 s}}\n"
SECOND = "  k3: {kind: off_delay_relay, name: second timer, delays: {off_delay: 12 s}}\n"
SHARED = "  k9: {kind: plain_relay, name: shared relay}\n"
COILS = "  k2.coil: k1.out_a and k1.out_b\n  k3.coil: k1.out_a and k1.out_b\n"
GUARD = {"guard.bolt_breaks", "guard.wire_permit_short_to_supply"}
"""What no second timer helps against: the guard itself, and the one line to it."""

BOTH = "not k2.out_a and not k3.out_a"
BENCHES: dict[str, list[Change]] = {
    "one timer": [],
    "two timers": [(ONE, ONE + SECOND), (WIRES, f"{COILS}  guard.permit: {BOTH}")],
    "either of two timers": [
        (ONE, ONE + SECOND),
        (WIRES, f"{COILS}  guard.permit: not k2.out_a or not k3.out_a"),
    ],
    "two timers behind one relay": [
        (ONE, ONE + SECOND + SHARED),
        (
            WIRES,
            "  k9.coil: k1.out_a and k1.out_b\n  k2.coil: k9.out_a\n  k3.coil: k9.out_a\n"
            f"  guard.permit: {BOTH}",
        ),
    ],
    "two timers behind two contacts": [
        (ONE, ONE + SECOND + SHARED),
        (
            WIRES,
            "  k9.coil: k1.out_a and k1.out_b\n  k2.coil: k9.out_a\n  k3.coil: k1.out_a and k1.out_b\n"
            f"  guard.permit: {BOTH}",
        ),
    ],
    "a second timer that is too short": [
        (ONE, ONE + SECOND.replace("12 s", "4 s")),
        (WIRES, f"{COILS}  guard.permit: {BOTH}"),
    ],
    "a monitor": [(WIRES, "  k2.coil: k1.out_a\n  guard.permit: shaft.still")],
    "a timer beside a monitor": [
        (WIRES, "  k2.coil: k1.out_a and k1.out_b\n  guard.permit: shaft.still and not k2.out_a"),
    ],
    "a timer or a monitor": [
        (WIRES, "  k2.coil: k1.out_a and k1.out_b\n  guard.permit: shaft.still or not k2.out_a"),
    ],
}
OF_K2 = {"k2.no_delay", "k2.does_not_pick", "k2.wire_coil_break", "k2.out_a_stays_open"}


def bench(name: str, *more: Change) -> Bench:
    return shape(NAME, *BENCHES[name], *more)


@cache
def table(name: str) -> dict[str, FaultResult]:
    """The single faults of the guard, of what keeps it locked, and of the shaft."""
    plain = bench(name)
    there = [one.id for one in considered(plain) if one.device in {"guard", "k2", "k3", "k9", "shaft"}]
    return {one.set[0]: one for one in judge_faults(only(plain, *there), 1).faults}


def lost(name: str) -> set[str]:
    """The single faults under which the guard may be free while the shaft turns, but for those of the guard itself."""
    found = {one for one, told in table(name).items() if LOST in {effect for _, effect in told.effects}}
    assert found >= GUARD
    return found - GUARD


@pytest.mark.parametrize("name", BENCHES)
def test_without_a_fault_each_of_them_keeps_the_guard_locked(name: str) -> None:
    assert {one.verdict for one in check(bench(name), faults=0).properties} == {Verdict.PASS}


@pytest.mark.parametrize("name", ["two timers", "two timers behind two contacts", "a timer beside a monitor"])
def test_should_pass_where_something_else_keeps_it_locked(name: str) -> None:
    assert lost(name) == set()


@pytest.mark.parametrize(
    ("name", "faults"),
    [
        ("one timer", OF_K2 - {"k2.out_a_stays_open"}),
        ("either of two timers", OF_K2 | {one.replace("k2", "k3") for one in OF_K2}),
        ("two timers behind one relay", {"k9.does_not_pick", "k9.out_a_stays_open", "k9.wire_coil_break"}),
        ("a second timer that is too short", OF_K2),
        ("a monitor", {"shaft.still_always"}),
        ("a timer or a monitor", OF_K2 | {"shaft.still_always"}),
    ],
)
def test_should_fail_where_one_fault_defeats_all_that_keeps_it_locked(name: str, faults: set[str]) -> None:
    assert lost(name) == faults


@pytest.mark.parametrize(("name", "verdict"), [("two timers", Verdict.PASS), ("one timer", Verdict.FAIL)])
def test_a_bench_that_must_withstand_single_faults_passes_with_the_second_timer_alone(
    name: str, verdict: Verdict
) -> None:
    asked = ("      demand: guard\n", "      demand: guard\n      single_fault_tolerant: true\n")
    plain = bench(name, asked)
    told = only(plain, *(one.id for one in considered(plain) if one.device in {"k2", "k3", "shaft"}))
    [one] = fault_properties(told, judge_faults(told, 1))
    assert (one.id, one.verdict) == ("single_fault_tolerant", verdict), one.sentence


def test_two_faults_that_defeat_one_after_the_other_lose_the_lock() -> None:
    keep = {"k2.no_delay", "k3.no_delay", "k3.wire_coil_break", "shaft.still_always", "k2.wire_coil_break"}
    for name, pairs in {
        "two timers": [("k2.no_delay", "k3.no_delay"), ("k2.wire_coil_break", "k3.wire_coil_break")],
        "a timer beside a monitor": [
            ("k2.no_delay", "shaft.still_always"),
            ("k2.wire_coil_break", "shaft.still_always"),
        ],
    }.items():
        plain = bench(name)
        there = keep & {one.id for one in considered(plain)}
        found = {one.set: one for one in judge_faults(only(plain, *there), 2).faults}
        for pair in pairs:
            assert LOST in {effect for _, effect in found[pair].effects}
            assert found[pair].minimal


# Against the proof of the sound bench, into which a fault is built for good.


def keeps(plain: Bench, fault: str) -> bool:
    """Whether the guard stays locked until standstill with the fault there for good, by the proof for sound benches."""
    [one] = [one for one in considered(plain) if one.id == fault]
    faulty = compile_faulty(
        plain, (one,), dict.fromkeys(range(100), ir.TRUE)
    )  # timers run out whenever they may
    chain, function = faulty.chain, plain.required.functions["guard_stop"]
    there = replace(chain.fields[-1], start=PRESENT)
    chain = replace(chain, fields=(*chain.fields[:-1], there))
    moving = danger(function, faulty.person, faulty.truth)[0]
    free = ir.all_of([ir.no(faulty.truth.output("guard", "locked")), moving])
    claim = NeverStep({"guard": free}, timers(function, faulty.person, faulty.truth))
    watched = watch(chain, explore(chain, 10**5), (), 10**5)
    asked = Property("", None, None, "", "", "", claim, (), "")
    return judge(watched, chain.events, asked).verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("name", "faults"),
    [
        ("two timers", ["k2.no_delay", "k2.wire_coil_break", "k3.stays_in"]),
        ("either of two timers", ["k2.no_delay", "k3.wire_coil_break"]),
        ("two timers behind one relay", ["k9.out_a_stays_open", "k9.wire_coil_break", "k2.no_delay"]),
        ("two timers behind two contacts", ["k9.out_a_stays_open"]),
        ("a timer beside a monitor", ["shaft.still_always", "k2.no_delay"]),
        ("a timer or a monitor", ["shaft.still_always", "k2.does_not_pick"]),
    ],
)
def test_a_fault_built_in_for_good_is_judged_as_in_the_table(name: str, faults: list[str]) -> None:
    """What breaks the lock from power-up on is in the table; of what is not in it nothing breaks the lock."""
    for fault in faults:
        if not keeps(bench(name), fault):
            assert fault in lost(name), fault
        elif fault in lost(name):
            assert not table(name)[fault].acts[0].words.startswith("from power-up on"), fault


def test_the_times_on_which_a_spare_timer_rests_are_told() -> None:
    plain = bench("a timer beside a monitor")
    [told] = of_spare_timers(Requirement(plain, compile_bench(plain)))
    assert "the off_delay of the timer relay counts as keeping the chamber guard locked" in told
    assert "no shorter than the 15 s" in told
    assert "no longer than 6 s" in told
    for name in ("one timer", "two timers", "a monitor"):
        assert not list(of_spare_timers(Requirement(bench(name), compile_bench(bench(name)))))


def test_they_are_told_only_where_faults_are_judged() -> None:
    for faults in (0, 1):
        said = check(only(bench("a timer beside a monitor"), "k2.no_delay"), faults=faults).assumptions
        assert any("Where a fault defeats the monitor" in one for one in said) is bool(faults)


def test_both_timers_are_told_where_each_alone_would_do() -> None:
    of = [one for one in check(bench("two timers"), faults=0).assumptions if "is freed by time" in one]
    assert [("15 s" in one, "12 s" in one) for one in of] == [(True, False), (False, True)]
