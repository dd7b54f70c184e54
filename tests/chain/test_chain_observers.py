"""What the requirement remembers, told as stories at the sample bench (its reset rule: ISO 13849-1:2015, 5.2.2)."""

import pytest
from chain_benches import SAMPLE, patched, sample
from chain_walk import Walk

from interlock.chain.ir import Now, Was, atoms
from interlock.chain.observers import (
    disagreed,
    latched,
    lawful_reset,
    observers,
    stop_due,
    supply_barred,
)

OPEN = ("cover.open_a", "cover.open_b")
CLOSE = ("cover.close_a", "cover.close_b")
RESET = ("reset.press", "reset.release")
SUPPLY = ("supply_on.press", "contactor.pick_up", "supply_on.release")


@pytest.fixture
def walk() -> Walk:
    return Walk(sample())


def test_at_power_up_nothing_is_remembered(walk: Walk) -> None:
    for name in walk.required.functions:
        assert not walk.holds(latched(name))


@pytest.mark.parametrize(
    ("function", "act"),
    [("cover_stop", "cover.open_b"), ("button_stop", "button.press"), ("emergency_stop", "estop.press")],
)
def test_a_demand_latches_its_own_function_alone(walk: Walk, function: str, act: str) -> None:
    walk.do(act)
    assert [name for name in walk.required.functions if walk.holds(latched(name))] == [function]


def test_the_end_of_the_demand_does_not_unlatch(walk: Walk) -> None:
    assert walk.do("button.press", "button.release").holds(latched("button_stop"))


def test_a_reset_after_the_demand_unlatches_at_its_release(walk: Walk) -> None:
    walk.do("button.press", "button.release", "reset.press")
    assert walk.holds(latched("button_stop"))
    walk.do("reset.release")
    assert walk.holds(lawful_reset(walk.required))
    assert not walk.holds(latched("button_stop"))


def test_one_reset_unlatches_all(walk: Walk) -> None:
    walk.do("button.press", *OPEN, "button.release", *CLOSE)
    assert walk.holds(latched("button_stop"))
    assert walk.holds(latched("cover_stop"))
    walk.do(*RESET)
    assert not walk.holds(latched("button_stop"))
    assert not walk.holds(latched("cover_stop"))


@pytest.mark.parametrize(
    "story",
    [
        ("button.press", *RESET, "button.release"),
        ("button.press", "reset.press", "button.release", "reset.release"),
        ("reset.press", "button.press", "button.release", "reset.release"),
        ("button.press", "button.release", "reset.press", *OPEN, *CLOSE, "reset.release"),
        ("button.press", "button.release", "reset.press", "button.press", "reset.release", "button.release"),
    ],
    ids=["under", "held since", "taped down", "cover in between", "same in between"],
)
def test_a_reset_that_does_not_count(walk: Walk, story: tuple[str, ...]) -> None:
    assert walk.do(*story).holds(latched("button_stop"))


def test_after_a_press_that_did_not_count_a_new_one_does(walk: Walk) -> None:
    walk.do("button.press", "reset.press", "button.release", "reset.release", *RESET)
    assert not walk.holds(latched("button_stop"))


def test_a_lawful_reset_is_a_moment_not_a_state(walk: Walk) -> None:
    walk.do("button.press", "button.release", *RESET)
    assert walk.holds(lawful_reset(walk.required))
    assert not walk.do("supply_on.press").holds(lawful_reset(walk.required))


def test_supply_is_barred_from_the_demand_until_supply_on_is_pressed_anew(walk: Walk) -> None:
    barred = supply_barred("emergency_stop")
    assert walk.do(*SUPPLY, "estop.press", "contactor.drop_out").holds(barred)
    assert walk.do("supply_on.press", "supply_on.release").holds(barred)
    assert walk.do("estop.release").holds(barred)
    assert not walk.do("supply_on.press").holds(barred)
    assert not walk.do("supply_on.release").holds(barred)


def test_supply_on_held_through_the_release_counts_unless_strict(walk: Walk) -> None:
    walk.do("estop.press", "supply_on.press", "estop.release")
    assert not walk.holds(supply_barred("emergency_stop"))
    assert walk.holds(supply_barred("emergency_stop", strict=True))
    walk.do("supply_on.release", "supply_on.press")
    assert not walk.holds(supply_barred("emergency_stop", strict=True))


def test_a_maintained_switch_is_never_pressed_anew_by_staying_on() -> None:
    kind = {
        "text": "maintained switch",
        "start": "open",
        "states": {"open": "switched off", "closed": "switched on"},
        "outputs": {"pressed": "closed"},
        "transitions": [
            {"act": "press", "from": ["open"], "to": "closed", "words": "turn the {name} on"},
            {"act": "release", "from": ["closed"], "to": "open", "words": "turn the {name} off"},
        ],
    }
    bench = patched(SAMPLE, {"kinds": {"switch": kind}, "devices": {"supply_on": {"kind": "switch"}}})
    walk = Walk(bench).do("estop.press", "supply_on.press", "estop.release")
    assert walk.holds(supply_barred("emergency_stop"))


def test_a_channel_that_opens_and_closes_alone_is_not_trusted(walk: Walk) -> None:
    walk.do("cover.open_a")
    assert not walk.holds(disagreed("cover_stop"))
    assert walk.do("cover.close_a").holds(disagreed("cover_stop"))
    assert walk.do(*RESET).holds(disagreed("cover_stop"))
    assert walk.do("cover.open_b").holds(disagreed("cover_stop")) is False
    assert walk.do("cover.open_a", *CLOSE).holds(disagreed("cover_stop")) is False


@pytest.mark.parametrize("order", [("a", "b"), ("b", "a")])
def test_channels_that_open_one_after_the_other_agree(walk: Walk, order: tuple[str, str]) -> None:
    walk.do(*(f"cover.open_{channel}" for channel in order), *(f"cover.close_{channel}" for channel in order))
    assert not walk.holds(disagreed("cover_stop"))


def test_after_both_were_open_one_may_close_and_open_again(walk: Walk) -> None:
    walk.do(*OPEN, "cover.close_a", "cover.open_a", *CLOSE)
    assert not walk.holds(disagreed("cover_stop"))


def test_another_stop_in_series_hides_a_disagreement_unless_strict(walk: Walk) -> None:
    walk.do("cover.open_a", "cover.close_a", "button.press", "button.release")
    assert not walk.holds(disagreed("cover_stop"))
    assert walk.holds(disagreed("cover_stop", strict=True))


def test_a_stop_is_due_until_the_torque_is_gone(walk: Walk) -> None:
    walk.do(*SUPPLY, *RESET, "drive.start", "button.press")
    assert walk["drive"] == "disabled"
    assert not walk.holds(stop_due(walk.required, "drive"))


def test_observers_do_not_depend_on_the_wiring(walk: Walk) -> None:
    rewired = patched(SAMPLE, {"wiring": {"relay.channel_a": "relay.out_a", "drive.sto_a": "reset.pressed"}})
    assert observers(Walk(rewired).required) == observers(walk.required)


def test_observers_look_at_stop_devices_buttons_and_torque_alone(walk: Walk) -> None:
    every = observers(walk.required)
    terms = [term for observer in every for term, _ in observer.updates]
    named = {atom.field for term in terms for atom in atoms(term) if isinstance(atom, Now | Was)}
    own = {observer.field.name for observer in every}
    assert named - own == {"cover", "button", "estop", "reset", "supply_on", "drive", "load"}
