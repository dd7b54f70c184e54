"""Unit logic and controller: start, STO, references.

Status word coding: IEC 61800-7-201, state coding of the statusword (from memory): bits 0-3, 5, 6 masked.
"""

from dataclasses import dataclass, field

import pytest
from sample_layout import sample_bench

from interlock.demo.cell import cell
from interlock.twin.acts import Act, Deed
from interlock.twin.bench import TwinBench
from interlock.twin.controller import Controller
from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import DriveState, Net
from interlock.twin.units import DRIVE, LOAD, UnitLogic

LINES = (Net.OUTPUT_2, Net.PERMIT_DRIVE, Net.PERMIT_LOAD)  # in the order in which the relay sets them


@dataclass
class Rig:
    """Both units (STO 5 ms, steps of 20 ms) and the controller (28 ms), no spread of delays."""

    flaws: tuple[Defect, ...] = ()
    kernel: Kernel = field(default_factory=lambda: Kernel({Net.MAIN: 1}))

    def __post_init__(self) -> None:
        flaws = Flaws(self.flaws)
        units = tuple(
            UnitLogic(self.kernel, nets, (0.005, 0.02), flaws, lambda: 0.0) for nets in (DRIVE, LOAD)
        )
        self.controller = Controller(self.kernel, units, 0.028, flaws, lambda: 0.0)

    def lines(self, at_s: float, value: float) -> None:
        for net in LINES:
            self.kernel.after(at_s, lambda net=net: self.kernel.put(net, value))

    def do(self, at_s: float, act: Act, value: float = 0.0) -> None:
        self.kernel.after(at_s, lambda: self.controller.take(Deed(at_s, act, value)))

    def story(self, net: Net) -> list[tuple[float, float]]:
        self.kernel.run(10.0)
        track = self.kernel.tracks[net]
        return [(round(t, 3), v) for t, v in zip(track.times[1:], track.values[1:], strict=True)]


def running(*flaws: Defect) -> Rig:
    """Started at 1 s with 100 1/min and 5 Nm; the lines fall at 2 s and return at 3 s."""
    rig = Rig(flaws)
    rig.lines(0.5, 1)
    rig.do(1.0, Act.START)
    rig.do(1.0, Act.SET_SPEED, 100.0)
    rig.do(1.5, Act.SET_TORQUE, 5.0)
    rig.lines(2.0, 0)
    rig.lines(3.0, 1)
    return rig


def test_a_start_climbs_state_by_state_and_sto_ends_it() -> None:
    story = running().story(Net.STATE_DRIVE)
    climb = [(1.0, DriveState.READY), (1.02, DriveState.SWITCHED_ON), (1.04, DriveState.ENABLED)]
    assert story == [*climb, (2.005, DriveState.DISABLED)]


def test_references_are_zeroed_28_ms_after_the_lines_and_stay_zero_when_they_return() -> None:
    rig = running()
    assert rig.story(Net.SPEED_REFERENCE) == [(1.0, 100.0), (2.028, 0.0)]
    assert rig.story(Net.TORQUE_REFERENCE) == [(1.5, 5.0), (2.028, 0.0)]


@pytest.mark.parametrize("missing", [*LINES, Net.MAIN])
def test_no_start_without_both_lines_and_supply(missing: Net) -> None:
    rig = Rig()
    rig.lines(0.5, 1)
    rig.kernel.after(0.6, lambda: rig.kernel.put(missing, 0))
    rig.do(1.0, Act.START)
    assert DriveState.ENABLED not in [value for _, value in rig.story(Net.STATE_DRIVE)]


def test_references_without_start_are_not_taken() -> None:
    rig = Rig()
    rig.lines(0.5, 1)
    rig.do(1.0, Act.SET_SPEED, 100.0)
    assert rig.story(Net.SPEED_REFERENCE) == []


def test_sto_during_the_climb_stops_it() -> None:
    rig = Rig()
    rig.lines(0.5, 1)
    rig.do(1.0, Act.START)
    rig.lines(1.03, 0)
    assert DriveState.ENABLED not in [value for _, value in rig.story(Net.STATE_DRIVE)]


@pytest.mark.parametrize("line", [Net.PERMIT_DRIVE, Net.OUTPUT_2])
def test_one_line_of_the_two_is_enough_for_sto(line: Net) -> None:
    rig = Rig()
    rig.lines(0.5, 1)
    rig.do(1.0, Act.START)
    rig.kernel.after(2.0, lambda: rig.kernel.put(line, 0))
    assert rig.story(Net.STATE_DRIVE)[-1] == (2.005, DriveState.DISABLED)


@pytest.mark.parametrize(
    ("defect", "net", "last"),
    [
        (Defect.SLOW_STO_DRIVE, Net.STATE_DRIVE, (2.245, DriveState.DISABLED)),
        (Defect.SLOW_STO_DRIVE, Net.STATE_LOAD, (2.005, DriveState.DISABLED)),
        (Defect.STO_UNWIRED_DRIVE, Net.STATE_DRIVE, (1.04, DriveState.ENABLED)),
        (Defect.STO_UNWIRED_LOAD, Net.STATE_LOAD, (1.04, DriveState.ENABLED)),
        (Defect.UNIT_RESTARTS, Net.STATE_DRIVE, (3.04, DriveState.ENABLED)),
        (Defect.UNIT_RESTARTS, Net.SPEED_REFERENCE, (2.028, 0.0)),
        (Defect.TORQUE_ON_RESET, Net.STATE_LOAD, (3.04, DriveState.ENABLED)),
        (Defect.TORQUE_ON_RESET, Net.TORQUE_REFERENCE, (3.0, 5.0)),
        (Defect.REFERENCES_KEPT, Net.SPEED_REFERENCE, (1.0, 100.0)),
        (Defect.SPEED_REFERENCE_KEPT, Net.SPEED_REFERENCE, (1.0, 100.0)),
        (Defect.SPEED_REFERENCE_KEPT, Net.TORQUE_REFERENCE, (2.028, 0.0)),
        (Defect.TORQUE_REFERENCE_KEPT, Net.TORQUE_REFERENCE, (1.5, 5.0)),
        (Defect.REFERENCES_LATE, Net.SPEED_REFERENCE, (2.478, 0.0)),
    ],
)
def test_defects(defect: Defect, net: Net, last: tuple[float, float]) -> None:
    assert running(defect).story(net)[-1] == last


@pytest.mark.parametrize("bench", [cell(), sample_bench()], ids=["cell", "sample"])
def test_status_words_code_the_states_that_they_stand_for(bench: TwinBench) -> None:
    words = bench.status_words
    assert words[DriveState.NO_VOLTAGE] & 0x4F == 0x40
    assert words[DriveState.DISABLED] & 0x4F == 0x40
    assert words[DriveState.DISABLED] & 0x10  # voltage enabled
    assert words[DriveState.ENABLED] & 0x6F == 0x27


def test_the_cell_shows_the_states_between_too() -> None:
    words = cell().status_words
    assert words[DriveState.NO_VOLTAGE] & 0x10 == 0
    assert words[DriveState.READY] & 0x6F == 0x21
    assert words[DriveState.SWITCHED_ON] & 0x6F == 0x23
