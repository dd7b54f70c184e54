"""All mistakes of a file come in one go, structural ones and those between entries, and none twice."""

import pytest
from bench_sample import MARK, check, edited, found, marks, problems
from hypothesis import given, settings
from hypothesis import strategies as st

M = MARK


def test_a_structural_mistake_hides_no_other() -> None:
    check(
        edited(
            ("place: not stated", f"place: {M}yes"),
            ("kind: guard_switch", f"kind: {M}guard_swich"),
            ("relay.reset: reset.pressed", f"relay.reset: reset.pressed {M}xor never"),
            ("contactor.coil: estop.c and (supply_on", f"contactor.coil: estop.c and ({M}suply_on"),
            ("acts_on: release", f"acts_on: {M}press"),
            ("within: 200 ms", f"within: {M}200"),
            ("demand: button", f"demand: {M}buton"),
            ("least: 0 ms", f"least: {M}-1 ms"),
            ("longest_gap: 17500 us", f"longest_gap: {M}1 ms"),
            ("SAFE_State.EmStop is 0", f"SAFE_State.EmStop is {M}7"),
            ("shaft.speed:", f"{M}shaft.sped:"),
        ),
        "'yes': YAML reads this as a truth value; write \"yes\" in quotes, or true or false",
        "'guard_swich': there is no device kind of this name; did you mean guard_switch?",
        "relay.reset: 'xor' follows a complete expression; write names joined by and, or, not and brackets",
        "'suply_on.pressed': there is no device 'suply_on'; did you mean supply_on.pressed?",
        "acts_on: 'press' is none of the choices; write release",
        "within: '200' has no unit; write '200 ms' or another unit of time",
        "'buton': there is no device of this name; did you mean button?",
        "least: '-1 ms' is negative; write a time of zero or more",
        "longest_gap: it is shorter than the period; write a longer time",
        "'is 7': the signal goes from 0 to 1, so this is never so; write a value that it takes",
        "'shaft.sped': there is no value of this name; did you mean shaft.speed?",
    )


def test_problems_are_sorted_by_place() -> None:
    text = edited(
        ("shaft.speed:", "shaft.sped:"), ("kind: guard_switch", "kind: guard_swich"), ("id: sample", "id: S")
    )
    places = [(one.line, one.column) for one in problems(text)]
    assert places == sorted(places)
    assert len(places) == 3


# What a broken entry leaves open is held against nobody: each of these is one mistake, however much refers to it.
ONE_MISTAKE = {
    "device without kind": ("cover: {kind: guard_switch, name", f"{M}cover: {{name"),
    "device that is text": ("  relay: {kind: safety_relay, name: safety relay}", f"  relay: {M}safety relay"),
    "device with capital": ("  cover: {kind", f"  {M}Cover: {{kind"),
    "device with a dash": ("  supply_on: {kind", f"  {M}supply-on: {{kind"),
    "unknown kind": ("kind: drive_unit, name: drive unit", f"kind: {M}drive, name: drive unit"),
    "section devices misspelt": ("devices:  #", f"{M}device:  #"),
    "section wiring misspelt": ("wiring:  #", f"{M}wirings:  #"),
    "effects misspelt": ("  effects:\n", f"  {M}effect:\n"),
    "functions misspelt": ("  functions:\n", f"  {M}function:\n"),
    "messages misspelt": ("  messages:\n", f"  {M}message:\n"),
    "an effect misspelt": ("standstill: {of", f"{M}standstil: {{of"),
    "an effect that is text": (
        "contactor_open: {of: contactor, within: 100 ms, source: the bench's engineer}",
        f"contactor_open: {M}soon",
    ),
    "an input misspelt": ("  drive.sto_a: relay", f"  {M}drive.stoa: relay"),
    "an input that is no port": ("  drive.sto_a: relay", f"  {M}drive sto_a: relay"),
    "an expression broken": ("drive.sto_a: relay.out_a", f"drive.sto_a: {M}(relay.out_a"),
    "a rating broken": ("bus_voltage: 96 V", f"bus_voltage: {M}96"),
    "a limit broken": ("at_most: 60 V", f"at_most: {M}60"),
    "a period broken": ("period: 20 ms", f"period: {M}20"),
    "a period of zero": ("period: 20 ms", f"period: {M}0 ms"),
    "a delay broken": ("most: 4 ms", f"most: {M}4"),
    "a delay misspelt": ("pick_up: 50 ms", f"{M}pickup: 50 ms"),
    "a function that is text": (
        'supply: {of: contactor, on_by: supply_on, source: "ISO 13850:2015, 4.1.4"}',
        f"supply: {M}contactor",
    ),
    "a message that is text": ("CTL_Refs: {period: 20 ms, longest_gap: 70 ms}", f"CTL_Refs: {M}often"),
    "no DBC": ("dbc: bench.dbc", f"dbc: {M}bnech.dbc"),
}


@pytest.mark.parametrize("case", ONE_MISTAKE)
def test_one_mistake_is_one_error(case: str) -> None:
    text = edited(ONE_MISTAKE[case])
    told = found(text)
    assert len(told) == 1, told
    if case != "an expression broken":  # which is said where the bracket should close
        assert [(one.line, one.column) for one in told] == marks(text)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.sampled_from(sorted(set(ONE_MISTAKE) - {"unknown kind"})), unique=True, min_size=2, max_size=6
    )
)
def test_mistakes_in_several_entries_are_all_said(cases: list[str]) -> None:
    """No mistake is lost because of others (but a device of an unknown kind excuses what refers to it)."""
    text = edited()
    for case in cases:
        old, new = ONE_MISTAKE[case]
        if old not in text:
            return
        text = text.replace(old, new, 1)
    places = {(one.line, one.column) for one in found(text)}
    wanted = set(marks(text)) if "an expression broken" not in cases else set()
    assert wanted <= places


def test_two_mistakes_in_one_entry_are_both_said() -> None:
    check(
        edited(("  cover: {kind: guard_switch", f"  {M}Cover: {{kind: {M}7")),
        "key: 'Cover' is no id; write small letters, digits and _, beginning with a letter",
        "kind: YAML reads '7' as a number, not as text; put it in quotes",
    )


def test_a_mistake_within_a_key_that_is_none() -> None:
    check(
        edited(
            (
                "  shaft: {kind: shaft, name: shaft}",
                f"  shaft: {{kind: shaft, name: shaft}}\n  {M}A: {{kind: {M}[], name: n}}",
            )
        ),
        "key: 'A' is no id; write small letters, digits and _, beginning with a letter",
        "kind: a list is no text; write a line of text",
    )


def test_a_unit_of_a_kind_of_the_bench_that_is_broken_is_not_judged() -> None:
    kind = (
        f"kinds:\n  motor: {{text: a motor, start: off, states: {{'off': stands}}, outputs: {{torque: {M}of and f}}, "
        "transitions: []}\n\ndevices:  #"
    )
    text = edited(
        ("devices:  #", kind.replace("start: off", "start: 'off'")),
        ("kind: drive_unit, name: load", "kind: motor, name: load"),
    )
    told = found(text)
    assert {one.said.partition(":")[0] for one in told} == {"'f'", "'of'"} | {
        one.said.partition(":")[0] for one in told if "load." in one.said
    }
