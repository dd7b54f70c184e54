"""A short run that still holds a cover stop, a restart and an emergency stop: for tests that need many runs."""

from dataclasses import replace
from functools import cache
from typing import Final

import numpy as np

from interlock.demo.cell import cell
from interlock.twin import Act, Deed, Defect, Flaw, Run, Scenario, TwinBench, run

COVER_S: Final = 2.4
EMERGENCY_S: Final = 6.0


def deeds(*rows: tuple[float, Act]) -> list[Deed]:
    """Deeds without value."""
    return [Deed(at_s, act) for at_s, act in rows]


def started(at_s: float, rpm: float = 600.0, torque_nm: float = 8.0) -> list[Deed]:
    """Start, speed at once, torque 0.4 s later."""
    return [
        Deed(at_s, Act.START),
        Deed(at_s, Act.SET_SPEED, rpm),
        Deed(at_s + 0.4, Act.SET_TORQUE, torque_nm),
    ]


def powered() -> list[Deed]:
    """All demands gone, supply on, reset; the enable lines are on before 1.2 s."""
    return deeds(
        (0.1, Act.CLOSE_COVER),
        (0.1, Act.RELEASE_STOP),
        (0.1, Act.RELEASE_EMERGENCY),
        (0.2, Act.PRESS_SUPPLY),
        (0.4, Act.RELEASE_SUPPLY),
        (0.8, Act.PRESS_RESET),
        (1.1, Act.RELEASE_RESET),
    )


def short_walk() -> Scenario:
    """Eight seconds: cover stop at 2.4 s, emergency stop at 6.0 s, each followed by what must not work."""
    rows = powered() + started(1.3)
    rows += deeds(
        (COVER_S, Act.OPEN_COVER),
        (3.0, Act.PRESS_RESET),
        (3.2, Act.RELEASE_RESET),
        (3.4, Act.CLOSE_COVER),
        (3.8, Act.PRESS_RESET),
        (4.1, Act.RELEASE_RESET),
    )
    rows += started(4.8)
    rows += deeds(
        (EMERGENCY_S, Act.PRESS_EMERGENCY),
        (6.4, Act.PRESS_SUPPLY),
        (6.7, Act.RELEASE_SUPPLY),
        (7.0, Act.RELEASE_EMERGENCY),
        (7.3, Act.PRESS_SUPPLY),
        (7.5, Act.RELEASE_SUPPLY),
        (7.6, Act.PRESS_RESET),
        (7.8, Act.RELEASE_RESET),
    )
    return Scenario(tuple(rows), 8.2)


def quick_cell() -> TwinBench:
    """The built-in bench with a coarser step of the plant."""
    return replace(cell(), step_s=0.001)


@cache
def short_run(*flaws: Flaw | Defect, seed: int = 5) -> Run:
    """The short walk on the built-in bench with these flaws."""
    return run(quick_cell(), short_walk(), np.random.default_rng(seed), flaws)
