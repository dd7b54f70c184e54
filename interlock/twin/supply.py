"""The main contactor and its coil line: supply-on seals in, the emergency stop's third contact opens it."""

from collections.abc import Callable

from interlock.twin.bench import Supply
from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import Net, Terminal

__all__ = ["Contactor"]


class Contactor:
    """Main contacts follow the coil after pick-up and drop-out delay; mirror and auxiliary follow them."""

    def __init__(self, kernel: Kernel, supply: Supply, flaws: Flaws, extra: Callable[[], float]) -> None:
        self._kernel, self._supply, self._flaws, self._extra = kernel, supply, flaws, extra
        self._coil = False
        self._ever_on = False
        kernel.watch(self._line_changed, Net.EMERGENCY_3, Net.SUPPLY, Net.MAIN)
        kernel.after(0.0, self._line_changed)

    def _has(self, defect: Defect) -> bool:
        return self._flaws.has(defect, self._kernel.demand)

    def _line_closed(self) -> bool:
        released, pressed, main = (bool(self._kernel[net]) for net in (Net.EMERGENCY_3, Net.SUPPLY, Net.MAIN))
        auxiliary = self._kernel.at(Terminal.AUXILIARY, main)
        if self._has(Defect.SUPPLY_WHILE_LATCHED) and pressed:
            return True
        if self._has(Defect.SUPPLY_ON_RELEASE):
            auxiliary = auxiliary or self._ever_on
        return self._kernel.at(Terminal.COIL, released and (pressed or auxiliary))

    def _line_changed(self) -> None:
        coil = self._line_closed()
        if coil == self._coil:
            return
        self._coil = coil
        self._ever_on = self._ever_on or coil
        if coil:
            self._kernel.after(self._supply.pick_up_s + self._extra(), self._close)
        elif not self._has(Defect.CONTACTOR_WELDED):
            late = self._flaws.seconds(Defect.CONTACTOR_SLOW, self._kernel.demand)
            self._kernel.after(self._supply.drop_out_s + late + self._extra(), self._open)

    def _close(self) -> None:
        if self._coil:
            self._kernel.put(Net.MAIN, 1)

    def _open(self) -> None:
        if not self._coil:
            self._kernel.put(Net.MAIN, 0)
