"""Two contactors in series take one supply: a fault of one is no loss, and one of what they share is.

ISO 13849-1:2015, 6.2.6 (category 3: a single fault does not lose the function) and 6.2.7 (category 4: neither do
faults that add up unnoticed). Invented benches.
"""

from functools import cache

import pytest
from chain_fault_benches import only

from interlock.bench import parse_bench
from interlock.chain import CheckResult, FaultReport, check, judge_faults
from interlock.chain.fault_list import considered
from interlock.chain.fault_property import fault_properties
from interlock.errors import BenchError
from interlock.verdict import Verdict

PAIR = """\
# The emergency stop takes the supply by two contactors in series; the supply relay sees both before it closes them.
bench:
  id: supply_by_two_contactors
  name: Gear rig with two contactors in its supply
  place: training shop
  ratings: {bus_voltage: 310 V, max_speed: 3000 1/min}

devices:
  estop: {kind: emergency_stop, name: emergency stop}
  reset: {kind: push_button, name: reset button}
  supply_on: {kind: push_button, name: supply-on button}
  k1: {kind: safety_relay, name: safety relay}
  k2: {kind: safety_relay, name: supply relay}
  q1: {kind: contactor, name: first contactor, delays: {pick_up: 30 ms, drop_out: 40 ms}}
  q2: {kind: contactor, name: second contactor, delays: {pick_up: 30 ms, drop_out: 40 ms}}
  drive: {kind: drive_unit, name: drive motor}

wiring:
  k1.channel_a: estop.a
  k1.channel_b: estop.b
  k1.reset: reset.pressed
  k2.channel_a: k1.out_a
  k2.channel_b: k1.out_b
  k2.reset: supply_on.pressed
  k2.feedback: q1.mirror and q2.mirror
  q1.coil: k2.out_a
  q2.coil: k2.out_b
  drive.sto_a: k1.out_a
  drive.sto_b: k1.out_b
  drive.supply: q1.main and q2.main

required:
  reset: {by: reset, acts_on: release, source: "ISO 13849-1:2015, 5.2.2"}
  restart: {no_sooner_than: 200 ms, source: "common practice, no source"}
  effects:
    torque_off: {of: drive, within: 100 ms, source: risk assessment of the bench}
    contactor_open: {of: q1, in_series: [q2], within: 100 ms, source: risk assessment of the bench}
  functions:
    emergency_stop:
      title: the emergency stop takes torque and supply away
      demand: estop
      stop_category: 0
      effects: [torque_off, contactor_open]
      supply: {of: q1, on_by: supply_on, source: "ISO 13850:2015, 4.1.4"}
      single_fault_tolerant: true
      source: "ISO 13850:2015, 4.1"

exclusions:
  - fault: estop.contacts_come_off
    reason: contact block screwed to the button, and its fall opens a contact in series
    source: "IEC 60947-5-5 (from memory)"
"""
SERIES = "drive.supply: q1.main and q2.main"
PARALLEL = (SERIES, "drive.supply: q1.main or q2.main")
ALONE = ("in_series: [q2], ", "")


def text_with(*changes: tuple[str, str]) -> str:
    text = PAIR
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def sound(*changes: tuple[str, str]) -> CheckResult:
    return check(parse_bench("b.yaml", text_with(*changes)), faults=0)


@cache
def table(*changes: tuple[str, str]) -> FaultReport:
    bench = parse_bench("b.yaml", text_with(*changes))
    there = [one.id for one in considered(bench) if one.device in {"k1", "k2", "q1", "q2", "q3", "supply_on"}]
    return judge_faults(only(bench, *there), 1)


def losing(*changes: tuple[str, str]) -> set[str]:
    """The single faults that lose an effect on the supply."""
    return {one.set[0] for one in table(*changes).faults if one.lost}


def test_should_pass_two_contactors_by_two_contacts() -> None:
    asked = fault_properties(parse_bench("b.yaml", PAIR), table())
    assert {one.id: one.verdict for one in asked} == {"single_fault_tolerant": Verdict.PASS}
    assert sound().verdict is not Verdict.FAIL
    assert losing() == set()


Q3 = "  q3: {kind: contactor, name: third, delays: {pick_up: 30 ms, drop_out: 40 ms}}\n"
BROKEN = {
    "one coil line for both": ([("q2.coil: k2.out_b", "q2.coil: k2.out_a")], {"k2.out_a_welds"}),
    "side by side instead of in series": (
        [PARALLEL],
        {
            *("q1.welds", "q1.wire_coil_short_to_supply", "k2.out_a_welds"),
            *("q2.welds", "q2.wire_coil_short_to_supply", "k2.out_b_welds"),
        },
    ),
    "side by side behind a way past both": (
        [
            (SERIES, "drive.supply: q1.main or q2.main or q3.main\n  q3.coil: k1.out_a and supply_on.pressed"),
            ("  drive: {kind", f"{Q3}  drive: {{kind"),
        ],
        {"q1.welds", "q2.welds"},
    ),
    "a relay of one channel before both": (
        [("k2: {kind: safety_relay, name: supply relay}", "k2: {kind: plain_relay, name: supply relay}"),
         ("  k2.channel_a: k1.out_a\n  k2.channel_b: k1.out_b\n  k2.reset: supply_on.pressed\n"
          "  k2.feedback: q1.mirror and q2.mirror\n",
          "  k1.feedback: q1.mirror and q2.mirror\n"
          "  k2.coil: k1.out_a and k1.out_b and (supply_on.pressed or q1.aux and q2.aux)\n")],
        {"k2.stays_in", "k2.wire_coil_short_to_supply"},
    ),
    "a second load behind one of them": (
        [("drive.supply:", "fan.supply: q2.main\n  fan.sto_a: k1.out_a\n  fan.sto_b: k1.out_b\n  drive.supply:"),
         ("  drive: {kind", "  fan: {kind: drive_unit, name: fan motor}\n  drive: {kind"),
         ("torque_off: {of: drive,", "torque_off: {of: [drive, fan],")],
        {"q2.welds", "q2.wire_coil_short_to_supply", "k2.out_b_welds"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_should_fail_where_one_fault_defeats_both(name: str) -> None:
    changes, faults = BROKEN[name]
    assert faults <= losing(*changes)
    supply = {"contactor_open", "supply_on_dead", "supply_stays_off"}
    asked = [one for one in sound(*changes).properties if one.id in supply]
    assert {one.verdict for one in asked} == {Verdict.PASS}  # without a fault nothing shows it


def test_one_contactor_alone_is_what_it_was() -> None:
    assert losing(ALONE) == {"q1.welds", "q1.wire_coil_short_to_supply", "k2.out_a_welds"}


def test_naming_the_second_contactor_takes_faults_away_and_adds_none() -> None:
    assert losing() < losing(ALONE)
    assert losing(PARALLEL) > losing(ALONE, PARALLEL)  # there the second one is a way past the first


@pytest.mark.parametrize(("feedback", "found"), [("q1.mirror and q2.mirror", True), ("q1.mirror", False)])
def test_faults_that_add_up_are_found_by_both_mirror_contacts(feedback: str, found: bool) -> None:
    bench = parse_bench(
        "b.yaml", text_with(("k2.feedback: q1.mirror and q2.mirror", f"k2.feedback: {feedback}"))
    )
    report = judge_faults(only(bench, "q1.welds", "q2.welds"), 2)
    assert {one.set: one.detected for one in report.faults if one.lost} == {("q1.welds", "q2.welds"): found}


def test_each_of_them_must_open_on_the_sound_bench() -> None:
    """Else the redundancy is not there from the first day: the one that stays closed is named."""
    sleeping = ("q2.coil: k2.out_b", "q2.coil: k2.out_b or supply_on.pressed or q2.aux")
    [opens] = [one for one in sound(sleeping).properties if one.id == "contactor_open"]
    assert opens.verdict is Verdict.FAIL
    assert "the second contactor stays closed although the emergency stop is" in opens.sentence


def test_the_supply_is_told_by_the_names_of_both() -> None:
    [lost] = [one for one in table(("q2.coil: k2.out_b", "q2.coil: k2.out_a")).faults if one.lost]
    assert "the series of first contactor and second contactor" in lost.sentence
    assert lost.story is not None
    rows = {one.words: one.high for one in lost.story.signals}
    assert rows["first contactor is closed"][-1]
    assert rows["second contactor is closed"][-1]


REFUSED = {
    "[q3]": "'q3': there is no device of this name; write one of q1, q2",
    "[k2]": "device 'k2': it has no output main; name one that has it: q1, q2",
    "[q1]": "'q1': it is named before; name it once",
    "[q2, q2]": "'q2': it is named before; name it once",
}


@pytest.mark.parametrize("named", REFUSED)
def test_what_cannot_be_in_series_is_refused_at_its_place(named: str) -> None:
    with pytest.raises(BenchError) as refused:
        parse_bench("b.yaml", text_with(("[q2]", named)))
    [one] = refused.value.problems
    assert f"{one.what}: {one.why}; {one.instead}" == REFUSED[named]
    line = text_with(("[q2]", named)).splitlines()[one.line - 1]
    assert line[one.column - 1 :].startswith(named.strip("[]").split(", ")[-1])


@pytest.mark.parametrize(("fed", "idle"), [("q1.main", "q2"), ("q2.main", "q1")])
def test_a_contactor_through_which_nothing_is_fed_is_refused(fed: str, idle: str) -> None:
    with pytest.raises(
        BenchError, match=f"'{idle}': nothing is fed through {idle}.main, so it takes no supply"
    ):
        parse_bench("b.yaml", text_with((SERIES, f"drive.supply: {fed}")))


def test_a_contactor_beside_which_none_is_named_may_stand_before_anything() -> None:
    """As before: of a single contactor only its own main contacts are asked about."""
    assert parse_bench("b.yaml", text_with(ALONE, (SERIES, "drive.supply: q2.main")))


QUICK = "delays: {pick_up: 30 ms, drop_out: 40 ms}"
STATED = "source: risk assessment of the bench}\n"
BUS = (
    (
        f"within: 100 ms, {STATED}  functions",
        f"within: 5 s, {STATED}"
        "    bus_discharged: {of: link, at_most: 60 V, within: 3 s, after: contactor_open, source: x}\n  functions",
    ),
    ("effects: [torque_off, contactor_open]", "effects: [torque_off, contactor_open, bus_discharged]"),
    ("  drive: {kind", "  link: {kind: dc_bus, name: DC link, delays: {discharge: 2 s}}\n  drive: {kind"),
    (SERIES, "drive.supply: link.live\n  link.feed: q1.main and q2.main"),
    (f"second contactor, {QUICK}", f"second contactor, {QUICK.replace('40 ms', '4 s')}"),
)  # fmt: skip


@pytest.mark.parametrize(("discharge", "late"), [("2 s", False), ("4 s", True)])
def test_the_time_of_the_discharge_counts_from_when_the_first_of_them_opened(
    discharge: str, late: bool
) -> None:
    """Whichever opens first, the bus is cut off: however late the other one is, 2 s of discharge are over in 3 s."""
    result = sound(*BUS, ("discharge: 2 s", f"discharge: {discharge}"))
    assert (
        "bus_discharged_in_time" in {one.id for one in result.properties if one.verdict is Verdict.FAIL}
    ) is late
    assert {one.verdict for one in result.properties if one.id == "contactor_open"} == {Verdict.PASS}
