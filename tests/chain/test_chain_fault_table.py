"""The faults of the sample bench, reasoned by hand from its wiring: what each single one loses, whether it shows.

Reasons stand beside the entries. The structure is a two-channel one with a relay that watches both channels for
disagreement, two torque-off inputs for each unit, and one contactor without feedback.
"""

from functools import cache
from pathlib import Path

import pytest
from chain_benches import sample
from chain_fault_benches import checked_sample, sample_with, without

import interlock.demo
from interlock.bench import load_bench
from interlock.chain import FaultReport, FaultResult, judge_faults
from interlock.chain.fault_list import faults_of

DEMO = Path(interlock.demo.__file__).with_name("bench.yaml")
ALL = ("cover_stop", "button_stop", "emergency_stop")

LOST: dict[str, tuple[str, ...]] = {
    # both contacts of one device stay closed: both channels are gone at once
    "cover.does_not_follow": ("cover_stop",),
    "button.contacts_come_off": ("button_stop",),
    "estop.contacts_come_off": ("emergency_stop",),
    # one contact, one coil wire, one contactor take the supply away: any of them failing keeps it
    "estop.c_stays_closed": ("emergency_stop",),
    "contactor.welds": ("emergency_stop",),
    "contactor.wire_coil_short_to_supply": ("emergency_stop",),
    # the contactor closes again by itself once the emergency stop is released
    "contactor.aux_stays_closed": ("emergency_stop",),
    "supply_on.stays_pressed": ("emergency_stop",),
    # nothing else discharges the bus, nothing else zeroes the references
    "bus.discharge_lost": ("emergency_stop",),
    "references.zeroing_lost": ALL,
}

SILENT = {
    # channels shorted to each other: each demand opens both, the relay sees no disagreement
    *("cover.cross_short", "button.cross_short", "estop.cross_short", "relay.cross_short"),
    # one torque-off input of a unit: the other does it alone, and no feedback tells
    *(
        f"{unit}.{fault}"
        for unit in ("drive", "load")
        for fault in ("sto_a_dead", "sto_b_dead", "cross_short")
    ),
    *(f"{unit}.wire_sto_{x}_short_to_supply" for unit in ("drive", "load") for x in "ab"),
    # the drive starts as soon as it is permitted
    *("drive.start_stays_on", "load.start_stays_on"),
    # nobody reads the mirror contact; a held supply-on button replaces the auxiliary contact
    *("contactor.mirror_stays_closed", "contactor.mirror_stays_open", "contactor.aux_stays_open"),
    # a stop that does not come at all shows only by its failing
    *("cover.does_not_follow", "button.contacts_come_off", "estop.contacts_come_off"),
}

AT_ONCE = {  # what opens a channel, a coil or a torque-off input for good stops the bench
    *(f"{device}.{x}_stays_open" for device in ("cover", "button", "estop") for x in "ab"),
    *("estop.c_stays_open", "relay.out_a_stays_open", "relay.out_b_stays_open", "contactor.wire_coil_break"),
    *("relay.wire_channel_a_break", "relay.wire_channel_b_break"),
    *(f"{unit}.wire_sto_{x}_break" for unit in ("drive", "load") for x in "ab"),
}

MASKED = {f"{device}.{x}_stays_closed" for device in ("cover", "button", "estop") for x in "ab"}
"""One contact of one device in the series line: another device that opens both channels ends the lock-out."""


@cache
def report(most: int) -> FaultReport:
    found = checked_sample(most).report
    assert found is not None
    return found


def single() -> dict[str, FaultResult]:
    return {one.set[0]: one for one in report(1).faults}


def test_every_fault_of_every_device_and_wire_is_told() -> None:
    assert list(single()) == [one.id for one in faults_of(sample())]


def test_what_single_faults_lose() -> None:
    assert {name: one.lost for name, one in single().items() if one.lost} == LOST


def test_which_single_faults_nothing_shows() -> None:
    assert {name for name, one in single().items() if not one.detected} == SILENT


def test_which_show_at_once() -> None:
    found = {name for name, one in single().items() if one.at is not None and one.at.startswith("at once")}
    assert found == AT_ONCE


def test_which_another_stop_device_hides() -> None:
    assert {name for name, one in single().items() if one.masked} == MASKED


def test_which_start_a_unit_unasked() -> None:
    found = {name: one.restarts for name, one in single().items() if one.restarts}
    assert found == {"drive.start_stays_on": ("drive",), "load.start_stays_on": ("load",)}


@pytest.mark.parametrize(
    ("fault", "at"),
    [
        (
            "cover.a_stays_closed",
            "after the chamber cover was operated: the bench can no longer be reset and started",
        ),
        (
            "reset.stays_open",
            "after the chamber cover was operated: the bench can no longer be reset and started",
        ),
        ("contactor.welds", "when the emergency stop is operated: the main contactor stays closed"),
        ("references.zeroing_lost", "when the chamber cover is operated: the references are set"),
        ("relay.wire_channel_a_break", "at once: the bench stops, or cannot be started"),
    ],
)
def test_at_which_act_a_fault_shows(fault: str, at: str) -> None:
    assert (single()[fault].at or "").startswith(at)


TORQUE_PAIRS = [
    # the two channels of one device, of the two lines, of the relay's contacts, of one unit's inputs
    ("cover.a_stays_closed", "cover.b_stays_closed", True),
    ("relay.wire_channel_a_short_to_supply", "relay.wire_channel_b_short_to_supply", True),
    ("relay.out_a_welds", "relay.out_b_welds", True),
    ("drive.sto_a_dead", "drive.sto_b_dead", False),  # neither shows before the other comes
    ("relay.out_a_welds", "drive.sto_b_dead", False),  # the dead input first, unseen
    ("relay.out_a_welds", "load.cross_short", False),
    ("cover.a_stays_closed", "relay.cross_short", False),  # shorted lines carry one contact's fault to both
    ("cover.a_stays_closed", "relay.wire_channel_b_short_to_supply", True),
]


@pytest.mark.parametrize(("one", "other", "detected"), TORQUE_PAIRS)
def test_pairs_that_lose_torque_off(one: str, other: str, detected: bool) -> None:
    [found] = [each for each in report(2).faults if each.set == (one, other)]
    assert any(effect == "torque_off" for _, effect in found.effects)
    assert found.minimal
    assert found.detected is detected


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("relay.out_a_welds", "drive.sto_a_dead"),  # both on the same channel
        ("cover.a_stays_closed", "button.b_stays_closed"),  # different devices: each still has one contact
        ("relay.wire_reset_break", "relay.wire_reset_short_to_supply"),
        ("contactor.welds", "references.zeroing_lost"),  # each loses something alone, together nothing more
    ],
)
def test_pairs_that_do_no_more_than_their_parts_are_not_told(one: str, other: str) -> None:
    assert [each for each in report(2).faults if each.set == (one, other)] == []


def test_larger_sets_are_minimal() -> None:
    for each in report(2).faults:
        assert len(each.set) == 1 or each.minimal or each.restarts


def test_the_demo_bench_is_wired_alike() -> None:
    """Only names differ (demo's hood, stop_button, emergency, ...), so its table has the same shape."""
    found = judge_faults(without(load_bench(DEMO)), 1)
    assert sorted(len(one.lost) for one in found.faults if one.lost) == sorted(
        len(one) for one in LOST.values()
    )
    assert sum(not one.detected for one in found.faults) == len(SILENT)


def carried_by(found: FaultReport) -> dict[tuple[str, str | None], tuple[str, ...]]:
    return {(one.function, one.effect): one.categories for one in found.categories}


def test_categories_of_the_sample() -> None:
    """Single faults lose each function, so no more than category 1 without exclusions."""
    assert {kinds for (_, effect), kinds in carried_by(report(2)).items() if effect is not None} == {
        ("B", "1")
    }


def test_categories_once_mechanical_links_are_excluded() -> None:
    """Torque off has two channels throughout; dead torque-off inputs add up unseen, so it is no category 4."""
    bench = without(sample(), "cover.does_not_follow", "button.contacts_come_off", "estop.contacts_come_off")
    carried = carried_by(judge_faults(bench, 2))
    assert {carried[name, "torque_off"] for name in ALL} == {("B", "1", "3")}
    assert carried["emergency_stop", "contactor_open"] == ("B", "1")


def test_category_4_when_every_hidden_fault_is_excluded() -> None:
    """What could add up unseen is left out: dead inputs, their wires, shorts between channels, masking by others."""
    alone = sample_with(
        {
            "devices": {"button": None},
            "wiring": {"relay.channel_a": "cover.a", "relay.channel_b": "cover.b"},
            "required": {"functions": {"button_stop": None, "emergency_stop": None}},
        }
    )
    hidden = [
        one.id
        for one in faults_of(alone)
        if one.name in {"cross_short", "sto_a_dead", "sto_b_dead", "does_not_follow", "contacts_come_off"}
        or "wire_sto" in one.name
    ]
    carried = carried_by(judge_faults(without(alone, *hidden), 2))
    assert carried["cover_stop", "torque_off"] == ("B", "1", "3", "4")


def test_the_sound_bench_that_loses_a_function_carries_no_category() -> None:
    broken = sample_with({"wiring": {"load.sto_a": "always", "load.sto_b": "always"}})
    assert carried_by(judge_faults(broken, 1))["cover_stop", "torque_off"] == ()
