"""Rules beside the functions' effects under faults: units that must rest in a mode, and stops of category 1.

IEC 60204-1:2016, 9.2.2: a stop of category 1 brakes and then removes the power. IEC 61800-5-2:2016, 4.2.3.3 (from
memory): SS1 by time takes the torque after a set time whatever the braking does. Invented benches.
"""

from functools import cache
from io import StringIO

import pytest
from chain_benches import WRONG, patched
from chain_fault_benches import only
from chain_fault_naive_rules import RuleFaultJudge
from chain_shapes import shape
from chain_zoned_benches import benches_with_modes, idle_benches, ramp_benches
from hypothesis import HealthCheck, assume, given, settings
from rich.console import Console
from test_chain_fault_brute_force import searched, states

from interlock.bench import Bench
from interlock.chain import FaultResult, check, judge_faults
from interlock.chain.fault_list import faults_of
from interlock.chain.losses import Rule
from interlock.cli.fault_page import show_faults
from interlock.verdict import Verdict

SLOW = [HealthCheck.filter_too_much, HealthCheck.too_slow]
MOST_STATES = 900
RAMP = "stop_input_and_delay"


@cache
def table(name: str, most: int = 1) -> dict[tuple[str, ...], FaultResult]:
    return {one.set: one for one in judge_faults(shape(name), most).faults}


def rules(name: str, *faults: str) -> set[tuple[str, str, str]]:
    return {(one.id, one.of, one.unit) for one in table(name, len(faults))[faults].rules}


# Against the second opinion.


def same(bench: Bench, most: int) -> None:
    """The same sets break the same rules, after as many steps."""
    judge = RuleFaultJudge(bench, most)
    assert states(bench, most) == {(node.state, node.faults) for node in judge.nodes}
    explored, expected = searched(bench, most), judge.soonest_broken()
    class_of = {one.id: at for at, group in enumerate(explored.groups.alike) for one in group}
    for one in judge.sets:
        classes = {class_of[name] for name in one if name in class_of}
        if len(classes) == len(one):
            number = explored.sets.number[tuple(sorted(classes))]
            found = {rule: at[number].steps for rule, at in explored.broken.items() if number in at}
            told = {Rule(*what): steps for (faults, what), steps in expected.items() if faults == one}
            assert _exact(found) == _exact(told)
            assert found.keys() == told.keys()
            assert all(told[rule] <= steps for rule, steps in found.items())


def _exact(found: dict[Rule, int]) -> dict[Rule, int]:
    """Where the nearest example is told; of ramps cut short it is the one that begins first."""
    return {rule: steps for rule, steps in found.items() if rule.id != "ramp_completed"}


@settings(max_examples=10, deadline=None, suppress_health_check=SLOW)
@given(ramp_benches())
def test_random_benches_that_brake(bench: Bench) -> None:
    judged(bench)


@settings(max_examples=10, deadline=None, suppress_health_check=SLOW)
@given(idle_benches())
def test_random_benches_with_a_unit_that_rests(bench: Bench) -> None:
    judged(bench)


def judged(bench: Bench) -> None:
    explored = searched(bench, 2)
    assume(not explored.restless.any())
    assume(sum(len(one.spread.met.words) for one in explored.search.parts) < MOST_STATES)
    same(bench, 2)


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        (RAMP, ["k2.stays_in", "drive.brakes_for_ever"]),
        (RAMP, ["k2.no_delay", "drive.does_not_brake"]),
        (RAMP, ["hood.cross_short", "k2.wire_coil_break"]),
        (RAMP, ["k2.out_a_welds", "k2.out_b_welds"]),
        ("ramp_by_timer", ["k2.out_a_welds", "k3.stays_in"]),
        ("set_up_of_one_unit", ["key.work_a_stays_closed", "load.sto_dead"]),
    ],
    ids=lambda one: one if isinstance(one, str) else " ".join(one),
)
def test_benches_of_other_shapes_with_two_faults(name: str, kept: list[str]) -> None:
    same(only(shape(name), *kept), 2)


# Which faults break what.


@pytest.mark.parametrize(
    ("faults", "broken"),
    [
        (("k2.stays_in",), {"power_removed"}),
        (("k2.wire_coil_short_to_supply",), {"power_removed"}),
        (("k2.no_delay",), {"braking"}),
        (("drive.does_not_brake",), {"braking"}),
        (("drive.wire_go_short_to_supply",), {"braking"}),
        (("drive.brakes_for_ever",), set()),  # the timer takes its torque all the same
        (("k2.out_a_welds",), set()),  # the other contact opens the other torque-off input
        (("k1.out_a_stays_open",), set()),  # never at work
        (("k2.out_a_welds", "k2.out_b_welds"), {"power_removed"}),
        (("k2.out_a_welds", "drive.sto_b_dead"), {"power_removed"}),
        (("drive.sto_a_dead", "drive.sto_b_dead"), {"power_removed"}),
    ],
    ids=lambda one: " ".join(sorted(one)) or "none",
)
def test_what_breaks_which_half_of_a_stop_of_category_1(faults: tuple[str, ...], broken: set[str]) -> None:
    assert rules(RAMP, *faults) == {(one, "hood_stop", "drive") for one in broken}
    assert table(RAMP, len(faults))[faults].lost == ()


def test_both_halves_together_lose_the_stop() -> None:
    """Each alone is tolerable; together nothing takes the torque away, and that is a lost function."""
    for pair in (("k2.stays_in", "drive.does_not_brake"), ("k2.stays_in", "drive.brakes_for_ever")):
        assert table(RAMP, 2)[pair].lost == ("hood_stop",)
        assert table(RAMP, 2)[pair].breaks == ()  # told of no stop that is lost whole
        assert "no longer stop category 1" not in table(RAMP, 2)[pair].sentence


def test_a_stop_that_is_hidden_whole_is_not_told_as_unbraked() -> None:
    """While a short hides one open contact another fault lets the timer run out: the stop was never asked for."""
    assert ("hood.cross_short", "k2.wire_coil_break") not in table(RAMP, 2)
    follows = [one for one in table(RAMP, 2) if "hood.does_not_follow" in one and len(one) == 2]
    assert not [one for one in follows if table(RAMP, 2)[one].rules and table(RAMP, 2)[one].minimal]


def test_a_stop_of_category_0_owes_neither() -> None:
    bench = shape(RAMP, ("stop_category: 1", "stop_category: 0"))
    assert all(one.rules == () for one in judge_faults(bench, 1).faults)


def test_a_timer_that_begins_beside_another_does_not_add_up_with_it() -> None:
    """Two timers of 1.5 s side by side, 2 s allowed; what faults do to one of them delays no other set."""
    parallel = patched(WRONG / "80_ramp_asked_for_by_one_contact.yaml", {"required": {}})
    kept = ["drive.cross_short", "k2.stays_in", "k3.stays_in"]
    found = {one.set: one for one in judge_faults(only(parallel, *kept), 1).faults}
    assert found["drive.cross_short",].rules == ()
    same(only(parallel, *kept), 2)


IDLE, HELD = ("idle_in_mode", "set_up", "load"), ("held_in_mode", "set_up", "drive")
ANY_MODE = ("mode_change_stops", "key", "load")


@pytest.mark.parametrize(
    ("fault", "lost", "broken"),
    [
        ("key.work_a_stays_closed", (), {IDLE}),
        ("key.setup_a_stays_closed", (), set()),
        ("enable.jams_in_centre", ("enabling_stop",), {HELD}),
        ("k1.out_a_welds", ("hood_stop", "emergency_stop"), {ANY_MODE}),
        ("load.sto_dead", ("hood_stop", "emergency_stop"), {IDLE, ANY_MODE}),
        ("reset.stays_open", (), set()),
        ("estop.a_stays_closed", (), set()),
    ],
    ids=lambda one: one if isinstance(one, str) else "",
)
def test_what_breaks_the_rules_of_the_modes(
    fault: str, lost: tuple[str, ...], broken: set[tuple[str, str, str]]
) -> None:
    found = table("set_up_of_one_unit")[fault,]
    assert found.lost == lost
    assert rules("set_up_of_one_unit", fault) == broken


def test_a_key_whose_contacts_do_not_follow_changes_no_mode_in_truth() -> None:
    found = table("set_up_mode")["key.contacts_do_not_follow",]
    assert {one.id for one in found.rules} == {"held_in_mode", "mode_change_stops"}
    assert not found.detected


def test_where_a_change_of_the_mode_need_not_stop_no_fault_breaks_that() -> None:
    kept = "change: starts_nothing\n    each:"
    bench = shape("set_up_mode", ("    by: key\n    each:", f"    by: key\n    {kept}"))
    found = {rule.id for one in judge_faults(bench, 1).faults for rule in one.rules}
    assert found == {"held_in_mode"}


@settings(max_examples=6, deadline=None, suppress_health_check=SLOW)
@given(benches_with_modes())
def test_random_benches_with_modes(bench: Bench) -> None:
    judged(bench)


def test_the_rules_of_the_modes_are_told_in_json_and_in_words() -> None:
    unheld = table("set_up_of_one_unit")["enable.jams_in_centre",]
    assert unheld.as_json()["rules"] == [
        {"rule": "held_in_mode", "function": None, "mode": "set_up", "unit": "drive"}
    ]
    assert unheld.breaks == ("lets the drive motor run unheld in mode set_up",)
    assert "the drive motor may make torque though nobody holds a device for it." in unheld.sentence
    changed = table("set_up_of_one_unit")["k1.out_a_welds",]
    assert changed.as_json()["rules"] == [
        {"rule": "mode_change_stops", "function": None, "mode": None, "unit": "load"}
    ]
    assert changed.breaks == ("key: the load motor is not stopped by a change of the mode",)
    assert (
        "After a change of the mode the load motor may make torque, though nobody has reset."
        in changed.sentence
    )


HESITANT = """kinds:
  hesitant_relay:
    text: relay whose contact may hang for a time
    inputs: {coil: }
    delays: [hang]
    start: up
    states: {down: dropped out, hanging: just picked up, up: picked up}
    outputs: {out: hanging or up}
    transitions:
      - {when: not coil, from: [hanging, up], to: down}
      - {when: coil, from: down, to: hanging}
      - {after: hang, from: hanging, to: up}
    faults:
      hangs: {text: its contact closes late, source: invented, outputs: {out: up}}
      hangs_for_ever: {text: its contact does not close, source: invented, outputs: {out: never}}

devices:
  k9: {kind: hesitant_relay, name: discharge relay, delays: {hang: HANG}}
"""


@pytest.mark.parametrize(("hang", "late"), [("1 s", False), ("4 s", True)])
def test_a_discharge_that_comes_to_its_end_too_late_by_a_fault_is_a_lost_effect(
    hang: str, late: bool
) -> None:
    """The link takes 3 s of the 5 s allowed since the contactor opened; the relay's contact may hang before."""
    changes = [
        ("devices:\n", HESITANT.replace("HANG", hang)),
        ("link.resistor: q1.mirror", "link.resistor: k9.out\n  k9.coil: q1.mirror"),
    ]
    bench = shape("discharge_by_contact", *changes)
    assert check(bench, faults=0).verdict is Verdict.PASS
    found = {one.set[0]: one.effects for one in judge_faults(bench, 1).faults}
    lost = ("emergency_stop", "bus_discharged")
    assert (lost in found["k9.hangs"]) is late
    assert lost in found["k9.hangs_for_ever"]
    assert lost in found["link.discharge_lost"]
    assert lost not in found["k1.out_a_welds"]


# How it is told.


def test_the_tolerable_half_is_told_as_tolerable_with_its_source() -> None:
    powered, unbraked = table(RAMP)["k2.stays_in",].sentence, table(RAMP)["drive.does_not_brake",].sentence
    assert powered.startswith(
        "It loses no function. The stop by the guard hood may leave the power of the drive"
    )
    assert "only the control that brakes it keeps its torque away" in powered
    assert "Alone that is no loss of the stop, since the torque does go." in powered
    assert "Alone that is no loss of Safe Torque Off" in unbraked
    assert "SS1, IEC 61800-5-2:2016, 4.2.3.3" in unbraked
    assert "Reckon stopping times and distances of guards without the braking." in unbraked
    assert "somebody is in danger" not in powered + unbraked


def test_a_unit_that_runs_where_it_must_rest_is_told_as_danger() -> None:
    said = table("set_up_of_one_unit")["key.work_a_stays_closed",].sentence
    assert "In mode 'set-up' the load motor may make torque, though it must rest there." in said
    assert "Nothing shows it before somebody is in danger." in said


def test_neither_half_counts_as_noticed() -> None:
    """That a motor coasts where it should brake may be seen or not: no category 4 may rest on it."""
    assert table(RAMP)["drive.does_not_brake",].detected is False
    assert table(RAMP)["k2.stays_in",].detected is False


@pytest.mark.parametrize("fault", ["k2.stays_in", "drive.does_not_brake", "k2.no_delay"])
def test_the_acts_and_the_picture_end_where_the_rule_is_broken(fault: str) -> None:
    one = table(RAMP)[fault,]
    assert one.story is not None
    assert one.story.moments == len(one.acts) + 1
    rows = {row.words: row.high for row in one.story.signals}
    if fault == "k2.stays_in":
        assert rows["drive motor: input sto_a on"][-1]
        assert rows["guard hood demands the stop"][-1]
    else:
        assert rows["drive motor makes torque"][-2:] == (True, False)


def test_data_and_few_words_name_function_mode_and_unit() -> None:
    one = table(RAMP)["k2.stays_in",].as_json()
    told = {"rule": "power_removed", "function": "hood_stop", "mode": None, "unit": "drive"}
    assert (one["rules"], one["breaks"]) == ([told], ["hood_stop: power of the drive motor stays on"])
    other = table("set_up_of_one_unit")["key.work_a_stays_closed",].as_json()
    rests = {"rule": "idle_in_mode", "function": None, "mode": "set_up", "unit": "load"}
    assert (other["rules"], other["breaks"]) == ([rests], ["lets the load motor run in mode set_up"])


def page(name: str, most: int) -> str:
    show_faults(Console(file=(out := StringIO()), width=250), judge_faults(shape(name), most), every=False)
    return out.getvalue()


def test_the_text_puts_broken_rules_into_its_tables_and_explains_them() -> None:
    text = page(RAMP, 2)
    assert "hood_stop: power of the drive motor stays on" in text
    assert "the stop is no longer of category 1 (IEC 60204-1:2016, 9.2.2)" in text
    assert "That alone is no loss of the function" in text
    assert (
        "contact out_a does not open AND delay relay: contact out_b does not open: hood_stop: power of"
        in text
    )


def test_beside_a_fault_that_does_harm_stands_on_which_ground_it_may_be_excluded() -> None:
    """Word for word what its kind says, once for each such fault; of those that lose nothing there is no need."""
    bench, text = shape(RAMP), page(RAMP, 2)
    grounds = {one.id: one.fault.may_exclude for one in faults_of(bench)}
    harmful = [one for one in table(RAMP).values() if one.lost or one.restarts or one.rules]
    stated = [one.may_exclude for one in harmful if one.may_exclude]
    assert stated == [grounds[one.set[0]] for one in harmful if grounds[one.set[0]]]
    assert len(set(stated)) >= 2
    assert text.count("It may be left out of account (under 'exclusions' in the bench file") == len(stated)
    for ground in stated:
        assert f"if this holds at the bench: {ground}." in text
    assert {one.may_exclude for one in table(RAMP, 2).values() if len(one.set) == 2} == {""}
    assert table(RAMP)["hood.does_not_follow",].as_json()["may_exclude"] == grounds["hood.does_not_follow"]


@pytest.mark.parametrize("name", ["diagnostic_feedback", "set_up_of_one_unit"])
def test_where_no_stop_of_category_1_is_broken_none_is_explained(name: str) -> None:
    assert "no longer of category 1" not in page(name, 1)


def test_the_text_shows_the_acts_to_a_rule_that_one_fault_breaks() -> None:
    text = page("set_up_of_one_unit", 1)
    acts = table("set_up_of_one_unit")["key.work_a_stays_closed",].acts
    assert all(act.words in text for act in acts)
    assert "lets the load motor run in mode set_up" in text


def test_the_tables_call_units_by_name_and_the_data_by_id_too() -> None:
    """People know the motor by its name; a script goes by the id."""
    starting = [one for one in table("set_up_of_one_unit").values() if one.restarts]
    assert starting
    names = {"drive": "drive motor", "load": "load motor"}
    for one in starting:
        assert one.as_json()["starts"] == [names[unit] for unit in one.as_json()["restarts"]]
    text = page("set_up_of_one_unit", 1)
    assert "may start the drive motor unasked" in text
    assert not any(f"may start {unit} " in text or f"lets {unit} " in text for unit in names)
