"""Device kinds: the built-in ones are sound, and a kind of one's own is checked as closely as a bench."""

from pathlib import Path

import pytest
from bench_sample import MARK, check, edited, found, load

import interlock.bench
from interlock.bench import builtin_kinds, kinds_of
from interlock.bench.expr import evaluate, names
from interlock.bench.schema import entries
from interlock.bench.yaml_compose import compose_own
from interlock.bench.yaml_source import read_composed, read_yaml

KINDS = builtin_kinds()
HEAD = "devices:  # what is built"
LAMP = """kinds:
  lamp:
    text: signal lamp
    inputs: {feed: , dim: never}
    delays: [warm_up]
    start: dark
    states: {dark: dark, glowing: about to shine, lit: shines}
    outputs: {shines: lit}
    transitions:
      - {when: feed, from: dark, to: glowing}
      - {after: warm_up, from: glowing, to: lit}
      - {when: not feed, from: [glowing, lit], to: dark}
      - {act: smash, from: lit, to: dark, words: "smash the {name}", takes: 1 s}

devices:
  lamp: {kind: lamp, name: signal lamp, delays: {warm_up: 20 ms}}
"""
WIRED = (("bus.feed: contactor.main", "bus.feed: contactor.main\n  lamp.feed: bus.live"),)


def with_lamp(*changes: tuple[str, str]) -> str:
    """The sample with a kind of its own; the changes are made in that kind."""
    text = LAMP
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return edited((HEAD, text), *WIRED)


def test_a_kind_of_ones_own_is_read() -> None:
    bench = load(with_lamp())
    kind = kinds_of(bench)["lamp"]
    assert [step.source for step in kind.transitions] == [["dark"], ["glowing"], ["glowing", "lit"], ["lit"]]
    assert kind.inputs == {"feed": None, "dim": "never"}
    assert kind.transitions[3].takes == 1_000_000_000
    assert set(kinds_of(bench)) == {*KINDS, "lamp"}


# old text, new text with the mark, error
WRONG = {
    "start": ("start: dark", "start: ‸darkk", "'darkk': there is no state of this name; did you mean dark?"),
    "output": (
        "shines: lit}",
        "shines: lit or ‸lid}",
        "'lid': there is no state of this name; did you mean lit?",
    ),
    "from": (
        "from: dark, to",
        "from: ‸drak, to",
        "'drak': there is no state of this name; did you mean dark?",
    ),
    "from_several": (
        "[glowing, lit]",
        "[glowing, ‸lid]",
        "'lid': there is no state of this name; did you mean lit?",
    ),
    "to": (
        "to: lit}",
        "to: ‸on_fire}",
        "'on_fire': there is no state of this name; write one of dark, glowing, lit",
    ),
    "when": ("when: feed", "when: ‸fed", "'fed': there is no input of this name; did you mean feed?"),
    "when_not": (
        "when: not feed",
        "when: not ‸fed",
        "'fed': there is no input of this name; did you mean feed?",
    ),
    "after": (
        "after: warm_up",
        "after: ‸warmup",
        "'warmup': there is no delay of this name; did you mean warm_up?",
    ),
    "demand": (
        "    transitions:",
        "    demand: not ‸shine\n    transitions:",
        "'shine': there is no output of this name; did you mean shines?",
    ),
    "channels": (
        "    transitions:",
        "    channels: [shines, ‸shine]\n    transitions:",
        "'shine': there is no output of this name; did you mean shines?",
    ),
    "one_channel": (
        "    transitions:",
        "    channels: ‸[shines]\n    transitions:",
        "channels: two outputs make a pair; write two different outputs",
    ),
    "channel_twice": (
        "    transitions:",
        "    channels: ‸[shines, shines]\n    transitions:",
        "channels: two outputs make a pair; write two different outputs",
    ),
    "off_channels": (
        "    transitions:",
        "    off_channels: [‸fed]\n    transitions:",
        "'fed': there is no input of this name; did you mean feed?",
    ),
    "delay_twice": (
        "delays: [warm_up]",
        "delays: [warm_up, ‸warm_up]",
        "delay 'warm_up': it stands here twice; keep one",
    ),
    "no_trigger": (
        "- {when: feed, from",
        "- ‸{from",
        "transitions: a transition needs a trigger; write 'act', 'when' or 'after'",
    ),
    "two_triggers": (
        "- {after: warm_up, from: glowing",
        "- ‸{after: warm_up, act: wait, words: wait, from: glowing",
        "transitions: a transition is an act or a late reaction, not both; keep 'act' or 'after'",
    ),
    "act_without_words": (
        '- {act: smash, from: lit, to: dark, words: "smash the {name}", takes: 1 s}',
        "- ‸{act: smash, from: lit, to: dark}",
        "transitions: an act without words; add 'words: ...', as you would tell a person to do it",
    ),
    "words_without_act": (
        "- {when: feed, from: dark, to: glowing}",
        "- ‸{when: feed, from: dark, to: glowing, words: shine}",
        "transitions: only an act has 'words' or 'takes'; remove them, or add 'act'",
    ),
    "brace_in_words": (
        "smash the {name}",
        "smash the {nme}",
        "words: it holds a brace; write {name} where the device's name belongs, and no other brace",
    ),
    "input_default": (
        "dim: never",
        "dim: ‸maybe",
        "dim: 'maybe' is none of the choices; write one of always, never",
    ),
    "empty_text": ("text: signal lamp", 'text: ‸""', "text: it is empty; write what a reader needs to know"),
    "word_as_state": (
        "dark: dark, glow",
        "dark: dark, ‸not: dim, glow",
        "key: 'not' is a word of the wiring language; choose another name",
    ),
    "missing": ("    start: dark\n", "", "missing entry 'start': 'lamp' needs it; add 'start: ...'"),
    "unknown": (
        "    start: dark\n",
        "    ‸begin: dark\n    start: dark\n",
        f"unknown key 'begin': 'lamp' has no such entry; write one of {', '.join(sorted(entries(('kinds', 'k')))[:12])}"
        ", ...",
    ),
    "fault_that_does_nothing": (
        "    transitions:",
        "    faults: {burnt: ‸{text: burnt out, source: s}}\n    transitions:",
        "burnt: a fault that does nothing; write 'outputs', 'inputs' or 'blocks'",
    ),
    "fault_of_no_output": (
        "    transitions:",
        "    faults: {burnt: {text: burnt out, source: s, outputs: {‸shine: never}}}\n    transitions:",
        "'shine': there is no output of this name; did you mean shines?",
    ),
    "fault_of_no_state": (
        "    transitions:",
        "    faults: {burnt: {text: burnt out, source: s, outputs: {shines: ‸lid}}}\n    transitions:",
        "'lid': there is no output or state of this name; did you mean lit?",
    ),
    "fault_that_blocks_nothing": (
        "    transitions:",
        "    faults: {burnt: {text: burnt out, source: s, blocks: [‸dark to lit]}}\n    transitions:",
        "'dark to lit': there is no transition of this name; did you mean dark to glowing?",
    ),
    "null_elsewhere": (
        "delays: [warm_up]",
        "delays:‸",
        "empty value: nothing stands after the colon; write a value, or remove the key",
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_one_mistake_in_a_kind_is_one_error(case: str) -> None:
    old, new, said = WRONG[case]
    if case == "brace_in_words":
        new, old = f'{MARK}"{new}', f'"{old}'
    holder = [("  lamp:\n", f"  {MARK}lamp:\n")] if case == "missing" else []
    text = with_lamp((old, new), *holder)
    check(text, said)


def test_a_built_in_kind_cannot_be_replaced() -> None:
    text = edited(
        (HEAD, LAMP.replace("  lamp:\n", f"  {MARK}shaft:\n").replace("kind: lamp", "kind: stop_button"))
    )
    (one,) = [one for one in found(text) if one.said.startswith("kind")]
    assert one.said == "kind 'shaft': a built-in kind has this name; choose another"


def test_the_kinds_that_a_bench_needs_are_there() -> None:
    assert {
        "guard_switch",
        "stop_button",
        "emergency_stop",
        "push_button",
        "safety_relay",
        "contactor",
        "dc_bus",
        "drive_unit",
        "reference_store",
        "shaft",
    } <= set(KINDS)


@pytest.mark.parametrize("name", KINDS)
def test_every_state_of_a_built_in_kind_can_be_reached(name: str) -> None:
    kind = KINDS[name]
    reached = {kind.start}
    while more := {step.to for step in kind.transitions if set(step.source) & reached} - reached:
        reached |= more
    assert reached == set(kind.states)


@pytest.mark.parametrize("name", KINDS)
def test_every_input_and_delay_of_a_built_in_kind_is_used(name: str) -> None:
    kind = KINDS[name]
    used = {word for step in kind.transitions if step.when is not None for word in names(step.when)}
    assert used == set(kind.inputs)
    assert {step.after for step in kind.transitions if step.after is not None} == set(kind.delays)


@pytest.mark.parametrize("name", KINDS)
def test_acts_have_words_that_name_the_device(name: str) -> None:
    for step in KINDS[name].transitions:
        if step.act is not None:
            assert "{name}" in step.words


def outputs(name: str, state: str) -> dict[str, bool]:
    """The outputs of a built-in kind in one of its states."""
    return {output: evaluate(expr, state.__eq__) for output, expr in KINDS[name].outputs.items()}


@pytest.mark.parametrize("name", ["guard_switch", "stop_button", "emergency_stop"])
def test_devices_at_rest_demand_nothing(name: str) -> None:
    kind = KINDS[name]
    assert kind.demand is not None
    assert not evaluate(kind.demand, outputs(name, kind.start).__getitem__)


def test_contacts_open_when_actuated() -> None:
    # direct opening action: contacts in the stop circuits are normally closed (IEC 60947-5-1, annex K; ISO 13850)
    assert outputs("emergency_stop", "latched") == {"a": False, "b": False, "c": False, "actuated": True}
    assert outputs("stop_button", "pressed") == {"a": False, "b": False, "actuated": True}
    assert outputs("guard_switch", "open") == {"a": False, "b": False}


def test_a_mirror_contact_is_never_closed_with_the_main_contacts() -> None:
    # IEC 60947-4-1, annex F: the mirror contact cannot be closed while a main contact is
    for state in KINDS["contactor"].states:
        shown = outputs("contactor", state)
        assert not (shown["mirror"] and shown["main"])


def test_a_lock_that_asks_for_the_stop_only_once_it_is_free() -> None:
    """By the built-in kinds: a guard lock does, a bolt whose contacts open at its first turn does not."""
    assert [name for name, kind in KINDS.items() if kind.locked_at_first] == ["guard_locking"]
    assert KINDS["guard_bolt"].shown_in("loosened") == {"a": False, "b": False, "locked": True}


def test_a_drive_makes_no_torque_unless_enabled() -> None:
    for state in KINDS["drive_unit"].states:
        shown = outputs("drive_unit", state)
        assert shown["enabled"] or not shown["torque"]


EXCLUDED = "exclusions: [{{fault: {}, reason: two contacts, source: a standard}}]\n\nshows:  # how"


def test_a_fault_that_no_device_has_cannot_be_excluded() -> None:
    check(
        edited(("shows:  # how", EXCLUDED.format(f"{MARK}contactor.wire_coil_brk"))),
        "'contactor.wire_coil_brk': there is no fault of this name; did you mean contactor.wire_coil_break?",
    )


def test_a_fault_is_excluded_once() -> None:
    name = "contactor.wire_coil_break"
    assert load(edited(("shows:  # how", EXCLUDED.format(name)))).exclusions[0].fault == name
    twice = f"exclusions:\n- {{fault: {name}, reason: a, source: b}}\n- {{fault: {MARK}{name}, reason: a, source: b}}\n"
    check(
        edited(("shows:  # how", f"{twice}\nshows:  #")),
        f"'{name}': it is excluded twice; keep one exclusion of it",
    )


def test_the_quicker_parser_reads_the_kinds_as_the_strict_one_does():
    for file in sorted(Path(interlock.bench.__file__).parent.glob("kinds*.yaml")):
        text = file.read_text("utf-8")
        strict, quick = read_yaml(file.name, text), read_composed(file.name, text, compose_own(text))
        assert (quick.data, quick.keys, quick.texts) == (strict.data, strict.keys, strict.texts)
        assert set(quick.places) == set(
            strict.places
        )  # an empty value stands one column later for the other one
        assert strict.problems == []
