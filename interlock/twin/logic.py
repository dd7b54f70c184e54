"""Joins panel, relay, contactor, units and controller, and runs a scenario through them."""

from collections.abc import Iterable
from functools import partial

import numpy as np

from interlock.twin.acts import Scenario
from interlock.twin.bench import TwinBench
from interlock.twin.controller import Controller
from interlock.twin.defects import Flaws
from interlock.twin.kernel import Kernel, Track
from interlock.twin.nets import Net
from interlock.twin.panel import Panel
from interlock.twin.relay import EnableLines, SafetyRelay
from interlock.twin.stuck import Fault, Faults
from interlock.twin.supply import Contactor
from interlock.twin.units import DRIVE, LOAD, UnitLogic

__all__ = ["tracks"]


def tracks(
    bench: TwinBench,
    scenario: Scenario,
    flaws: Flaws,
    rng: np.random.Generator,
    faults: Iterable[Fault] = (),
) -> dict[Net, Track]:
    """The story of every net from power-up to the end of the scenario."""
    kernel = Kernel({}, Faults(faults))

    def extra() -> float:
        return float(rng.uniform(0.0, bench.chain.spread_s))

    step_s = bench.control.step_s
    units = (
        UnitLogic(kernel, DRIVE, (bench.drive.sto_s, step_s), flaws, extra),
        UnitLogic(kernel, LOAD, (bench.load.sto_s, step_s), flaws, extra),
    )
    EnableLines(kernel, flaws)
    SafetyRelay(kernel, bench.chain, flaws, extra)
    Contactor(kernel, bench.supply, flaws, extra)
    controller = Controller(kernel, units, bench.control.zero_s, flaws, extra)
    panel = Panel(kernel, controller.take, bench.chain.cover_lag_s, flaws, rng)
    for deed in scenario.deeds:
        kernel.after(deed.at_s, partial(panel.act, deed))
    kernel.run(scenario.end_s)
    return kernel.tracks
