"""The logic of one unit: states of IEC 61800-7-201, and STO by two lines with a delay."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import DriveState, Net, Terminal

__all__ = ["DRIVE", "LOAD", "UnitLogic", "UnitNets"]


@dataclass(frozen=True, slots=True)
class UnitNets:
    """Which nets and which defects are this unit's."""

    permit: Net
    terminals: tuple[Terminal, Terminal]
    state: Net
    unwired: Defect
    slow: Defect


DRIVE = UnitNets(
    Net.PERMIT_DRIVE,
    (Terminal.DRIVE_A, Terminal.DRIVE_B),
    Net.STATE_DRIVE,
    Defect.STO_UNWIRED_DRIVE,
    Defect.SLOW_STO_DRIVE,
)
LOAD = UnitNets(
    Net.PERMIT_LOAD,
    (Terminal.LOAD_A, Terminal.LOAD_B),
    Net.STATE_LOAD,
    Defect.STO_UNWIRED_LOAD,
    Defect.SLOW_STO_LOAD,
)


class UnitLogic:
    """Goes to switch on disabled when an STO line is low; comes back only when told to start."""

    def __init__(
        self,
        kernel: Kernel,
        nets: UnitNets,
        delays_s: tuple[float, float],
        flaws: Flaws,
        extra: Callable[[], float],
    ) -> None:
        self._kernel, self._nets, self._flaws, self._extra = kernel, nets, flaws, extra
        self._sto_s, self._step_s = delays_s
        kernel.put(nets.state, DriveState.DISABLED)
        kernel.watch(self._lines_changed, nets.permit, Net.OUTPUT_2)
        if kernel.faults.starts_itself(nets.state):
            kernel.watch(self.start, nets.permit, Net.OUTPUT_2, Net.MAIN)

    def _permitted(self) -> bool:
        if self._flaws.has(self._nets.unwired, self._kernel.demand):
            return True
        first, second = bool(self._kernel[self._nets.permit]), bool(self._kernel[Net.OUTPUT_2])
        one, other = self._nets.terminals
        return self._kernel.at(one, first, second) and self._kernel.at(other, second, first)

    def _lines_changed(self) -> None:
        if self._permitted():
            if self._flaws.has(Defect.UNIT_RESTARTS, self._kernel.demand):
                self.start()
            return
        late = self._flaws.seconds(self._nets.slow, self._kernel.demand)
        self._kernel.after(self._sto_s + late + self._extra(), self._block)

    def _block(self) -> None:
        if not self._permitted():
            self._kernel.put(self._nets.state, DriveState.DISABLED)

    def start(self) -> None:
        """Climbs to operation enabled, one state every step, as long as it may."""
        if self._permitted() and self._kernel[Net.MAIN]:
            self._climb(DriveState.READY)

    def _climb(self, state: DriveState) -> None:
        if not self._permitted() or self._kernel[self._nets.state] >= state:
            return
        self._kernel.put(self._nets.state, state)
        if state < DriveState.ENABLED:
            self._kernel.after(self._step_s, partial(self._climb, DriveState(state + 1)))
