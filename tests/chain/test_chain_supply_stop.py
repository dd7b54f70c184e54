"""An emergency stop that takes the supply alone and is reset by supply-on: right and wrong neighbours of one bench.

Invented benches. A unit without supply makes no torque; the supply's return starts nothing (IEC 60204-1:2016, 7.5,
from memory); a bus keeps its charge until it is discharged (IEC 60204-1:2016, 6.2.4, from memory).
"""

import pytest
from chain_benches import expressions, merged
from chain_fault_benches import SMALL
from chain_naive import Judge, World
from chain_naive_rules import soonest, soonest_of_all
from chain_shapes import not_passed, of, shape
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.bench import Bench
from interlock.bench.bridged import buses_beside
from interlock.chain import CheckResult, check
from interlock.chain.fault_check import judge_faults
from interlock.errors import BenchError
from interlock.verdict import Verdict

NAME = "emergency_stop_by_supply"
COIL = "q1.coil: estop.c and (supply_on.pressed or q1.aux)"
LINK = ("  drive: {kind", "  link: {kind: dc_bus, name: DC link, delays: {discharge: 4 s}}\n  drive: {kind")
FED = ("  drive.sto_a: k1.out_a\n", "  link.feed: q1.main\n  drive.sto_a: k1.out_a\n")
ON_LINK = [
    LINK,
    FED,
    ("drive.supply: q1.main", "drive.supply: link.live"),
    ("load.supply: q1.main", "load.supply: link.live"),
]
Changes = list[tuple[str, str]]
RIGHT: dict[str, Changes] = {
    "as it is": [],
    "two contacts of the emergency stop stand in the line": [
        (COIL, "q1.coil: estop.c and estop.a and (supply_on.pressed or q1.aux)")
    ],
    "the torque-off inputs of one unit go as well": [
        ("load.sto_a: k1.out_a", "load.sto_a: k1.out_a and estop.a"),
        ("load.sto_b: k1.out_b", "load.sto_b: k1.out_b and estop.b"),
    ],
    "the link is discharged within the limit": [*ON_LINK, ("discharge: 4 s", "discharge: 30 ms")],
    "a start button starts": [
        ("  q1: {kind", "  go: {kind: push_button, name: start button}\n  q1: {kind"),
        ("load.supply: q1.main", "load.supply: q1.main\n  load.run: go.pressed"),
    ],
    "by a contactor relay": [
        ("  q1: {kind", "  k3: {kind: plain_relay, name: supply relay}\n  q1: {kind"),
        (COIL, "k3.coil: estop.c and (supply_on.pressed or k3.out_a)\n  q1.coil: k3.out_b"),
    ],
}
WRONG: dict[str, tuple[Changes, str]] = {
    "the contactor closes by the release": ([(COIL, "q1.coil: estop.c")], "supply_stays_off"),
    "supply-on works under the emergency stop": (
        [(COIL, "q1.coil: supply_on.pressed or estop.c and q1.aux")],
        "supply_on_dead",
    ),
    "a reference kept starts with the supply": (
        [("load.supply: q1.main", "load.supply: q1.main\n  load.run: k1.out_a")],
        "supply_return_never_starts",
    ),
    "one unit is fed past the contactor": ([("load.supply: q1.main", "load.supply: always")], "torque_off"),
    "the emergency stop is not in the line": (
        [(COIL, "q1.coil: supply_on.pressed or q1.aux")],
        "contactor_open",
    ),
    "the link keeps its charge": (ON_LINK, "torque_off"),
    "the link keeps its charge, and the units are wired to the contactor": ([LINK, FED], "torque_off"),
    "the contactor is slow": ([("drop_out: 40 ms", "drop_out: 150 ms")], "torque_off"),
    "the supply is an emergency-stop contact itself": (
        [("load.supply: q1.main", "load.supply: estop.c")],
        "release_never_restarts",
    ),
    "supply-on enables the units": (
        [("sto_a: k1.out_a", "sto_a: supply_on.pressed"), ("sto_b: k1.out_b", "sto_b: supply_on.pressed")],
        "reset_acts_on_release",
    ),
    "another button closes it": (
        [(COIL, "q1.coil: estop.c and (reset.pressed or supply_on.pressed or q1.aux)")],
        "stays_off",
    ),
}


def bench(changes: Changes) -> Bench:
    return shape(NAME, *changes)


def judged(changes: Changes) -> CheckResult:
    return check(bench(changes), faults=0)


@pytest.mark.parametrize("name", RIGHT)
def test_a_right_one_passes(name: str) -> None:
    assert not_passed(judged(RIGHT[name])) == {}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_one_fails_by_its_rule(name: str) -> None:
    changes, rule = WRONG[name]
    assert not_passed(judged(changes)).get(rule) is Verdict.FAIL


@pytest.mark.parametrize("name", ["as it is", "supply-on enables the units"])
def test_the_second_opinion_finds_the_same(name: str) -> None:
    here = bench(RIGHT[name] if name in RIGHT else WRONG[name][0])
    judge = Judge(World(here))
    for one in check(here, faults=0).properties:
        steps = len(one.acts) if one.verdict is Verdict.FAIL else None
        assert soonest(judge, one.id, one.function, one.subject) == steps, one.id


def rewired(ports: dict[str, str], button: str) -> Bench:
    """A stop button, supply-on, a contactor and a drive, wired at random; the stop is reset by that button."""
    kinds = {
        "stop": "stop_button", "reset": "push_button", "on": "push_button", "q1": "contactor", "unit": "drive_unit"
    }  # fmt: skip
    devices = {name: {"kind": kind, "name": name} for name, kind in kinds.items()}
    devices["q1"]["delays"] = {"pick_up": "20 ms", "drop_out": "20 ms"}
    required = merged(
        SMALL["required"],
        {
            "effects": {"torque_off": {"of": ["unit"]}},
            "functions": {
                "halt": {"reset_by": button, "supply": {"of": "q1", "on_by": "on", "source": "invented"}}
            },
        },
    )
    wiring = {"unit.sto_a": "always", "unit.sto_b": "reset.pressed or unit.enabled", "unit.supply": "q1.main"}
    return Bench.model_validate(
        {**SMALL, "kinds": {}, "devices": devices, "wiring": {**wiring, **ports}, "required": required}
    )


PORTS = ["stop.a", "on.pressed", "reset.pressed", "q1.main", "q1.aux", "unit.torque"]


@settings(max_examples=12, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(["q1.coil", "unit.sto_a", "unit.supply", "unit.run"]), expressions(PORTS), min_size=1
    ),
    st.sampled_from(["on", "on", "reset"]),
)
def test_the_second_opinion_finds_the_same_on_random_wiring(ports: dict[str, str], button: str) -> None:
    here = rewired({"q1.coil": "stop.a and (on.pressed or q1.aux)", **ports}, button)
    try:
        properties = check(here, faults=0).properties
    except BenchError:
        return  # a wiring loop without a delay
    judge = Judge(World(here))
    for one in properties:
        steps = len(one.acts) if one.verdict is Verdict.FAIL else None
        assert soonest_of_all(judge, one.id, one.function, one.subject) == steps, one.id


def test_without_the_supply_named_as_its_reset_the_stop_waits_for_the_other_button() -> None:
    changes = [("      reset_by: supply_on\n", "")]
    found = of(judged(changes), "stays_off", "emergency_stop")
    assert found.verdict is Verdict.FAIL
    assert found.sentence.endswith("although nobody has reset since the stop by the emergency stop.")


def test_supply_on_that_is_no_reset_of_a_stop_with_a_supply_must_be_let_go() -> None:
    """Without `supply` it is a reset button like any other, and none may act while it is pressed."""
    line = '      supply: {of: q1, on_by: supply_on, source: "ISO 13850:2015, 4.1.4"}\n'
    found = of(judged([(line, "")]), "stays_off", "emergency_stop")
    assert (found.verdict, found.acts[-1].kind.value) == (Verdict.FAIL, "reaction")


def test_what_the_pass_rests_on_is_said() -> None:
    said = judged([]).assumptions
    assert sum("counts as unable to make torque while it has no supply" in one for one in said) == 2
    assert any("Nobody holds the supply-on button" in one for one in said)


def test_a_unit_beside_a_bus_is_taken_to_hang_on_it_and_that_is_said() -> None:
    here = bench([LINK, FED])
    assert buses_beside(here, "drive") == buses_beside(here, "load") == ["link"]
    said = check(here, faults=0).assumptions
    assert sum("write drive.supply: link.live" in one for one in said) == 1
    assert buses_beside(bench(ON_LINK), "drive") == []


def test_a_unit_that_is_fed_by_something_else_hangs_on_no_bus() -> None:
    assert buses_beside(bench([LINK, FED, ("load.supply: q1.main", "load.supply: always")]), "load") == []


FAULTS = {one.set[0]: one for one in judge_faults(shape(NAME), 1).faults}


@pytest.mark.parametrize(
    "fault", ["q1.welds", "q1.wire_coil_short_to_supply", "estop.c_stays_closed", "estop.contacts_come_off"]
)
def test_a_fault_in_the_one_line_to_the_contactor_loses_the_stop(fault: str) -> None:
    assert "emergency_stop" in FAULTS[fault].lost


@pytest.mark.parametrize(
    "fault", ["drive.sto_a_dead", "load.sto_b_dead", "k1.out_a_welds", "estop.a_stays_closed"]
)
def test_a_fault_of_what_the_stop_does_not_use_loses_it_not(fault: str) -> None:
    assert "emergency_stop" not in FAULTS[fault].lost


def test_a_seal_in_contact_that_stays_closed_brings_the_supply_back_by_the_release() -> None:
    found = FAULTS["q1.aux_stays_closed"]
    assert "emergency_stop" in found.lost
