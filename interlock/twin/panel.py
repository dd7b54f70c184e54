"""The person's hands on the devices: which contact moves when, and what goes wrong just then."""

from collections.abc import Callable
from functools import partial
from typing import Final

import numpy as np

from interlock.twin.acts import DEMANDS, RELEASES, Act, Deed
from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import Net

__all__ = ["Panel"]

_CONTACTS: Final[dict[Act, tuple[tuple[Net, ...], float]]] = {
    Act.OPEN_COVER: ((Net.COVER_1, Net.COVER_2), 0),
    Act.CLOSE_COVER: ((Net.COVER_1, Net.COVER_2), 1),
    Act.PRESS_STOP: ((Net.STOP_1, Net.STOP_2), 0),
    Act.RELEASE_STOP: ((Net.STOP_1, Net.STOP_2), 1),
    Act.PRESS_EMERGENCY: ((Net.EMERGENCY_1, Net.EMERGENCY_2, Net.EMERGENCY_3), 0),
    Act.RELEASE_EMERGENCY: ((Net.EMERGENCY_1, Net.EMERGENCY_2, Net.EMERGENCY_3), 1),
    Act.PRESS_RESET: ((Net.RESET,), 1),
    Act.RELEASE_RESET: ((Net.RESET,), 0),
    Act.PRESS_SUPPLY: ((Net.SUPPLY,), 1),
    Act.RELEASE_SUPPLY: ((Net.SUPPLY,), 0),
}
_STUCK: Final = (Defect.CHANNEL_2_STUCK, Defect.CHANNEL_2_STUCK_UNSEEN, Defect.CHANNEL_2_STUCK_MASKED)
_BUTTON_LAG_S: Final = 0.002
_PULSE_A: Final = 4.0
_PULSES: Final = (
    (tuple(DEMANDS), Defect.PULSE_DURING_DEMAND, (0.4, 1.6)),
    (RELEASES, Defect.PULSE_AT_RELEASE, (0.0, 0.03)),
    ((Act.RELEASE_RESET,), Defect.PULSE_AFTER_RESET, (0.2, 0.5)),
)


class Panel:
    """Turns acts into contacts: the first moves at once, the others up to the device's lag later."""

    def __init__(
        self,
        kernel: Kernel,
        controller: Callable[[Deed], None],
        cover_lag_s: float,
        flaws: Flaws,
        rng: np.random.Generator,
    ) -> None:
        self._kernel, self._controller, self._cover_lag_s = kernel, controller, cover_lag_s
        self._flaws, self._rng = flaws, rng

    def act(self, deed: Deed) -> None:
        """Does it now."""
        self._kernel.demand += deed.act in DEMANDS
        if self._kernel.faults.refuses(deed.act, self._kernel.now):
            return
        if deed.act not in _CONTACTS:
            self._controller(deed)
        elif not (deed.act is Act.RELEASE_RESET and self._has(Defect.RESET_STUCK, Defect.RESET_STUCK_ACTS)):
            self._move(deed.act, *_CONTACTS[deed.act])
        for acts, defect, window in _PULSES:
            if deed.act in acts and self._has(defect):
                self._pulse(defect, window)

    def _has(self, *defects: Defect) -> bool:
        return any(self._flaws.has(defect, self._kernel.demand) for defect in defects)

    def _move(self, act: Act, contacts: tuple[Net, ...], value: float) -> None:
        cover = act in (Act.OPEN_COVER, Act.CLOSE_COVER)
        lags = self._rng.uniform(0.0, self._cover_lag_s if cover else _BUTTON_LAG_S, len(contacts))
        lags[0] = 0.0
        if cover:
            lags[1] += sum(
                self._flaws.seconds(defect, self._kernel.demand)
                for defect in (Defect.CHANNEL_2_LATE, Defect.CHANNEL_2_LATE_UNSEEN)
            )
        for net, lag in zip(contacts, lags, strict=True):
            stuck = self._has(*_STUCK)
            if net is Net.COVER_2 and value == 0 and stuck:
                continue
            self._kernel.after(float(lag), partial(self._kernel.put, net, value))

    def _pulse(self, defect: Defect, window: tuple[float, float]) -> None:
        """Either unit, some moment within the window, then off again."""
        net = Net.PULSE_DRIVE if self._rng.random() < 0.5 else Net.PULSE_LOAD
        start = float(self._rng.uniform(*window))
        length = self._flaws.seconds(defect, self._kernel.demand)
        self._kernel.after(start, partial(self._kernel.put, net, _PULSE_A))
        self._kernel.after(start + length, partial(self._kernel.put, net, 0.0))
