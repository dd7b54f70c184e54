"""Faults of kinds and exclusions of benches: each mistake is one error at its place; sound ones are accepted."""

import json

import pytest
from bench_sample import check, edited, found, load
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench import bench_schema, builtin_kinds, kinds_of
from interlock.bench.expr import Const, evaluate
from interlock.bench.wire_faults import WIRE, all_faults, faults_of_device, wired_inputs

KINDS = builtin_kinds()
LAMP = """kinds:
  lamp:
    text: signal lamp
    inputs: {feed: , dim: never}
    no_wire: [dim]
    start: dark
    states: {dark: dark, lit: shines}
    outputs: {shines: lit, glows: lit}
    transitions:
      - {when: feed, from: dark, to: lit}
      - {when: not feed, from: lit, to: dark}
      - {act: smash, from: lit, to: dark, words: "smash the {name}"}
    faults:
      stays_lit:
        text: the lamp stays lit
        source: invented
        blocks: [lit to dark, smash]
      crossed:
        text: its two contacts are bridged
        source: invented
        outputs: {shines: shines or glows or lit}
        inputs: {feed: feed or dim}

devices:
  lamp: {kind: lamp, name: signal lamp}
"""
WIRE_LAMP = ("bus.feed: contactor.main", "bus.feed: contactor.main\n  lamp.feed: bus.live")
EXCLUDED = """exclusions:
  - {fault: lamp.stays_lit, reason: it is looked at daily, source: invented}
  - {fault: lamp.wire_feed_break, reason: the lamp then stays dark, source: invented}

shows:"""


def with_lamp(*changes: tuple[str, str]) -> str:
    """The sample with a kind that has faults, two of which are excluded; the changes are made in what is added."""
    lamp, excluded = LAMP, EXCLUDED
    for old, new in changes:
        assert old in lamp or old in excluded, old
        lamp, excluded = lamp.replace(old, new, 1), excluded.replace(old, new, 1)
    return edited(("devices:  # what is built", lamp), WIRE_LAMP, ("shows:", excluded))


def test_faults_and_exclusions_are_read() -> None:
    bench = load(with_lamp())
    lamp = kinds_of(bench)["lamp"]
    assert list(lamp.faults) == ["stays_lit", "crossed"]
    assert lamp.faults["stays_lit"].blocks == ["lit to dark", "smash"]
    assert [one.fault for one in bench.exclusions] == ["lamp.stays_lit", "lamp.wire_feed_break"]


# old text, new text with the mark, error
WRONG = {
    "output": (
        "outputs: {shines: shines or",
        "outputs: {‸shine: shines or",
        "'shine': there is no output of this name; did you mean shines?",
    ),
    "output or state": (
        "glows or lit}",
        "glows or ‸lid}",
        "'lid': there is no output or state of this name; did you mean lit?",
    ),
    "input": (
        "inputs: {feed: feed",
        "inputs: {‸fed: feed",
        "'fed': there is no input of this name; did you mean feed?",
    ),
    "input in an expression": (
        "feed or dim}",
        "feed or ‸dimm}",
        "'dimm': there is no input of this name; did you mean dim?",
    ),
    "way between states": (
        "[lit to dark, smash]",
        "[‸lit to lit, smash]",
        "'lit to lit': there is no transition of this name; did you mean lit to dark or dark to lit?",
    ),
    "act": (
        "[lit to dark, smash]",
        "[lit to dark, ‸smesh]",
        "'smesh': there is no transition of this name; did you mean smash?",
    ),
    "no wire": (
        "no_wire: [dim]",
        "no_wire: [‸dam]",
        "'dam': there is no input of this name; did you mean dim?",
    ),
    "a name kept for wires": (
        "      crossed:",
        "      ‸wire_crossed:",
        "fault 'wire_crossed': names that begin with 'wire_' are kept for faults of the wiring; choose another",
    ),
    "exclusion of nothing": (
        "fault: lamp.stays_lit",
        "fault: ‸lamp.stays_lid",
        "'lamp.stays_lid': there is no fault of this name; did you mean lamp.stays_lit?",
    ),
    "exclusion twice": (
        "fault: lamp.wire_feed_break",
        "fault: ‸lamp.stays_lit",
        "'lamp.stays_lit': it is excluded twice; keep one exclusion of it",
    ),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_one_mistake_is_one_error(wrong: str) -> None:
    old, new, said = WRONG[wrong]
    check(with_lamp((old, new)), said)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("blocks: [lit to dark, smash]", "may_exclude: never", "a fault that does nothing"),
        ("[lit to dark, smash]", "[lit -> dark]", "'lit -> dark' names no transition"),
        ("reason: it is looked at daily, ", "", "reason"),
        ("reason: it is looked at daily, ", 'reason: " ", ', "it is empty"),
        ("fault: lamp.stays_lit", "fault: stays_lit", "'stays_lit' is not of the form device.name"),
    ],
)
def test_what_no_fault_or_exclusion_may_be(old: str, new: str, said: str) -> None:
    assert any(said in one.said for one in found(with_lamp((old, new))))


def test_wire_faults_are_those_of_wired_control_inputs() -> None:
    """Power poles, the inside of a program, and inputs left open have no control wire."""
    bench = load(with_lamp())
    for name, device in bench.devices.items():
        kind = kinds_of(bench)[device.kind]
        faults = {one for one in all_faults(name, kind, bench.wiring) if one.startswith(WIRE)}
        wired = wired_inputs(name, kind, bench.wiring)
        assert faults == {f"{WIRE}{one}_{what}" for one in wired for what in ("short_to_supply", "break")}
    assert wired_inputs("bus", KINDS["dc_bus"], bench.wiring) == []
    assert wired_inputs("drive", KINDS["drive_unit"], bench.wiring) == ["sto_a", "sto_b"]


def test_a_wire_fault_forces_its_input() -> None:
    faults = faults_of_device("relay", "safety relay", KINDS["safety_relay"], ["relay.reset"])
    assert faults["wire_reset_short_to_supply"].inputs == {"reset": Const(True)}
    assert faults["wire_reset_break"].inputs == {"reset": Const(False)}
    assert "safety relay" in faults["wire_reset_break"].text


@pytest.mark.parametrize("kind", KINDS)
def test_every_built_in_fault_names_its_source_and_says_when_it_is_from_memory(kind: str) -> None:
    for fault in KINDS[kind].faults.values():
        assert (
            "from memory" in fault.source
            or "common practice, no source" in fault.source
            or "IEC" in fault.source
        )


@pytest.mark.parametrize(
    ("kind", "faults"),
    [  # what ISO 13849-2:2012, annex D, lists for such parts (from memory)
        ("guard_switch", {"a_stays_closed", "b_stays_closed", "a_stays_open", "b_stays_open", "cross_short"}),
        ("push_button", {"stays_pressed", "stays_open"}),
        ("plain_relay", {"stays_in", "does_not_pick", "out_a_welds", "out_a_stays_open"}),
        (
            "contactor",
            {"welds", "does_not_close", "aux_stays_closed", "mirror_stays_closed", "mirror_stays_open"},
        ),
        ("drive_unit", {"sto_a_dead", "sto_b_dead", "cross_short"}),
        ("reference_store", {"zeroing_lost"}),
    ],
)
def test_the_catalogue_holds_what_the_standard_lists(kind: str, faults: set[str]) -> None:
    assert faults <= set(KINDS[kind].faults)


@given(st.booleans(), st.booleans())
def test_a_cross_short_joins_both_channels(a: bool, b: bool) -> None:
    forced = KINDS["guard_switch"].faults["cross_short"].outputs
    shown = {name: evaluate(expr, {"a": a, "b": b}.__getitem__) for name, expr in forced.items()}
    assert shown == {"a": a or b, "b": a or b}


def test_the_schema_knows_faults_and_exclusions() -> None:
    text = json.dumps(bench_schema())
    assert all(
        f'"{word}"' in text for word in ("faults", "blocks", "no_wire", "exclusions", "single_fault_tolerant")
    )
