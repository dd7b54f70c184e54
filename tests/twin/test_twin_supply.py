"""Contactor and coil line: sealing in, drop-out by the emergency stop, and what each defect breaks.

That releasing an emergency stop must not by itself restart or re-energise: ISO 13850, clause 4.1.4 (from memory).
"""

import pytest

from interlock.demo.cell import cell
from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import Net
from interlock.twin.supply import Contactor

SUPPLY = cell().supply  # pick-up 33 ms, drop-out 20 ms


def story(*moves: tuple[float, Net, float], flaws: tuple[Defect, ...] = ()) -> list[tuple[float, float]]:
    """Changes of the main contacts (ms) under these moves of the coil line's contacts."""
    kernel = Kernel({Net.EMERGENCY_3: 1})
    Contactor(kernel, SUPPLY, Flaws(flaws), lambda: 0.0)
    for at_s, net, value in moves:
        kernel.after(at_s, lambda net=net, value=value: kernel.put(net, value))
    kernel.run(20.0)
    track = kernel.tracks[Net.MAIN]
    return [(round(t, 3), v) for t, v in zip(track.times[1:], track.values[1:], strict=True)]


ON = ((1.0, Net.SUPPLY, 1), (1.4, Net.SUPPLY, 0))
STOP = (2.0, Net.EMERGENCY_3, 0)
PRESSED = ((3.0, Net.SUPPLY, 1), (3.4, Net.SUPPLY, 0))
RELEASED = (5.0, Net.EMERGENCY_3, 1)


def test_supply_on_seals_in_after_the_pick_up_delay() -> None:
    assert story(*ON) == [(1.033, 1.0)]


def test_a_touch_shorter_than_the_pick_up_does_not_seal_in() -> None:
    assert story((1.0, Net.SUPPLY, 1), (1.02, Net.SUPPLY, 0)) == []


def test_the_emergency_stop_drops_it_and_pressing_or_releasing_brings_nothing_back() -> None:
    assert story(*ON, STOP, *PRESSED, RELEASED) == [(1.033, 1.0), (2.02, 0.0)]


def test_after_the_release_supply_on_works_again() -> None:
    again = ((6.0, Net.SUPPLY, 1), (6.4, Net.SUPPLY, 0))
    assert story(*ON, STOP, RELEASED, *again)[-1] == (6.033, 1.0)


@pytest.mark.parametrize(
    ("defect", "expected"),
    [
        (Defect.CONTACTOR_WELDED, [(1.033, 1.0)]),
        (Defect.CONTACTOR_SLOW, [(1.033, 1.0), (2.24, 0.0)]),
        (Defect.SUPPLY_ON_RELEASE, [(1.033, 1.0), (2.02, 0.0), (5.033, 1.0)]),
        (Defect.SUPPLY_WHILE_LATCHED, [(1.033, 1.0), (2.02, 0.0), (3.033, 1.0), (3.42, 0.0)]),
    ],
)
def test_defects(defect: Defect, expected: list[tuple[float, float]]) -> None:
    assert story(*ON, STOP, *PRESSED, RELEASED, flaws=(defect,)) == expected
