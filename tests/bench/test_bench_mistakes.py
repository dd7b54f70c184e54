"""One mistake in the sample file gives one error, at the mark, that says what, why and what to write instead."""

import pytest
from bench_sample import check, edited

NO_COMPARISON = " compares no signal with a number; write 'MESSAGE.SIGNAL is 1' or '|MESSAGE.SIGNAL| > 0.3 A'"

KEYS = {
    "unknown_key_near": (
        "within: 100 ms",
        "‸wthin: 100 ms",
        "unknown key 'wthin': 'torque_off' has no such entry; did you mean within?",
    ),
    "unknown_key_far": (
        "dbc: bench.dbc",
        "dbc: bench.dbc\n  ‸colour: green",
        "unknown key 'colour': 'shows' has no such entry; "
        "write one of canopen, dbc, messages, sources, stamp_delay, states, values",
    ),
    "unknown_key_at_the_root": (
        "devices:  #",
        "‸device:  #",
        "unknown key 'device': a bench file has no such entry; did you mean devices?",
    ),
    "unknown_key_in_a_device": (
        "name: chamber cover",
        "name: chamber cover, ‸label: x",
        "unknown key 'label': 'cover' has no such entry; write one of delays, kind, name, opened, series, type",
    ),
    "duplicate_key": (
        "place: not stated",
        "place: not stated\n  ‸place: hall 2",
        "key 'place': it stands here twice; keep one of the two",
    ),
    "duplicate_device": (
        "  button: {",
        "  ‸cover: {kind: shaft, name: x}\n  button: {",
        "key 'cover': it stands here twice; keep one of the two",
    ),
    "input_wired_twice": (
        "relay.reset: reset.pressed",
        "relay.reset: reset.pressed\n  ‸relay.reset: never",
        "key 'relay.reset': it stands here twice; keep one of the two",
    ),
    "missing_entry": (
        "stamp_delay: {least: 0 ms, most: 4 ms",
        "‸stamp_delay: {least: 0 ms",
        "missing entry 'most': 'stamp_delay' needs it; add 'most: 100 ms'",
    ),
    "missing_quantity": (
        "references_zero: {of: references, within: 200 ms",
        "‸references_zero: {of: references",
        "missing entry 'within': 'references_zero' needs it; add 'within: 100 ms'",
    ),
}

WORDS = {
    "number_for_text": (
        "name: chamber cover",
        "name: ‸42",
        "name: YAML reads '42' as a number, not as text; put it in quotes",
    ),
    "truth_for_text": (
        "name: chamber cover",
        "name: ‸true",
        "name: YAML reads 'true' as a truth value, not as text; put it in quotes",
    ),
    "empty_value": (
        "place: not stated",
        "place:‸",
        "empty value: nothing stands after the colon; write a value, or remove the key",
    ),
    "null_word": (
        "place: not stated",
        "place: ‸~",
        "'~': YAML reads ~ as nothing; write a value, or remove the key",
    ),
    "empty_text": (
        "place: not stated",
        'place: ‸""',
        "place: it is empty; write what a reader needs to know",
    ),
    "blank_text": (
        "place: not stated",
        'place: ‸"  "',
        "place: it is empty; write what a reader needs to know",
    ),
    "list_for_text": (
        "place: not stated",
        "place: ‸[a, b]",
        "place: a list is no text; write a line of text",
    ),
    "mapping_for_text": (
        "place: not stated",
        "place: ‸{a: b}",
        "place: a mapping is no text; write a line of text",
    ),
    "text_for_list": (
        "effects: [torque_off, references_zero, standstill]",
        "effects: ‸torque_off",
        "effects: 'torque_off' stands where a list should; write a list: [torque_off]",
    ),
    "list_for_mapping": (
        'reset: {by: reset, acts_on: release, source: "ISO 13849-1:2015, 5.2.2; the bench\'s engineer"}',
        "reset: ‸[by, reset]",
        "reset: a list stands where keys and values should; write below it, indented: by, acts_on, source",
    ),
    "text_for_mapping": (
        "relay: {kind: safety_relay, name: safety relay}",
        "relay: ‸safety_relay",
        "relay: 'safety_relay' stands where keys and values should; write below it, indented: kind, name",
    ),
    "empty_list": (
        "effects: [torque_off, references_zero, standstill]",
        "effects: ‸[]",
        "effects: it is empty; write at least one entry",
    ),
    "no_choice": (
        "acts_on: release",
        "acts_on: ‸press",
        "acts_on: 'press' is none of the choices; write release",
    ),
    "no_choice_of_several": (
        "after: contactor_open",
        "after: ‸opening",
        "after: 'opening' is none of the choices; write one of contactor_open, demand",
    ),
    "unknown_effect": (
        "effects: [torque_off, references_zero, standstill]",
        "effects: [torque_off, ‸standstil, references_zero]",
        "effects: 'standstil' is none of the choices; did you mean standstill?",
    ),
    "capital_id": (
        "id: sample",
        "id: ‸Sample",
        "id: 'Sample' is no id; write small letters, digits and _, beginning with a letter",
    ),
    "capital_id_without_brackets": (
        "of: [drive, load]",
        "of: ‸Drive",
        "of: 'Drive' is no id; write small letters, digits and _, beginning with a letter",
    ),
    "message_that_is_no_name": (
        "    PSU_Bus: {period",
        "    ‸PSU-Bus: {period: 1 s, longest_gap: 1 s}\n    PSU_Bus: {period",
        "key: 'PSU-Bus' is no name of a message or signal; write it as in the DBC",
    ),
    "signal_that_is_no_name": (
        "alive: Alive",
        "alive: ‸Alive counter",
        "alive: 'Alive counter' is no name of a message or signal; write it as in the DBC",
    ),
    "word_as_id": (
        "id: sample",
        "id: ‸always",
        "id: 'always' is a word of the wiring language; choose another name",
    ),
    "id_as_key": (
        "  shaft: {kind: shaft, name: shaft}",
        "  shaft: {kind: shaft, name: shaft}\n  ‸2nd: {kind: shaft, name: second shaft}",
        "key: '2nd' is no id; write small letters, digits and _, beginning with a letter",
    ),
}

LANGUAGE = {
    "port_without_dot": (
        "bus.feed: contactor.main",
        "bus.feed: contactor.main\n  ‸feed: never",
        "key: 'feed' is not of the form device.name; write the device's id, a dot, a name",
    ),
    "condition": (
        "SAFE_State.CoverA is 1",
        "‸SAFE_State.CoverA = 1",
        f"cover.a: 'SAFE_State.CoverA = 1'{NO_COMPARISON}",
    ),
    "second_comparison": (
        "|CTL_Refs.SpeedRef| > 0 1/min or |CTL_Refs",
        "|CTL_Refs.SpeedRef| > 0 1/min or ‸CTL_Refs",
        f"references.set: 'CTL_Refs.TorqueRef| > 0 Nm'{NO_COMPARISON}",
    ),
    "mixed": (
        '|CTL_Refs.SpeedRef| > 0 1/min or |CTL_Refs.TorqueRef| > 0 Nm"',
        '|CTL_Refs.SpeedRef| > 0 1/min or |CTL_Refs.TorqueRef| > 0 Nm ‸and CTL_Refs.TorqueRef < 3 Nm"',
        "references.set: 'and' and 'or' stand in one condition; use one of the two only",
    ),
    "value": (
        "bus.voltage: PSU_Bus.BusVoltage",
        "bus.voltage: ‸BusVoltage",
        "bus.voltage: 'BusVoltage' is not of the form MESSAGE.SIGNAL; write both names as in the DBC",
    ),
    "number_for_condition": (
        "cover.a: SAFE_State.CoverA is 1",
        "cover.a: ‸1",
        "cover.a: '1' is no text; write text such as 'MESSAGE.SIGNAL is 1'",
    ),
    "uncertain_form": (
        "uncertain: {LodCurrent: 0.1 A}",
        "uncertain: {LodCurrent: ‸some}",
        "LodCurrent: 'some' is not of the form '0.1 A'; write a number and the signal's unit",
    ),
    "expression": (
        "cover.a and button.a and estop.a",
        "cover.a and ‸and estop.a",
        "relay.channel_a: 'and' stands where a name should; write names joined by and, or, not and brackets",
    ),
    "expression_sign": (
        "cover.a and button.a and estop.a",
        "cover.a ‸& button.a",
        "relay.channel_a: '&' has no meaning here; write names joined by and, or, not and brackets",
    ),
    "expression_bracket": (
        "estop.c and (supply_on.pressed or contactor.aux)",
        "estop.c and (supply_on.pressed or contactor.aux‸",
        "contactor.coil: a closing bracket is missing; write names joined by and, or, not and brackets",
    ),
    "expression_in_quotes": (
        "relay.reset: reset.pressed",
        'relay.reset: "reset.pressed ‸reset.pressed"',
        "relay.reset: 'reset.pressed' follows a complete expression; write names joined by and, or, not and brackets",
    ),
    "number_for_expression": (
        "relay.reset: reset.pressed",
        "relay.reset: ‸1",
        "relay.reset: '1' is no text; write text such as 'cover.a and cover.b'",
    ),
}


@pytest.mark.parametrize("case", KEYS)
def test_keys(case: str) -> None:
    old, new, said = KEYS[case]
    check(edited((old, new)), said)


@pytest.mark.parametrize("case", WORDS)
def test_values_of_the_wrong_form(case: str) -> None:
    old, new, said = WORDS[case]
    check(edited((old, new)), said)


@pytest.mark.parametrize("case", LANGUAGE)
def test_expressions_and_conditions_name_the_word(case: str) -> None:
    old, new, said = LANGUAGE[case]
    check(edited((old, new)), said)


def test_a_missing_section_is_said_where_its_holder_stands() -> None:
    head = "bench:\n  id: sample\n  name: Motor bench of the sample logs\n  place: not stated\n  ratings"
    less = "‸bench:\n  id: sample\n  name: Motor bench of the sample logs\n  place: not stated\n#  ratings"
    check(
        edited((head, less)),
        "missing entry 'ratings': 'bench' needs it; add 'ratings:' with bus_voltage, max_speed below it",
    )


def test_a_missing_section_of_the_root_is_said_at_its_first_entry() -> None:
    check(
        edited(("bench:\n  id", "‸bench:\n  id"), ("wiring:  # as built: input: what reaches it", "rating:")),
        "missing entry 'wiring': a bench file needs it; add 'wiring:'",
    )
