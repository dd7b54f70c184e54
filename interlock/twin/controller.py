"""The cell controller: stores the references, zeroes them while an enable line is off, starts on request."""

from collections.abc import Callable

from interlock.twin.acts import Act, Deed
from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import Net
from interlock.twin.units import UnitLogic

__all__ = ["Controller"]

_REFERENCES = (
    (Net.SPEED_REFERENCE, Defect.SPEED_REFERENCE_KEPT),
    (Net.TORQUE_REFERENCE, Defect.TORQUE_REFERENCE_KEPT),
)


class Controller:
    """Takes start and references only while both enable lines are on; forgets both when one falls."""

    def __init__(
        self,
        kernel: Kernel,
        units: tuple[UnitLogic, ...],
        zero_s: float,
        flaws: Flaws,
        extra: Callable[[], float],
    ) -> None:
        self._kernel, self._units, self._zero_s, self._flaws, self._extra = (
            kernel,
            units,
            zero_s,
            flaws,
            extra,
        )
        self._started = False
        self._remembered: dict[Net, float] = {}
        kernel.watch(self._lines_changed, Net.PERMIT_DRIVE, Net.PERMIT_LOAD)

    def _has(self, *defects: Defect) -> bool:
        return any(self._flaws.has(defect, self._kernel.demand) for defect in defects)

    def _permitted(self) -> bool:
        return bool(self._kernel[Net.PERMIT_DRIVE] and self._kernel[Net.PERMIT_LOAD])

    def take(self, deed: Deed) -> None:
        """Obeys a start or a new reference if it may."""
        if deed.act is Act.START:
            if self._permitted() and self._kernel[Net.MAIN]:
                self._start()
        elif self._started:
            net = Net.SPEED_REFERENCE if deed.act is Act.SET_SPEED else Net.TORQUE_REFERENCE
            self._kernel.put(net, deed.value)
            self._remembered[net] = deed.value

    def _start(self) -> None:
        self._started = True
        for unit in self._units:
            unit.start()

    def _lines_changed(self) -> None:
        if not self._permitted():
            self._started = False
            late = self._flaws.seconds(Defect.REFERENCES_LATE, self._kernel.demand)
            self._kernel.after(self._zero_s + late + self._extra(), self._zero)
        elif self._remembered and self._has(Defect.TORQUE_ON_RESET, Defect.TORQUE_ON_RELEASE):
            self._start()
            for net, value in self._remembered.items():
                self._kernel.put(net, value)

    def _zero(self) -> None:
        for net, kept in _REFERENCES:
            if not self._started and not self._has(kept, Defect.REFERENCES_KEPT):
                self._kernel.put(net, 0.0)
