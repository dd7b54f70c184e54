"""Single faults of the simulated bench: what is stuck stays, shorted lines carry each other, sticking buttons stay."""

from collections.abc import Iterable

import numpy as np
import pytest

from interlock.demo.cell import cell
from interlock.twin import Act, BusyStart, Deed, Fault, Joined, Refused, Scenario, Stuck
from interlock.twin.defects import Flaws
from interlock.twin.kernel import Track
from interlock.twin.logic import tracks
from interlock.twin.nets import DriveState, Net, Terminal

READY = (
    Deed(0.6, Act.RELEASE_EMERGENCY),
    Deed(0.9, Act.RELEASE_STOP),
    Deed(1.4, Act.CLOSE_COVER),
    Deed(2.0, Act.PRESS_SUPPLY),
    Deed(2.5, Act.RELEASE_SUPPLY),
    Deed(3.0, Act.PRESS_RESET),
    Deed(3.5, Act.RELEASE_RESET),
    Deed(4.0, Act.START),
)
STOP = (*READY, Deed(6.0, Act.PRESS_STOP), Deed(8.0, Act.RELEASE_STOP))


def nets(deeds: Iterable[Deed], *faults: Fault) -> dict[Net, Track]:
    return tracks(cell(), Scenario(tuple(deeds), 10.0), Flaws(), np.random.default_rng(3), faults)


def at(track: Track, second: float) -> float:
    return float(track.sample(np.array([second]))[0])


def test_without_a_fault_the_units_run_and_stop() -> None:
    found = nets(STOP)
    assert [at(found[Net.STATE_DRIVE], t) for t in (5.5, 7.0)] == [DriveState.ENABLED, DriveState.DISABLED]


@pytest.mark.parametrize(
    "net", [net for net in Net if not net.startswith(("state", "speed", "torque", "pulse"))]
)
@pytest.mark.parametrize("value", [0, 1])
def test_what_is_stuck_never_moves_again(net: Net, value: int) -> None:
    track = nets(STOP, Stuck(net, value))[net]
    assert set(track.values[1:]) <= {float(value)}
    assert at(track, 0.001) == value


@pytest.mark.parametrize("first", [Terminal.DRIVE_A, Terminal.DRIVE_B])
def test_one_live_stop_input_leaves_the_other_to_take_the_torque(first: Terminal) -> None:
    assert at(nets(STOP, Stuck(first, 1))[Net.STATE_DRIVE], 7.0) == DriveState.DISABLED


def test_both_stop_inputs_live_keep_the_torque() -> None:
    both = (Stuck(Terminal.DRIVE_A, 1), Stuck(Terminal.DRIVE_B, 1))
    found = nets(STOP, *both)
    assert at(found[Net.STATE_DRIVE], 7.0) == DriveState.ENABLED
    assert at(found[Net.STATE_LOAD], 7.0) == DriveState.DISABLED


def test_shorted_stop_inputs_carry_what_either_carries() -> None:
    """With one relay output welded, the short brings it to the other input too: two faults, torque stays."""
    joined = Joined(Terminal.LOAD_A, Terminal.LOAD_B)
    assert at(nets(STOP, joined)[Net.STATE_LOAD], 7.0) == DriveState.DISABLED
    late = nets(READY, joined)
    assert at(late[Net.STATE_LOAD], 5.5) == DriveState.ENABLED


def test_a_welded_relay_contact_bars_the_next_reset() -> None:
    found = nets(READY, Stuck(Net.OUTPUT_1, 1))
    assert at(found[Net.OUTPUT_2], 9.0) == 0


def test_a_reset_line_that_is_always_live_resets_nothing() -> None:
    assert at(nets(READY, Stuck(Terminal.RELAY_RESET, 1))[Net.OUTPUT_1], 9.0) == 0


def test_a_coil_that_is_fed_directly_closes_before_anybody_asked() -> None:
    assert at(nets((), Stuck(Terminal.COIL, 1))[Net.MAIN], 0.5) == 1


def test_an_auxiliary_contact_that_does_not_close_holds_nothing() -> None:
    found = nets(READY, Stuck(Terminal.AUXILIARY, 0))
    assert [at(found[Net.MAIN], t) for t in (2.3, 3.0)] == [1, 0]


def test_a_button_sticks_from_its_instant_on() -> None:
    found = nets(STOP, Refused(Act.RELEASE_STOP, 2.0))
    assert [at(found[Net.STOP_1], t) for t in (1.5, 5.0, 7.0, 9.0)] == [1, 1, 0, 0]


def test_a_start_that_is_kept_starts_its_unit_alone() -> None:
    found = nets(READY[:-1], BusyStart(Net.STATE_DRIVE))
    assert at(found[Net.STATE_DRIVE], 9.0) == DriveState.ENABLED
    assert at(found[Net.STATE_LOAD], 9.0) == DriveState.DISABLED
