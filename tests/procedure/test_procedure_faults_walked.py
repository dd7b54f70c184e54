"""Every fault of the built-in bench injected into its twin, which knows nothing of the model, and the plan walked.

What the plan is said to reveal must show on the twin, and what no act is said to show must stay silent.
"""

import os
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from plan_walker import RUN_UP, demo_bench, demo_plan, scenario, walked
from twin_faults import ON_TWIN, SHOWN_BY_ITSELF, OnTwin

from interlock.chain.fault_list import considered
from interlock.demo.cell import cell
from interlock.twin.defects import Flaws
from interlock.twin.logic import tracks
from interlock.twin.nets import Net
from interlock.verdict import Verdict

DEEP = bool(os.environ.get("INTERLOCK_DEEP"))
SEEN = (
    Net.COVER_1,
    Net.COVER_2,
    Net.STOP_1,
    Net.EMERGENCY_1,
    Net.RESET,
    Net.SUPPLY,
    Net.MAIN,
    Net.PERMIT_DRIVE,
    Net.PERMIT_LOAD,
    Net.STATE_DRIVE,
    Net.STATE_LOAD,
    Net.SPEED_REFERENCE,
    Net.TORQUE_REFERENCE,
)
REVEALED = {fault: step.number for step in demo_plan().steps for fault in step.reveals}
DARK = {one.fault for one in demo_plan().unrevealed}
FIRST_START = max(
    next(step.number for step in demo_plan().steps if (step.device, step.does) == (device, (act,)))
    for device, act in RUN_UP
)
"""The twin's units start together and show no state between disabled and running: what keeps one off shows here."""
IN_NETS = sorted(set(ON_TWIN) - {"link.discharge_lost"})  # that one shows in the voltage alone


def seen_at_the_ends(of: OnTwin) -> NDArray[np.float64]:
    """What the log shows of contacts, lines, states and references when each step is over."""
    ends: list[float] = []
    acted = scenario(((one.device, one.does, one.wait_s) for one in demo_plan().steps), ends=ends)
    nets = tracks(cell(), acted, Flaws(of.defects), np.random.default_rng(1), of.faults)
    return np.array([nets[net].sample(np.array(ends) + 0.3) for net in SEEN])


@pytest.fixture(scope="module")
def sound() -> NDArray[np.float64]:
    return seen_at_the_ends(OnTwin())


def test_every_fault_of_the_catalogue_has_its_place_on_the_twin() -> None:
    assert {one.id for one in considered(demo_bench())} == set(ON_TWIN) | SHOWN_BY_ITSELF


def test_every_fault_is_either_revealed_or_dark() -> None:
    assert set(REVEALED) | DARK == set(ON_TWIN) | SHOWN_BY_ITSELF
    assert set(REVEALED) & DARK == set()


@pytest.mark.parametrize("fault", IN_NETS)
def test_a_fault_shows_on_the_twin_just_if_the_plan_says_so(fault: str, sound: NDArray[np.float64]) -> None:
    differs = (seen_at_the_ends(ON_TWIN[fault]) != sound).any(axis=0)
    assert differs.any() == (fault in REVEALED)
    if fault in REVEALED:
        assert np.argmax(differs) + 1 <= max(REVEALED[fault], FIRST_START)


@pytest.mark.parametrize(
    "fault", sorted(ON_TWIN) if DEEP else ["relay.wire_channel_a_short_to_supply", "prime.sto_a_dead"]
)
def test_the_log_of_the_walk_passes_just_if_the_fault_is_dark(fault: str, tmp_path: Path) -> None:
    judged = walked(demo_plan(), tmp_path, ON_TWIN[fault].defects, ON_TWIN[fault].faults)
    assert (judged.verdict is Verdict.PASS) == (fault in DARK)
