"""The check against a simulation by the clock that shares no code with it: what passes does no harm, what fails does.

Benches with modes, with guards that time frees, and sensors that show a demand late are left to other tests.
"""

from typing import Any

import pytest
import yaml
from chain_benches import EXPECTED, WRONG, merged
from chain_shapes import SHAPES
from chain_timed import harms

SOUND = [
    "contactor_pair",
    "contacts_into_the_drive",
    "diagnostic_feedback",
    "emergency_stop_by_supply",
    "guard_bolt",
    "held_reset",
    "line_motor_by_two_contactors",
    "old_drive_behind_a_contactor",
    "ramp_beside_sto",
    "relay_behind_relay",
    "single_contactor",
    "start_stop_station",
    "stop_input_and_delay",
    "two_emergency_stops",
    "two_hand_control",
    "two_zones",
]
TOLD = {
    "torque_off": "torque_off",
    "stays_off": "stays_off",
    "stop_completes": "stop_completes",
    "brief_stop_completes": "stop_completes",
    "start_by_person": "start_by_person",
    "references_zero": "references_zero",
    "contactor_open": "contactor_open",
    "supply_stays_off": "supply_stays_off",
}
"""The rules that the simulation knows too, and what it calls them."""


OUT_OF_REACH = {
    "25_halt_by_closing_contacts.yaml": "works only while the button is held down, which random acts hardly ever do",
    "91_charge_outlasts_the_stop.yaml": "what a charge may still do beside an open contactor is not simulated",
}


def wrong_ones() -> list[str]:
    known = {name for name, one in EXPECTED.items() if one["first"]["id"] in TOLD} - OUT_OF_REACH.keys()
    return sorted(name for name in known if "modes" not in data(name)["required"])


def data(name: str) -> Any:
    return yaml.safe_load((WRONG / name).read_text("utf-8"))


@pytest.mark.parametrize("name", SOUND)
def test_a_bench_that_passes_does_no_harm(name: str) -> None:
    assert harms(yaml.safe_load((SHAPES / f"{name}.yaml").read_text("utf-8")), 160) == set()


@pytest.mark.parametrize("name", wrong_ones())
def test_what_the_check_finds_first_happens(name: str) -> None:
    first = EXPECTED[name]["first"]

    def told(harm: tuple[str, str | None, str]) -> bool:
        rule, function, device = harm
        return (
            rule == TOLD[first["id"]]
            and first["function"] in {None, function}
            and first["subject"] in {None, device}
        )

    assert any(map(told, harms(data(name), 4000, told)))


@pytest.mark.parametrize("name", wrong_ones())
def test_mended_the_bench_does_no_harm(name: str) -> None:
    assert harms(merged(data(name), EXPECTED[name]["mend"]), 80) == set()
