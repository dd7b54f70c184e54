"""The safety relay: two channels, comparison of both, reset on release; and the lines from it to the units."""

from collections.abc import Callable
from functools import partial

from interlock.twin.bench import Chain
from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import CHANNELS, Net, Terminal

__all__ = ["Comparison", "EnableLines", "SafetyRelay"]

_UNCOMPARED = (Defect.CHANNEL_2_STUCK_UNSEEN, Defect.CHANNEL_2_LATE_UNSEEN)
_RESETS_ITSELF = (Defect.LATCH_MISSING, Defect.TORQUE_ON_RELEASE)


class Comparison:
    """Two contacts, or rows of contacts in series, that must move together within the discrepancy time.

    If they do not, they are locked out until both are seen open at once.
    """

    def __init__(self, kernel: Kernel, rows: tuple[tuple[Net, ...], tuple[Net, ...]], limit_s: float) -> None:
        self._kernel, self._rows, self._limit_s = kernel, rows, limit_s
        self._seen_open = {0, 1}
        self._differ_since: float | None = None
        self._locked = False
        kernel.watch(self._changed, *rows[0], *rows[1])

    def _changed(self) -> None:
        closed = _reaches(self._kernel, self._rows)
        self._seen_open |= {k for k in (0, 1) if not closed[k]}
        if closed[0] == closed[1]:
            self._differ_since = None
            self._locked = self._locked and closed[0]
        elif self._differ_since is None:
            self._differ_since = self._kernel.now
            self._kernel.after(self._limit_s, partial(self._still_differ, self._kernel.now))

    def _still_differ(self, since: float) -> None:
        if self._differ_since == since:
            self._locked = True

    def agrees(self) -> bool:
        """Not locked out, and neither was seen open without the other since `forget`."""
        return not self._locked and len(self._seen_open) != 1

    def forget(self) -> None:
        """Begins anew: nothing seen open."""
        self._seen_open.clear()


def _reaches(kernel: Kernel, rows: tuple[tuple[Net, ...], tuple[Net, ...]]) -> list[bool]:
    """Whether both rows of contacts, each by its channel's wire, are closed as the relay sees it."""
    first, second = (all(kernel.contact(net) for net in row) for row in rows)
    return [kernel.at(Terminal.RELAY_1, first, second), kernel.at(Terminal.RELAY_2, second, first)]


class SafetyRelay:
    """Outputs fall when a channel opens and rise when reset, pressed with both closed, is released."""

    def __init__(self, kernel: Kernel, chain: Chain, flaws: Flaws, extra: Callable[[], float]) -> None:
        self._kernel, self._chain, self._flaws, self._extra = kernel, chain, flaws, extra
        devices = [((first,), (second,)) for first, second in zip(*CHANNELS, strict=True)]
        self._devices = [Comparison(kernel, rows, chain.discrepancy_s) for rows in devices]
        self._series = Comparison(kernel, CHANNELS, chain.discrepancy_s)
        self._armed = False
        self._pressed_at = 0.0
        self._line = False
        kernel.watch(self._channels_changed, *CHANNELS[0], *CHANNELS[1])
        kernel.watch(self._reset_changed, Net.RESET)

    def _has(self, *defects: Defect) -> bool:
        return any(self._flaws.has(defect, self._kernel.demand) for defect in defects)

    def _closed(self) -> bool:
        return all(_reaches(self._kernel, CHANNELS))

    def _channels_changed(self) -> None:
        if not self._closed():
            self._armed = False
            if self._kernel[Net.OUTPUT_1] or self._kernel[Net.OUTPUT_2]:
                self._fall()
        elif self._has(*_RESETS_ITSELF) or (self._kernel[Net.RESET] and self._has(Defect.RESET_STUCK_ACTS)):
            self._rise()

    def _reset_changed(self) -> None:
        line = self._kernel.at(Terminal.RELAY_RESET, bool(self._kernel[Net.RESET]))
        if line == self._line:
            return
        self._line = line
        if line:
            self._pressed_at = self._kernel.now
            self._armed = self._ready()
            if self._armed and self._has(Defect.RESET_ON_PRESS):
                self._rise()
            return
        held = self._kernel.now - self._pressed_at
        lawful = self._armed and self._ready() and held <= self._chain.reset_hold_max_s
        if lawful or self._has(Defect.RESET_DURING_DEMAND):
            self._rise()
        self._armed = False

    def _ready(self) -> bool:
        off = not (self._kernel[Net.OUTPUT_1] or self._kernel[Net.OUTPUT_2])  # by guided contacts
        return off and self._closed() and (self._agree() or self._has(*_UNCOMPARED))

    def _agree(self) -> bool:
        if any(flaw.defect is Defect.CHANNEL_2_STUCK_MASKED for flaw in self._flaws.all):
            return self._series.agrees()
        return all(device.agrees() for device in self._devices)

    def _rise(self) -> None:
        self._kernel.after(self._chain.rise_s + self._extra(), self._on)

    def _on(self) -> None:
        if self._closed() or self._has(Defect.RESET_DURING_DEMAND):
            for compared in (*self._devices, self._series):
                compared.forget()
            self._kernel.put(Net.OUTPUT_2, 1)
            self._kernel.put(Net.OUTPUT_1, 1)  # last: who hears of it finds both on

    def _fall(self) -> None:
        late = self._flaws.seconds(Defect.RELAY_SLOW, self._kernel.demand)
        for net in (Net.OUTPUT_1, Net.OUTPUT_2):
            self._kernel.after(self._chain.drop_s + late + self._extra(), partial(self._kernel.put, net, 0))


class EnableLines:
    """Feeds relay output 1 to STO input A of each unit; that line is what the log shows."""

    LINES = (
        (Net.PERMIT_DRIVE, Defect.ENABLE_STUCK_DRIVE),
        (Net.PERMIT_LOAD, Defect.ENABLE_STUCK_LOAD),
    )

    def __init__(self, kernel: Kernel, flaws: Flaws) -> None:
        self._kernel, self._flaws = kernel, flaws
        kernel.watch(self._follow, Net.OUTPUT_1)

    def _follow(self) -> None:
        on = self._kernel[Net.OUTPUT_1]
        for line, stuck in self.LINES:
            if on or not self._flaws.has(stuck, self._kernel.demand):
                self._kernel.put(line, on)
        bounce_s = self._flaws.seconds(Defect.ENABLE_BOUNCES, self._kernel.demand)
        if not on and bounce_s:
            self._kernel.after(bounce_s, partial(self._all, 1))
            self._kernel.after(2 * bounce_s, partial(self._all, 0))

    def _all(self, value: float) -> None:
        if not self._kernel[Net.OUTPUT_1]:
            for line, _ in self.LINES:
                self._kernel.put(line, value)
