"""Runs a scenario on a simulated bench: the log that a logger would hold, and the truth beside it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.twin.acts import Act, Scenario
from interlock.twin.bench import TwinBench
from interlock.twin.defects import Defect, Flaw, Flaws
from interlock.twin.frames import Frames
from interlock.twin.logic import tracks
from interlock.twin.nodes import Sensors, put_on_bus
from interlock.twin.plant import integrate
from interlock.twin.spoil import spoil_columns, spoil_log
from interlock.twin.stuck import Fault
from interlock.twin.truth import Truth, observe, onsets

__all__ = ["EPOCH_S", "Run", "run"]

EPOCH_S: Final = 1_800_000_000
"""Unix time of power-up in simulated logs, unless another is asked for (2027-01-15 08:00 UTC)."""


@dataclass(frozen=True, slots=True)
class Run:
    """A log, the truth about it, and what the sensors would have seen at any instant."""

    log: Frames
    truth: Truth
    sensors: Sensors


def run(
    bench: TwinBench,
    scenario: Scenario,
    rng: np.random.Generator,
    flaws: Iterable[Flaw | Defect] = (),
    epoch_s: int = EPOCH_S,
    faults: Iterable[Fault] = (),
) -> Run:
    """The same arguments and generator state give the same run, to the last bit.

    Raises ValueError for a flaw at a demand that the scenario does not have.
    """
    wrong = Flaws(flaws)
    chain_rng, bus_rng = rng.spawn(2)
    nets = tracks(bench, scenario, wrong, chain_rng, faults)
    history = integrate(bench, nets, scenario.end_s, wrong)
    sensors = Sensors(bench, nets, history)
    demands_s = onsets(scenario)
    log = put_on_bus(sensors, scenario.end_s, bus_rng, spoil_columns(wrong, demands_s, bus_rng))
    log = spoil_log(log, bench.messages, wrong, demands_s)
    truth = Truth(
        epoch_s,
        int(log.stamp_ns[0]) / 1e9,
        int(log.stamp_ns[-1]) / 1e9,
        observe(bench, scenario, nets, history),
        tuple(d.at_s for d in scenario.deeds if d.act is Act.RELEASE_RESET),
        tuple(d.at_s for d in scenario.deeds if d.act is Act.START),
        tuple(flaw.defect.name.lower() for flaw in wrong.all),
    )
    return Run(log, truth, sensors)
