"""The story of a run on the sample bench, as events and closed-form curves; part of `loggen`."""

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

STOPS = (
    (6.0, "cover"),
    (14.0, "button"),
    (22.0, "cover"),
    (30.0, "emergency"),
    (42.5, "button"),
    (50.5, "cover"),
)
END, TAU_I, IDLE = 60.53, 0.0008, {"drive": 2.0, "load": 0.5}
J, COULOMB, VISCOUS, TAU_BUS, VOLTS, TORQUE = 0.011, 0.28, 0.0012, 0.9, 96.0, 6.2
ONCE = (  # defects of one stop only
    *("pulse_", "enable_", "gap_state", "gap_units", "gap_refs", "alive_", "state_", "current_", "clock_"),
    *("cut", "swapped", "twice", "silent", "late_"),
)


@dataclass
class Script:
    """Steps of each two-valued or stored signal, and the pieces of the closed-form curves."""

    rng: np.random.Generator
    rpm: float
    defect: str = ""
    hit: set[int] = field(default_factory=set)
    steps: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    motion: list[tuple[float, str]] = field(default_factory=list)  # run, stop or coast
    pulses: list[tuple[str, float, float]] = field(default_factory=list)
    demands: list[dict[str, object]] = field(default_factory=list)

    def put(self, at: float, **values: float) -> None:
        for name, value in values.items():
            self.steps.setdefault(name, [(-1.0, 0.0)]).append((at, value))

    def at(self, name: str, t: np.ndarray) -> np.ndarray:
        rows = sorted(self.steps.get(name, [(-1.0, 0.0)]), key=lambda row: row[0])
        times, values = np.array(rows).T
        return values[np.searchsorted(times, t, side="right") - 1]

    def has(self, k: int, *names: str) -> bool:
        return self.defect in names and k in self.hit

    def u(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))


def _start(s: Script, at: float) -> None:
    s.put(at, SREF=s.rpm, gate_drive=1, gate_load=1)
    s.put(at + 0.6, TREF=TORQUE, nm_drive=TORQUE, nm_load=TORQUE)
    s.motion.append((at, "run"))


def _demand(s: Script, k: int, on: float, what: str) -> None:
    """Contacts, lines, units, references and contactor of one stop."""
    both = s.has(k, "slow_both")
    slow_s = s.u(0.22, 0.27)
    off = {unit: on + s.u(0.014, 0.02) + slow_s * (both or s.has(k, f"slow_{unit}")) for unit in IDLE}
    refs = on + s.u(0.044, 0.052) + 0.45 * s.has(k, "refs_late")
    lag = s.u(0.0, 0.01) + 0.25 * s.has(k, "channel_b_late")
    contacts = {"cover": ("A", "B"), "button": ("PB",), "emergency": ("EM",)}[what]
    for name, at in zip(contacts, (on, on + lag), strict=False):
        if not (name == "B" and s.has(k, "channel_b_stuck")):
            s.put(at, **{name: 0})
    for line, unit in (("END", "drive"), ("ENL", "load")):
        if not (line == "ENL" and s.has(k, "enable_stuck")):
            s.put(on + s.u(0.01, 0.013) + slow_s * both, **{line: 0})
        unwired = s.has(k, f"sto_{unit}_unwired")
        if not unwired:
            s.put(off[unit], **{f"gate_{unit}": 0})
        s.put(refs if unwired else off[unit], **{f"nm_{unit}": 0})
    s.motion.append((refs, "stop") if s.has(k, "sto_drive_unwired") else (off["drive"], "coast"))
    for name, kept in (("SREF", "speed_ref_kept"), ("TREF", "torque_ref_kept")):
        if not s.has(k, "refs_kept", kept):
            s.put(refs, **{name: 0})
    if s.has(k, "enable_bounces"):
        s.put(on + 0.3, END=1, ENL=1)
        s.put(on + 0.35, END=0, ENL=0)
    current = {unit: IDLE[unit] + 1.9 * TORQUE for unit in IDLE}
    fact: dict[str, object] = {"what": what, "demand_s": on, "references_s": refs - on}
    for unit in IDLE:
        gone = not s.has(k, f"sto_{unit}_unwired")
        fact[f"{unit}_latency_s"] = off[unit] - on + TAU_I * math.log(current[unit] / 0.3) if gone else None
    s.demands.append(fact)


def _reset(s: Script, k: int, at: float) -> None:
    s.put(at, RST=1)
    acts = at if s.has(k, "reset_on_press") else at + 0.3
    s.put(at + 0.3, RST=0)
    if not s.has(k, "latch_missing", "torque_on_release"):
        s.put(acts + s.u(0.033, 0.042), END=1, ENL=1)


def _return(s: Script, k: int, on: float, gone: float, reset: float, start: float, what: str) -> None:
    """The demand goes, reset and start follow; and what comes back too soon."""
    lag = s.u(0.0, 0.01)
    release = {"cover": {"A": gone, "B": gone + lag}, "button": {"PB": gone}, "emergency": {"EM": gone}}[what]
    for name, at in release.items():
        s.put(at, **{name: 1})
    if s.has(k, "latch_missing", "torque_on_release", "reset_stuck_acts"):
        s.put(gone + 0.05, END=1, ENL=1)
    if s.has(k, "reset_during_demand"):
        s.put(on + 1.5, RST=1)
        s.put(on + 1.8, RST=0)
        s.put(on + 1.84, END=1, ENL=1)
    if not s.has(k, "reset_stuck_acts"):
        _reset(s, k, reset)
    elif k == 0:
        s.put(on + 1.0, RST=1)
    early = {"torque_on_release": gone + 0.06, "torque_on_reset": reset + 0.36}
    _start(s, early[s.defect] if s.has(k, *early) else start)
    where = {
        "pulse_during_demand": on + 1.1,
        "pulse_at_release": gone + 0.01,
        "pulse_after_reset": reset + 0.5,
    }
    if s.has(k, *where):
        begin = where[s.defect]
        s.pulses.append(("drive" if s.u(0, 1) < 0.5 else "load", begin, begin + s.u(0.04, 0.25)))


def _supply(s: Script, k: int, on: float) -> None:
    """The emergency stop's own part: contactor, dead supply-on, release, supply-on."""
    drop = on + s.u(0.02, 0.029) + 0.2 * s.has(k, "contactor_slow")
    s.demands[-1]["contactor_s"] = None if s.has(k, "contactor_welded") else drop - on
    back = on + 6.53 if s.has(k, "supply_on_release") else on + 7.53
    if not s.has(k, "contactor_welded"):
        s.put(drop, FB=0)
        s.put(back, FB=1)
    for press in (on + 3.0, on + 7.5):
        s.put(press, SUP=1)
        s.put(press + 0.25, SUP=0)
    if s.has(k, "supply_while_latched"):
        s.put(on + 3.03, FB=1)
        s.put(on + 3.28, FB=0)


def script(seed: int, rpm: float, defect: str) -> Script:
    """The whole run: power-up, six stops, six restarts."""
    s = Script(np.random.default_rng(seed), rpm, defect)
    s.hit = set(range(len(STOPS)))
    if defect.startswith(ONCE):
        s.hit = {int(s.rng.choice([0, 1, 2, 4, 5]))}
    elif defect in ("torque_on_release", "gap_bus"):  # without a bus no torque; the bus falls once
        s.hit = {3} if defect == "gap_bus" else s.hit - {3}
    s.put(0.5, A=1, B=1, PB=1, EM=1)
    s.put(1.5, SUP=1)
    s.put(1.75, SUP=0)
    s.put(1.528, FB=1)
    if defect == "reset_stuck":
        s.put(2.5, RST=1)
        return s
    _reset(s, -1, 2.5)
    _start(s, 3.5)
    shift = 0.0
    for k, (nominal, what) in enumerate(STOPS):
        shift += s.u(0.0, 0.009)
        on = nominal + shift
        _demand(s, k, on, what)
        emergency = what == "emergency"
        if emergency:
            _supply(s, k, on)
        gone, reset, start = (6.5, 8.5, 9.5) if emergency else (3.0, 4.0, 5.0)
        _return(s, k, on, on + gone, on + reset, on + start, what)
    return s


def speed(s: Script, t: np.ndarray) -> np.ndarray:
    """1/min: first-order run-up, and the exact coast-down under Coulomb and viscous friction."""
    rpm, coulomb = np.zeros_like(t), COULOMB * (0.02 if s.defect == "coast_long" else 1.0)
    events = [*sorted(s.motion), (END + 1.0, "")]
    now, rest = 0.0, coulomb / VISCOUS

    def curve(kind: str, w0: float, dt: np.ndarray) -> np.ndarray:
        target = s.rpm * math.pi / 30 if kind == "run" else 0.0
        if kind == "coast":
            return np.maximum((w0 + rest) * np.exp(-dt * VISCOUS / J) - rest, 0.0)
        return target + (w0 - target) * np.exp(-dt / 0.12)

    for (begin, kind), (end, _) in pairwise(events):
        inside = (t >= begin) & (t < end)
        rpm[inside] = curve(kind, now, t[inside] - begin) * 30 / math.pi
        now = float(curve(kind, now, np.array([end - begin]))[0])
    return rpm


def current(s: Script, unit: str, t: np.ndarray) -> np.ndarray:
    """A: idle plus torque share while on; after each falling edge of the gate an exponential."""
    on = s.at(f"gate_{unit}", t) > 0
    amps = np.where(on, IDLE[unit] + 1.9 * s.at(f"nm_{unit}", t), 0.0)
    for at, value in s.steps.get(f"gate_{unit}", []):
        if value == 0 and at > 0:
            level = IDLE[unit] + 1.9 * float(s.at(f"nm_{unit}", np.array([at - 1e-6]))[0])
            amps += np.where((t >= at) & ~on, level * np.exp(-np.maximum(t - at, 0.0) / TAU_I), 0.0)
    for which, begin, end in s.pulses:
        amps += 3.0 * ((t >= begin) & (t < end) & (which == unit))
    return amps


def bus(s: Script, t: np.ndarray) -> np.ndarray:
    """V: 80 ms up, 0.9 s down."""
    tau = {"bus_slow": 15.0, "bus_kept": 1e9}.get(s.defect, TAU_BUS)
    edges = [*sorted(s.steps["FB"])[1:], (END + 1.0, 0.0)]
    volts, now = np.zeros_like(t), 0.0
    for (begin, closed), (end, _) in pairwise(edges):
        target, lag = (VOLTS, 0.08) if closed else (0.0, tau)
        inside = (t >= begin) & (t < end)
        volts[inside] = target + (now - target) * np.exp(-(t[inside] - begin) / lag)
        now = target + (now - target) * math.exp(-(end - begin) / lag)
    return volts
