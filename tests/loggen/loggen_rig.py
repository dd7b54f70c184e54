"""A third, small generator: logs of benches with zones, modes and resets of their own, from acts and a few contacts.

Event by event, with its own little relays; nothing is imported from the package. Invented data.
"""

import heapq
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

EPOCH = 1_790_000_000
CELL, AXIS, KEYS = 0x120, 0x201, 0x121
PERIOD = {CELL: 0.01, AXIS: 0.005, KEYS: 0.02}
IDLE_A, TAU_I, RPM, RUN_UP = 3.0, 0.0008, 1200.0, 0.1  # A, s, 1/min, s

Is = Mapping[str, bool]


@dataclass
class Relay:
    """Energised by a reset pressed and let go while its line is closed; once so, `latches` False: by the line alone."""

    line: Callable[[Is], bool]
    reset: Callable[[Is], bool]
    latches: bool = True
    on_press: bool = False
    on: bool = False
    _armed: bool = False
    _pressed: bool = False
    _used: bool = False

    def follow(self, now: Is) -> None:
        pressed, closed = self.reset(now), self.line(now)
        if not closed:
            self.on = self._armed = False
        elif self._used and not self.latches:
            self.on = True
        elif pressed and not self._pressed and not self.on:
            self._armed, self.on = not self.on_press, self.on_press
        elif self._pressed and not pressed and self._armed:
            self.on, self._armed = True, False
        self._used, self._pressed = self._used or self.on, pressed


@dataclass
class Rig:
    """A bench as contacts, relays, and for each unit the condition under which its enable line is on."""

    contacts: dict[str, bool]  # by port, as at power-up
    relays: dict[str, Relay]
    lines: dict[str, Callable[[Is], bool]]
    runs: dict[str, Callable[[Is], bool]] = field(
        default_factory=dict
    )  # started without any start act while true
    off_s: dict[str, Callable[[Is], float]] = field(
        default_factory=dict
    )  # until torque is gone; 16 ms if not said
    keys: tuple[str, ...] = ()  # contacts in a message of their own
    hidden: tuple[str, ...] = ()  # ports that the log does not show
    turns: str = ""  # the unit that turns the shaft; empty: no shaft is shown
    coast: float = 600.0  # (1/min)/s lost without torque
    steps: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    _now: dict[str, bool] = field(default_factory=dict)
    _heap: list[tuple[float, int, str, bool]] = field(default_factory=list)
    _count: int = 0

    def play(self, acts: Sequence[tuple[float, str, bool]]) -> None:
        """Each act sets a contact, or starts or stops a unit by its control (`start UNIT`, `stop UNIT`)."""
        self._now = dict(self.contacts)
        for unit in self.lines:
            self._now |= {f"{unit}.enabled": False, f"{unit}.torque": False}
        self.steps = {name: [(-1.0, value)] for name, value in self._now.items()}
        self._heap = [(t, n, name, value) for n, (t, name, value) in enumerate(sorted(acts))]
        self._count = len(self._heap)
        heapq.heapify(self._heap)
        while self._heap:
            t, _, name, value = heapq.heappop(self._heap)
            what, _, unit = name.partition(" ")
            if unit:
                self._command(t, what, unit)
            elif self._may(name, value) and self._now[name] != value:
                self._now[name] = value
                self.steps[name].append((t, value))
                for relay in self.relays.values():
                    relay.follow(self._now)
            for unit in self.lines:
                self._react(unit, t)

    def _later(self, at: float, name: str, value: bool) -> None:
        self._count += 1
        heapq.heappush(self._heap, (at, self._count, name, value))

    def _command(self, t: float, what: str, unit: str) -> None:
        if what == "stop":
            self._later(t + 0.016, f"{unit}.torque", False)
        elif self._now[f"{unit}.enabled"]:
            self._later(t + 0.02, f"{unit}.torque", True)

    def _may(self, name: str, value: bool) -> bool:
        """A line follows its condition as it is by now; torque needs the line."""
        unit, _, port = name.partition(".")
        if port == "enabled" and unit in self.lines:
            return self._wanted(unit) == value
        return not (port == "torque" and value) or self._now[f"{unit}.enabled"]

    def _wanted(self, unit: str) -> bool:
        return self.lines[unit]({**self._now, **{name: relay.on for name, relay in self.relays.items()}})

    def _react(self, unit: str, t: float) -> None:
        wanted, off = self._wanted(unit), self.off_s.get(unit, lambda _: 0.016)(self._now)
        enabled, torque = self._now[f"{unit}.enabled"], self._now[f"{unit}.torque"]
        if enabled and not wanted:
            self._later(t + max(0.011, off - 0.005), f"{unit}.enabled", False)
            self._later(t + off, f"{unit}.torque", False)
        elif wanted and not enabled:
            self._later(t + 0.038, f"{unit}.enabled", True)
        elif enabled and not torque and unit in self.runs and self.runs[unit](self._now):
            self._later(t + 0.015, f"{unit}.torque", True)

    def at(self, name: str, t: np.ndarray) -> np.ndarray:
        """The value of a step signal at each instant."""
        times, values = np.array([(at, float(value)) for at, value in self.steps[name]]).T
        return values[np.searchsorted(times, t, side="right") - 1]

    @property
    def bits(self) -> list[str]:
        """The ports that the message of contacts carries."""
        ports = [
            *(one for one in self.contacts if one not in self.keys),
            *(f"{unit}.enabled" for unit in self.lines),
        ]
        return [one for one in ports if not one.startswith("_") and one not in self.hidden]

    def dbc(self) -> str:
        """The data base of the rig's messages."""
        rows = ['VERSION ""', "BS_:", "BU_: Node"]
        for name, ident, ports in (("Cell", CELL, self.bits), ("Keys", KEYS, list(self.keys))):
            if ports:
                rows.append(f"BO_ {ident} {name}: 8 Node")
                rows += [f' SG_ {signal(p)} : {k}|1@1+ (1,0) [0|1] "" Node' for k, p in enumerate(ports)]
                rows.append(' SG_ Beat : 56|8@1+ (1,0) [0|255] "" Node')
        rows.append(f"BO_ {AXIS} Axis: 8 Node")
        for k, unit in enumerate(self.lines):
            rows.append(f' SG_ {unit}_current : {16 * k}|16@1- (0.01,0) [-300|300] "A" Node')
        rows.append(' SG_ speed : 48|16@1- (0.25,0) [-8000|8000] "1/min" Node')
        return "\n".join(rows) + "\n"

    def shows(self) -> str:
        """The section `shows` of the bench file."""
        beat = "alive: Beat, alive_modulo: 256"
        noisy = [f"{unit}_current" for unit in self.lines]
        moves, unsure = (", ".join(f"{one}: {said}" for one in noisy) for said in ("60 ms", "0.1 A"))
        keys = f"    Keys: {{period: 20 ms, longest_gap: 70 ms, {beat}}}\n" if self.keys else ""
        where = {port: "Keys" if port in self.keys else "Cell" for port in (*self.bits, *self.keys)}
        states = "".join(f"    {port}: {message}.{signal(port)} is 1\n" for port, message in where.items())
        states += "".join(f'    {unit}.torque: "|Axis.{unit}_current| > 0.3 A"\n' for unit in self.lines)
        values = "  values:\n    shaft.speed: Axis.speed\n" if self.turns else ""
        return (
            "\nshows:\n  dbc: rig.dbc\n  stamp_delay: {least: 0 ms, most: 4 ms}\n  messages:\n"
            f"    Cell: {{period: 10 ms, longest_gap: 35 ms, {beat}}}\n{keys}"
            f"    Axis: {{period: 5 ms, longest_gap: 17500 us, moves: {{{moves}}}, uncertain: {{{unsure}}}}}\n"
            f"  states:\n{states}{values}"
        )

    def candump(self, end: float, seed: int = 1) -> str:
        """The log, stamped up to 1 ms late, from 0 to `end` seconds (same seed, same text)."""
        rng = np.random.default_rng(seed)
        rows: list[tuple[int, str]] = []
        for ident, period in PERIOD.items():
            if ident == KEYS and not self.keys:
                continue
            t = np.arange(rng.uniform(0.0, period), end, period)
            late = np.minimum(abs(rng.normal(0.0, 0.00015, len(t))), 0.001)
            us = np.maximum.accumulate(np.ceil((t + late) * 1e6)).astype(int)
            data = self._payload(ident, t, rng)
            rows += [(int(u), f"{ident:03X}#{bytes(d).hex().upper()}") for u, d in zip(us, data, strict=True)]
        rows.sort(key=lambda row: row[0])
        return "".join(f"({EPOCH + us // 1000000}.{us % 1000000:06d}) can0 {text} R\n" for us, text in rows)

    def _payload(self, ident: int, t: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        if ident == AXIS:
            columns = [
                100 * (self._current(unit, t) + 0.03 * rng.standard_normal(len(t))) for unit in self.lines
            ]
            columns += [np.zeros(len(t))] * (3 - len(columns))
            columns.append(4 * (self._speed(t) + 0.25 * rng.standard_normal(len(t))))
            return np.stack([np.rint(one) for one in columns], axis=1).astype("<i2").view(np.uint8)
        ports = list(self.keys) if ident == KEYS else self.bits
        word = sum((self.at(port, t) > 0).astype("<u8") << np.uint64(k) for k, port in enumerate(ports))
        word |= (np.arange(len(t)) % 256).astype("<u8") << np.uint64(56)
        return word.astype("<u8").view(np.uint8).reshape(-1, 8)

    def _current(self, unit: str, t: np.ndarray) -> np.ndarray:
        amps = IDLE_A * self.at(f"{unit}.torque", t)
        for at, value in self.steps[f"{unit}.torque"]:
            if not value and at > 0:
                gone = (t >= at) & (amps == 0)
                amps += np.where(gone, IDLE_A * np.exp(-np.maximum(t - at, 0.0) / TAU_I), 0.0)
        return amps

    def _speed(self, t: np.ndarray) -> np.ndarray:
        rpm, now = np.zeros_like(t), 0.0
        if not self.turns:
            return rpm
        steps = [*self.steps[f"{self.turns}.torque"], (1e9, False)]
        for (begin, on), (end, _) in pairwise(steps):
            inside = (t >= begin) & (t < end)

            def curve(dt: np.ndarray, on: bool = on, now: float = now) -> np.ndarray:
                if on:
                    return RPM + (now - RPM) * np.exp(-dt / RUN_UP)
                return np.maximum(now - self.coast * dt, 0.0)

            rpm[inside] = curve(t[inside] - begin)
            now = float(curve(np.array([min(end - begin, 1e3)]))[0])
        return rpm


def signal(port: str) -> str:
    """The name of the signal that shows a port."""
    return port.replace(".", "_")


def decay_s(amps: float = IDLE_A, bound: float = 0.3) -> float:
    """How long after the inverter was blocked the current is above the bound."""
    return TAU_I * math.log(amps / bound)
