"""Shorts between lines of one cable, whatever their devices: each then carries either (common practice, no source)."""

from itertools import product

import pytest
from chain_shapes import shape

from interlock.bench import Bench
from interlock.chain.bent import ABSENT, PRESENT, compile_faulty
from interlock.chain.fault_check import judge_faults
from interlock.chain.fault_list import BenchFault, considered, excluded, faults_of
from interlock.chain.reference import holds

CABLE = "cable_to_the_guard"
LINES = "lines: [hood.a, hood.b, reset.pressed]"


def with_lines(*names: str) -> Bench:
    return shape(CABLE, (LINES, f"lines: [{', '.join(names)}]"))


def short(bench: Bench, name: str) -> BenchFault:
    [found] = [one for one in faults_of(bench) if one.id == f"chamber_cable.{name}"]
    return found


def reads(bench: Bench, fault: BenchFault, port: str, there: bool, **devices: str) -> bool:
    """What an input or output reads in a state, with the short there or not."""
    faulty = compile_faulty(bench, (fault,))
    compiled = faulty.truth.compiled
    state = {field.name: field.start for field in compiled.chain.fields}
    state |= {**devices, fault.field: PRESENT if there else ABSENT}
    term = compiled.inputs.get(port) or compiled.outputs[port]
    return holds(term, state, state)


@pytest.mark.parametrize(
    ("hood", "reset", "there"),
    list(product(["closed", "a_open", "open"], ["released", "pressed"], [False, True])),
)
def test_two_contacts_of_different_devices_carry_either(hood: str, reset: str, there: bool) -> None:
    bench = with_lines("hood.a", "reset.pressed")
    fault = short(bench, "short_hood_a_reset_pressed")
    a, pressed = hood == "closed", reset == "pressed"
    either = a or pressed
    state = {"hood": hood, "reset": reset}
    assert reads(bench, fault, "hood.a", there, **state) == (either if there else a)
    assert reads(bench, fault, "k1.reset", there, **state) == (either if there else pressed)
    assert reads(bench, fault, "k1.channel_a", there, **state) == (either if there else a)
    assert reads(bench, fault, "hood.b", there, **state) == (hood != "open")  # no line of this cable


@pytest.mark.parametrize(
    ("estop", "k1", "there"), list(product(["released", "latched"], ["opened", "energised"], [False, True]))
)
def test_two_inputs_of_different_devices_carry_either(estop: str, k1: str, there: bool) -> None:
    bench = with_lines("k1.channel_a", "drive.sto_b")
    fault = short(bench, "short_k1_channel_a_drive_sto_b")
    line, output = estop == "released", k1 == "energised"
    state = {"estop": estop, "k1": k1}
    assert reads(bench, fault, "k1.channel_a", there, **state) == (line or (there and output))
    assert reads(bench, fault, "drive.sto_b", there, **state) == (output or (there and line))
    assert reads(bench, fault, "drive.sto_a", there, **state) == output


@pytest.mark.parametrize(
    ("hood", "k1", "there"), list(product(["closed", "open"], ["opened", "energised"], [False, True]))
)
def test_an_input_and_a_contact_carry_either(hood: str, k1: str, there: bool) -> None:
    """The contact as its kind states it, the input as it is wired."""
    bench = with_lines("drive.sto_a", "hood.a")
    fault = short(bench, "short_drive_sto_a_hood_a")
    a, output = hood == "closed", k1 == "energised"
    state = {"hood": hood, "k1": k1}
    assert reads(bench, fault, "drive.sto_a", there, **state) == (output or (there and a))
    assert reads(bench, fault, "hood.a", there, **state) == (a or (there and output))


def test_a_short_past_both_channels_loses_the_function() -> None:
    """Both channels of the hood hang on one contact each of a relay: their lines beside a line that is always on."""
    bench = shape(
        CABLE,
        ("  k1: {kind", "  k2: {kind: plain_relay, name: hood relay}\n  k1: {kind"),
        (
            "k1.channel_a: hood.a and estop.a",
            "k2.coil: hood.a and hood.b\n  k1.channel_a: k2.out_a and estop.a",
        ),
        ("k1.channel_b: hood.b and estop.b", "k1.channel_b: k2.out_b and estop.b"),
        (LINES, "lines: [k2.coil, estop.c]"),
    )
    faults = {one.set[0]: one for one in judge_faults(bench, 1).faults}
    lost = faults["chamber_cable.short_k2_coil_estop_c"]
    assert lost.lost == ("hood_stop",)
    assert not lost.detected
    assert "line coil of the hood relay and line c of the emergency stop" in lost.words[0]


def test_two_lines_of_one_channel_each_are_told_with_what_shows() -> None:
    faults = {one.set[0]: one for one in judge_faults(with_lines("hood.a", "k1.reset"), 1).faults}
    assert faults["chamber_cable.short_hood_a_k1_reset"].lost == ()
    assert faults["chamber_cable.short_hood_a_k1_reset"].detected


def test_an_excluded_cable_leaves_out_each_of_its_shorts_with_its_reason() -> None:
    bench = shape(CABLE, ("lines: [estop.a, estop.b]", "lines: [estop.a, estop.b, k1.reset]"))
    out = {one.fault: one.reason for one in excluded(bench)}
    assert set(out) == {
        "desk_cable.short_estop_a_k1_reset",
        "desk_cable.short_estop_b_k1_reset",
        "estop.cross_short",
    }
    assert set(out.values()) == {"each line has an earthed screen of its own"}
    assert not {one.id for one in considered(bench)} & set(out)


def test_one_short_may_be_excluded_by_its_own_reason() -> None:
    fault = "chamber_cable.short_hood_a_reset_pressed"
    entry = f"exclusions:\n  - {{fault: {fault}, reason: laid apart, source: invented}}\n\nrequired:"
    bench = shape(CABLE, ("required:", entry))
    assert ("chamber_cable.short_hood_a_reset_pressed", "laid apart") in {
        (one.fault, one.reason) for one in excluded(bench)
    }
    assert "chamber_cable.short_hood_b_reset_pressed" in {one.id for one in considered(bench)}


def test_the_order_of_a_bench_s_own_faults_is_kept_and_cables_come_last() -> None:
    names = [one.id.split(".")[0] for one in faults_of(shape(CABLE))]
    assert names == sorted(names, key=["hood", "estop", "reset", "k1", "drive", "chamber_cable"].index)
