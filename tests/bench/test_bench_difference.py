"""The difference of two benches: empty exactly if their fingerprints agree, and each change at its path."""

import copy
from typing import Any

import pytest
import yaml
from bench_sample import TEXT, edited, load
from hypothesis import given, settings
from hypothesis import strategies as st
from test_bench_fingerprint import OTHER, SAME, dumped, name
from test_bench_schema import LEAVES, holder

from interlock.bench import Bench
from interlock.bench.difference import Change, difference
from interlock.errors import BenchError

DATA = yaml.safe_load(TEXT)
OLD = load(TEXT)


def said(*changes: tuple[str, str]) -> list[str]:
    return [str(change) for change in difference(OLD, load(edited(*changes)))]


def test_nothing_changed() -> None:
    assert difference(OLD, load(TEXT)) == ()


@pytest.mark.parametrize("case", SAME)
def test_other_words_are_no_change(case: str) -> None:
    assert difference(OLD, load(edited(SAME[case]))) == ()


@pytest.mark.parametrize("case", OTHER)
def test_other_content_is_a_change(case: str) -> None:
    assert difference(OLD, load(edited(OTHER[case]))) != ()


CHANGES = {
    "limit": (("within: 100 ms", "within: 0.12 s"), ["required.effects.torque_off.within: 100 ms -> 120 ms"]),
    "quantity": (("bus_voltage: 96 V", "bus_voltage: 0.1 kV"), ["bench.ratings.bus_voltage: 96 V -> 0.1 kV"]),
    "text": (("name: chamber cover", "name: hood"), ["devices.cover.name: chamber cover -> hood"]),
    "wire": (
        ("drive.sto_b: relay.out_b", "drive.sto_b: relay.out_a"),
        ["wiring.drive.sto_b: relay.out_b -> relay.out_a"],
    ),
    "expression": (
        ("cover.a and button.a and estop.a", "(cover.a or button.a) and estop.a"),
        ["wiring.relay.channel_a: cover.a and button.a and estop.a -> (cover.a or button.a) and estop.a"],
    ),
    "units": (
        ("of: [drive, load]", "of: [load, drive]"),
        ["required.effects.torque_off.of: drive, load -> load, drive"],
    ),
    "effects": (
        ("effects: [torque_off, references_zero, standstill]", "effects: [torque_off]"),
        ["required.functions.cover_stop.effects: torque_off, references_zero, standstill -> torque_off"],
    ),
    "number": (
        ("stop_category: 0", "stop_category: 1"),
        ["required.functions.cover_stop.stop_category: 0 -> 1"],
    ),
    "condition": (
        ("SAFE_State.CoverA is 1", "SAFE_State.CoverA is 0"),
        ["shows.states.cover.a: SAFE_State.CoverA is 1 -> SAFE_State.CoverA is 0"],
    ),
    "value": (
        ("shaft.speed: DRV_Actual.DrvSpeed", "shaft.torque: LOD_Actual.LodTorqueEst"),
        [
            "shows.values.shaft.speed: DRV_Actual.DrvSpeed -> (nothing)",
            "shows.values.shaft.torque: (nothing) -> LOD_Actual.LodTorqueEst",
        ],
    ),
    "amount": (
        ("uncertain: {DrvCurrent: 0.1 A", "uncertain: {DrvCurrent: 0.2 A"),
        ["shows.messages.DRV_Actual.uncertain.DrvCurrent: 0.1 A -> 0.2 A"],
    ),
    "optional": ((", inertia: 0.011 kg m2", ""), ["bench.ratings.inertia: 0.011 kg m2 -> (nothing)"]),
    "optional section": (
        ("      channels: {within: 50 ms, source: the bench's engineer}\n", ""),
        [
            "required.functions.cover_stop.channels.within: 50 ms -> (nothing)",
            "required.functions.cover_stop.channels.source: the bench's engineer -> (nothing)",
        ],
    ),
    "device": (
        ("  shaft: {kind", "  lamp: {kind: shaft, name: lamp, type: L 1}\n  shaft: {kind"),
        [
            "devices.lamp.kind: (nothing) -> shaft",
            "devices.lamp.name: (nothing) -> lamp",
            "devices.lamp.type: (nothing) -> L 1",
            "devices.lamp.delays: (nothing) -> (empty)",
        ],
    ),
    "free content": (
        ("shows:  # how", "rating: {a: [1, true], b: {c: 0.5, d: []}}\nshows:  # how"),
        ["rating.a: (nothing) -> 1, true", "rating.b.c: (nothing) -> 0.5", "rating.b.d: (nothing) -> "],
    ),
}


@pytest.mark.parametrize("case", CHANGES)
def test_each_change_at_its_path(case: str) -> None:
    change, lines = CHANGES[case]
    assert said(change) == lines


def test_a_change_of_a_transition_is_found_by_its_number() -> None:
    kinds = (
        "kinds: {lamp: {text: lamp, inputs: {feed: }, start: dark, states: {dark: dark, lit: lit}, outputs: {}, "
        "transitions: [{when: feed, from: dark, to: lit}, {when: not feed, from: lit, to: dark}]}}\n\ndevices:"
    )
    one = load(edited(("devices:", kinds)))
    other = load(
        edited(
            (
                "devices:",
                kinds.replace("when: not feed, from: lit, to", "when: not feed, from: [dark, lit], to"),
            )
        )
    )
    assert [str(change) for change in difference(one, other)] == [
        "kinds.lamp.transitions.1.from: lit -> dark, lit"
    ]
    required = load(edited(("devices:", kinds.replace("inputs: {feed: }", "inputs: {feed: never}"))))
    assert [str(change) for change in difference(one, required)] == [
        "kinds.lamp.inputs.feed: (none) -> never"
    ]


def test_an_emptied_mapping_is_told_by_its_entries_alone() -> None:
    one = load(edited(("name: chamber cover", "name: chamber cover, delays: {}")))
    assert difference(one, OLD) == ()
    change = ("contactor, delays: {pick_up: 50 ms, drop_out: 50 ms}}", "contactor}")
    device = OLD.devices["contactor"].model_copy(update={"delays": {}})
    bare = OLD.model_copy(update={"devices": {**OLD.devices, "contactor": device}})
    assert change[0].startswith("contactor")
    assert [str(change) for change in difference(OLD, bare)] == [
        "devices.contactor.delays.pick_up: 50 ms -> (nothing)",
        "devices.contactor.delays.drop_out: 50 ms -> (nothing)",
    ]


def test_the_dbc_counts_by_its_bytes() -> None:
    assert difference(OLD, OLD, dbc=(b"a", b"a")) == ()
    (change,) = difference(OLD, OLD, dbc=(b"abc", b""))
    # SHA-256 of "abc" and of the empty text: FIPS 180-4 example, and NIST CAVP SHA256ShortMsg, Len = 0
    assert change == Change(
        ("shows", "dbc", "content"),
        "SHA-256 ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        "SHA-256 e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    )


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(LEAVES),
    st.sampled_from(["7 s", "3 V", "8 1/min", "other text", "drive", "standstill", 1, 2]),
)
def test_it_is_empty_exactly_if_the_fingerprints_agree(path: tuple[str | int, ...], value: object) -> None:
    data = copy.deepcopy(DATA)
    holder(data, path[:-1])[path[-1]] = value
    text = dumped(data)
    try:
        new = load(text)
    except BenchError:
        return
    changes = difference(OLD, new)
    assert (changes == ()) == (name(text) == name(TEXT))
    assert all(
        change.path[: len(path) - 1] == path[: len(change.path)][: len(path) - 1] for change in changes
    )


@settings(max_examples=15, deadline=None)
@given(st.lists(st.sampled_from(sorted(OTHER)), unique=True, min_size=1, max_size=5))
def test_the_way_back_is_the_way_there(cases: list[str]) -> None:
    text = TEXT
    for case in cases:
        text = text.replace(*OTHER[case], 1)
    try:
        new = load(text)
    except BenchError:
        return
    there, back = difference(OLD, new), difference(new, OLD)
    assert {(change.path, change.old, change.new) for change in there} == {
        (change.path, change.new, change.old) for change in back
    }


def rebuilt(data: Any, changes: tuple[Change, ...]) -> Any:
    """The data with each change made at its path."""
    data = copy.deepcopy(data)
    for change in changes:
        part = data
        for step in change.path[:-1]:
            part = part.setdefault(step, {})
        if change.new is None:
            part.pop(change.path[-1], None)
        else:
            part[change.path[-1]] = change.new
    return data


@pytest.mark.parametrize(
    "case", ["a limit", "a name", "a source", "a wire", "a rating", "a device", "an operator"]
)
def test_the_old_bench_with_the_changes_is_the_new_one(case: str) -> None:
    new = load(edited(OTHER[case]))
    data = rebuilt(DATA, difference(OLD, new))
    if case == "a device":
        data["devices"]["lamp"]["delays"] = {}
    assert difference(Bench.model_validate(data), new) == ()
