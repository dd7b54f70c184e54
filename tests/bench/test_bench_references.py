"""References to what a bench does not have, and parts that do not fit each other: one error each, at the word."""

from pathlib import Path

import pytest
from bench_sample import MARK, check, edited, found, load

from interlock.bench import builtin_kinds, parse_bench

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"
OUTPUTS = "bus.live, button.a, button.actuated, button.b, contactor.aux, contactor.main, contactor.mirror"
BETWEEN = "\n      stop_category: 0\n      effects: [torque_off, references_zero, standstill]\n      "
KINDS = ", ".join(sorted(builtin_kinds())[:12]) + ", ..."

# old text, new text with the mark, error
DEVICES = {
    "kind_near": (
        "kind: guard_switch",
        "kind: ‸guard_swich",
        "'guard_swich': there is no device kind of this name; did you mean guard_switch?",
    ),
    "kind_far": (
        "kind: guard_switch",
        "kind: ‸interlocking_device",
        f"'interlocking_device': there is no device kind of this name; write one of {KINDS}",
    ),
    "delay_missing": (
        "  contactor: {kind: contactor, name: main contactor, delays: {pick_up: 50 ms, drop_out: 50 ms}}",
        "  ‸contactor: {kind: contactor, name: main contactor, delays: {pick_up: 50 ms}}",
        "device 'contactor': a contactor needs the delay 'drop_out'; add 'delays: {drop_out: 50 ms}'",
    ),
    "delay_misspelt": (
        "drop_out: 50 ms",
        "‸dropout: 50 ms",
        "'dropout': there is no delay of this name; did you mean drop_out?",
    ),
    "delay_of_none": (
        "name: chamber cover",
        "name: chamber cover, delays: {‸open: 5 ms}",
        "'open': there is no delay of this name; remove it: there is no delay to name here",
    ),
    "name_twice": (
        "name: torque-off button",
        "name: ‸Chamber  Cover",
        "name 'Chamber  Cover': device 'cover' has this name too, and people go by it; choose another",
    ),
}

WIRING = {
    "output_near": (
        "cover.a and button.a and estop.a",
        "cover.a and ‸buton.a and estop.a",
        "'buton.a': there is no device 'buton'; did you mean button.a?",
    ),
    "output_far": (
        "cover.a and button.a and estop.a",
        "cover.a and ‸x.y",
        "'x.y': there is no device 'x'; describe it under devices, or name one that is there",
    ),
    "output_of_another_kind": (
        "cover.a and button.a and estop.a",
        "cover.a and ‸coverr.pressed",
        "'coverr.pressed': there is no device 'coverr'; describe it under devices, or name one that is there",
    ),
    "output_without_device": (
        "bus.feed: contactor.main",
        "bus.feed: contactor.main and not ‸main",
        f"'main': there is no output of this name; write one of {OUTPUTS}, cover.a, cover.b, drive.enabled, "
        "drive.torque, estop.a, ...",
    ),
    "an_input_is_no_output": (
        "relay.reset: reset.pressed",
        "relay.reset: reset.pressed and not ‸relay.reset",
        "'relay.reset': there is no output of this name; did you mean relay.out_b or relay.out_a?",
    ),
    "input_misspelt": (
        "relay.channel_a:",
        "‸relay.chanel_a:",
        "'relay.chanel_a': there is no input of this name; did you mean relay.channel_a or relay.channel_b?",
    ),
    "an_output_is_no_input": (
        "bus.feed: contactor.main",
        "bus.feed: contactor.main\n  ‸bus.live: contactor.main",
        "'bus.live': there is no input of this name; did you mean bus.feed?",
    ),
    "not_wired": (
        "  relay: {kind: safety_relay, name: safety relay}",
        "  ‸relay: {kind: safety_relay, name: safety relay}\n  second: {kind: shaft, name: second}",
        "device 'relay': its input 'reset' is not wired; add 'relay.reset: ...' under wiring",
    ),
}

REQUIRED = {
    "demand_near": (
        "demand: cover",
        "demand: ‸covr",
        "'covr': there is no device of this name; did you mean cover?",
    ),
    "no_demand": (
        "demand: button",
        "demand: ‸relay",
        "device 'relay': it has no demand; name one that has it: button, cover, estop",
    ),
    "no_channels": (
        f"demand: cover{BETWEEN}channels:",
        f"demand: button{BETWEEN}‸channels:",
        "channels: device 'button' is of a kind without two channels that could disagree; remove this entry, or let "
        "the demand be one that has them: cover",
    ),
    "unit": (
        "of: [drive, load]",
        "of: [drive, ‸brake]",
        "'brake': there is no device of this name; write one of drive, load",
    ),
    "unit_twice": ("of: [drive, load]", "of: [drive, ‸drive]", "'drive': it stands here twice; name it once"),
    "no_torque": (
        "of: [drive, load]",
        "of: ‸shaft",
        "device 'shaft': it has no output torque; name one that has it: drive, load",
    ),
    "no_references": (
        "of: references",
        "of: ‸shaft",
        "device 'shaft': it has no output set; name one that has it: references",
    ),
    "no_voltage": (
        "of: bus, at",
        "of: ‸shaft, at",
        "device 'shaft': it has no value voltage; name one that has it: bus",
    ),
    "no_speed": (
        "of: shaft",
        "of: ‸bus",
        "device 'bus': it has no value speed; name one that has it: drive, load, shaft",
    ),
    "no_reset": (
        "by: reset",
        "by: ‸estop",
        "device 'estop': it has no output pressed; name one that has it: reset, supply_on",
    ),
    "no_supply_on": (
        "on_by: supply_on",
        "on_by: ‸estop",
        "device 'estop': it has no output pressed; name one that has it: reset, supply_on",
    ),
    "no_supply": (
        "supply: {of: contactor",
        "supply: {of: ‸relay",
        "device 'relay': it has no output main; name one that has it: contactor",
    ),
    "effect_twice": (
        "effects: [torque_off, references_zero, standstill]",
        "effects: [torque_off, standstill, ‸torque_off]",
        "'torque_off': it stands here twice; name it once",
    ),
    "counts_from_nothing": (
        "effects: [torque_off, references_zero, standstill, contactor_open, bus_discharged]",
        "effects: ‸[torque_off, bus_discharged]",
        "effects: bus_discharged counts from contactor_open, which this function lacks; add contactor_open",
    ),
    "title_twice": (
        "title: the torque-off button takes the torque away",
        "title: ‸Opening the chamber cover  takes the torque away",
        "title: function 'cover_stop' has this title too, and a report goes by it; say what sets this one apart",
    ),
    "bus_never_above": (
        "at_most: 60 V",
        "at_most: ‸96 V",
        "at_most: the bus, rated 96 V, is never above 96 V, so nothing is required; write a lower voltage",
    ),
    "shaft_never_above": (
        "below: 5 1/min",
        "below: ‸1500 1/min",
        "below: the shaft, rated 1500 1/min, is never above 1500 1/min, so nothing is required; write a lower speed",
    ),
}

SHOWS = {
    "stamp_delay": ("least: 0 ms", "least: ‸5 ms", "least: it is longer than 'most'; swap the two"),
    "gap": (
        "longest_gap: 35 ms",
        "longest_gap: ‸9 ms",
        "longest_gap: it is shorter than the period; write a longer time",
    ),
    "moves": (
        "moves: {DrvCurrent: 60 ms",
        "moves: {DrvCurrent: ‸4 ms",
        "moves 'DrvCurrent': it is shorter than the period: even a signal that moves with each frame would seem "
        "frozen; write a longer time",
    ),
    "state": (
        "cover.a: SAFE",
        "‸cover.c: SAFE",
        "'cover.c': there is no output of this name; did you mean cover.b or cover.a?",
    ),
    "value": (
        "shaft.speed: DRV",
        "‸shaft.spin: DRV",
        "'shaft.spin': there is no value of this name; did you mean shaft.speed?",
    ),
    "message_near": (
        "SAFE_State.CoverA is 1",
        "‸SAFE_Stat.CoverA is 1",
        "message 'SAFE_Stat': it is not listed under messages, with its period and longest gap; "
        "did you mean SAFE_State?",
    ),
    "message_far": (
        "bus.voltage: PSU_Bus.BusVoltage",
        "bus.voltage: ‸TQS_Torque.ShaftTorque",
        "message 'TQS_Torque': it is not listed under messages, with its period and longest gap; list it there",
    ),
    "two_messages": (
        "SAFE_State.CoverA is 1",
        "SAFE_State.CoverA is 1 and ‸DRV_Actual.DrvSpeed > 5 1/min",
        "cover.a: signals of SAFE_State and DRV_Actual do not come at the same time; use signals of one message",
    ),
}


@pytest.mark.parametrize("case", DEVICES)
def test_devices(case: str) -> None:
    old, new, said = DEVICES[case]
    check(edited((old, new)), said)


@pytest.mark.parametrize("case", WIRING)
def test_wiring(case: str) -> None:
    old, new, said = WIRING[case]
    lost = [("  relay.reset: reset.pressed\n", "")] if case == "not_wired" else []
    check(edited((old, new), *lost), said)


@pytest.mark.parametrize("case", REQUIRED)
def test_required(case: str) -> None:
    old, new, said = REQUIRED[case]
    check(edited((old, new)), said)


@pytest.mark.parametrize("case", SHOWS)
def test_shows(case: str) -> None:
    old, new, said = SHOWS[case]
    text = edited((old, new))
    told = found(text)
    assert any(one.said == said for one in told)  # the DBC may have more to say of the same word
    if case not in {"message_far"}:
        check(text, said)


def test_an_effect_that_is_not_stated_is_said_at_each_function() -> None:
    text = edited(
        ("    standstill: {of: shaft, below: 5 1/min, within: 6 s, source: the bench's engineer}\n", ""),
        ("[torque_off, references_zero, standstill]", f"[torque_off, references_zero, {MARK}standstill]"),
        ("[torque_off, references_zero, standstill]", f"[torque_off, references_zero, {MARK}standstill]"),
        ("[torque_off, references_zero, standstill,", f"[torque_off, references_zero, {MARK}standstill,"),
    )
    said = "'standstill': required.effects does not state it; state it there, or remove it here"
    check(text, said, said, said)


def test_a_message_that_is_not_listed_is_said_once() -> None:
    text = edited(
        ("    PSU_Bus: {period: 10 ms, longest_gap: 35 ms, uncertain: {BusVoltage: 0.1 V}}\n", ""),
        ("bus.voltage: PSU", f"bus.voltage: {MARK}PSU"),
        ("drive.status: DRV_Actual.DrvStatus", "drive.current: PSU_Bus.BusCurrent"),
    )
    check(
        text,
        "message 'PSU_Bus': it is not listed under messages, with its period and longest gap; list it there",
    )


def test_wiring_that_the_checker_must_judge_is_no_mistake() -> None:
    """An output that nothing reads, a demand that is wired nowhere: as built, and wrong only to the chain."""
    bench = load(
        edited(
            ("cover.a and button.a and estop.a", "estop.a"),
            ("cover.b and button.b and estop.b", "estop.a"),
            ("relay.reset: reset.pressed", "relay.reset: never"),
        )
    )
    assert bench.required.functions["cover_stop"].demand == "cover"


def test_one_device_may_demand_two_functions() -> None:
    """Two functions of one demand are two requirements, as long as their titles tell them apart."""
    bench = load(edited(("demand: button", "demand: cover")))
    assert [function.demand for function in bench.required.functions.values()] == ["cover", "cover", "estop"]


def test_an_input_with_a_default_may_be_left_open_or_wired() -> None:
    assert "relay.feedback" not in load(edited()).wiring
    more = edited(
        ("relay.reset: reset.pressed", "relay.reset: reset.pressed\n  relay.feedback: contactor.mirror")
    )
    assert "relay.feedback" in load(more).wiring


def test_times_at_the_edge_are_allowed() -> None:
    load(edited(("least: 0 ms, most: 4 ms", "least: 4 ms, most: 4 ms")))
    load(edited(("longest_gap: 35 ms", "longest_gap: 10 ms")))
    load(edited(("moves: {DrvCurrent: 60 ms", "moves: {DrvCurrent: 5 ms")))
    load(edited(("at_most: 60 V", "at_most: 95.9 V")))
    load(edited(("drop_out: 50 ms", "drop_out: 0 ms")))


def test_one_unit_may_stand_without_brackets() -> None:
    text = (SHAPES / "single_contactor.yaml").read_text("utf-8")
    assert "of: [pump]" in text
    bench = parse_bench("bench.yaml", text.replace("of: [pump]", "of: pump"))
    assert bench.required.effects.torque_off.of == ["pump"]


def test_a_unit_that_no_stop_takes_the_torque_from_is_told() -> None:
    """Or a motor that was forgotten in the list would run on through every stop of a bench that passes."""
    text = edited(("of: [drive, load]", "of: drive"), ("  load: {", "  ‸load: {"))
    check(
        text,
        "device 'load': it makes torque, and no stop is required to take it away; add load under required, effects, "
        "torque_off, of",
    )
