"""A second, small generator of logs of the sample bench: a script of events and closed-form curves.

It shares nothing with the package (no simulation, no import from it), so that a mistake of the simulated bench
and one of the judge cannot hide each other. Invented data; figures by the data sheet of the sample bench.
"""

from collections.abc import Callable

import numpy as np
from loggen_script import END, IDLE, Script, bus, current, script, speed

EPOCH = 1_790_000_000
PERIOD = {"state": 0.01, "drive": 0.005, "load": 0.005, "refs": 0.02, "torque": 0.001, "bus": 0.01}
IDENT = {"state": 0x120, "drive": 0x201, "load": 0x202, "refs": 0x203, "torque": 0x310, "bus": 0x340}
BITS = ("A", "B", "PB", "EM", "RST", "SUP", "FB", "", "END", "ENL")  # in the order of SAFE_State's bits

# name: (verdicts allowed, function that must be named or "", effects of which one must be named)
ONE_FAIL, NO_PASS = {"fail"}, {"inconclusive"}
DEFECTS: dict[str, tuple[set[str], str, set[str]]] = {
    "slow_drive": (ONE_FAIL, "cover_stop", {"torque_off"}),
    "slow_load": (ONE_FAIL, "cover_stop", {"torque_off"}),
    "slow_both": (ONE_FAIL, "button_stop", {"torque_off"}),
    "sto_drive_unwired": (ONE_FAIL, "cover_stop", {"torque_off"}),
    "sto_load_unwired": (ONE_FAIL, "cover_stop", {"torque_off"}),
    "refs_kept": (ONE_FAIL, "cover_stop", {"references_zero"}),
    "speed_ref_kept": (ONE_FAIL, "cover_stop", {"references_zero"}),
    "torque_ref_kept": (ONE_FAIL, "cover_stop", {"references_zero"}),
    "refs_late": (ONE_FAIL, "cover_stop", {"references_zero"}),
    "latch_missing": (ONE_FAIL, "cover_stop", {"stays_off", "reset_on_release"}),
    "torque_on_release": (ONE_FAIL, "cover_stop", {"stays_off", "torque_off"}),
    "torque_on_reset": (ONE_FAIL, "cover_stop", {"stays_off", "torque_off"}),
    "reset_on_press": (ONE_FAIL, "cover_stop", {"reset_on_release", "stays_off"}),
    "reset_during_demand": (ONE_FAIL, "cover_stop", {"stays_off", "reset_on_release"}),
    "reset_stuck": ({"not_observed", "inconclusive"}, "", set()),
    "reset_stuck_acts": (ONE_FAIL, "button_stop", {"stays_off", "reset_on_release"}),
    "contactor_welded": (ONE_FAIL, "emergency_stop", {"contactor_open"}),
    "contactor_slow": (ONE_FAIL, "emergency_stop", {"contactor_open"}),
    "supply_on_release": (ONE_FAIL, "emergency_stop", {"supply_stays_off"}),
    "supply_while_latched": (ONE_FAIL, "emergency_stop", {"supply_on_dead"}),
    "bus_slow": (ONE_FAIL, "emergency_stop", {"bus_discharged"}),
    "bus_kept": (ONE_FAIL, "emergency_stop", {"bus_discharged"}),
    "coast_long": (ONE_FAIL, "emergency_stop", {"standstill"}),
    "channel_b_stuck": (ONE_FAIL, "cover_stop", {"channels_agree"}),
    "channel_b_late": ({"fail", "inconclusive"}, "cover_stop", {"channels_agree"}),
    "pulse_during_demand": (ONE_FAIL, "", {"stays_off", "torque_off"}),
    "pulse_at_release": (ONE_FAIL, "", {"stays_off", "torque_off"}),
    "pulse_after_reset": (ONE_FAIL, "", {"stays_off", "torque_off"}),
    "enable_stuck": ({"fail", "inconclusive"}, "", {"stays_off", "torque_off"}),
    "enable_bounces": ({"fail", "inconclusive"}, "", {"stays_off", "torque_off"}),
    "gap_state": (NO_PASS, "", set()),
    "gap_units": (NO_PASS, "", set()),
    "gap_refs": (NO_PASS, "", set()),
    "gap_bus": (NO_PASS, "emergency_stop", {"bus_discharged"}),
    "alive_frozen": (NO_PASS, "", set()),
    "state_frozen": (NO_PASS, "", set()),
    "state_frozen_alive": ({"inconclusive", "fail"}, "", set()),
    "current_frozen": (NO_PASS, "", set()),
    "current_zero": (NO_PASS, "", set()),
    "current_dead": ({"inconclusive", "not_observed"}, "", set()),
    "clock_back": (NO_PASS, "", set()),
    "cut": (NO_PASS, "", set()),
    "swapped": (NO_PASS, "", set()),
    "twice": (NO_PASS, "", set()),
    "silent": (NO_PASS, "", set()),
    "late_stamps": (NO_PASS, "", set()),
}


def _be16(x: np.ndarray) -> np.ndarray:
    return np.rint(x).astype(">i2").view(np.uint8).reshape(-1, 2)


def _le(x: np.ndarray, kind: str) -> np.ndarray:
    return np.rint(x).astype(kind).view(np.uint8).reshape(len(x), -1)


def payload(s: Script, name: str, t: np.ndarray, hold: Callable[[str, np.ndarray], np.ndarray]) -> np.ndarray:
    """Payload bytes of every frame of a message; `hold` may spoil a column by its name."""
    n, zero = len(t), np.zeros((len(t), 2), np.uint8)
    noise = s.rng.standard_normal((2, n))
    match name:
        case "state":
            word = sum(np.where(s.at(bit, t) > 0, 1 << k, 0) for k, bit in enumerate(BITS) if bit)
            word, alive = hold("bits", word), hold("alive", np.arange(n) % 256)
            return np.hstack([_le(word, "<u2"), np.zeros((n, 5), np.uint8), _le(alive, "u1")])
        case "drive" | "load":
            status = _le(np.where(s.at(f"gate_{name}", t) > 0, 0x637, 0x650), "<u2")
            amps = hold("current", current(s, name, t) + 0.03 * noise[0])
            torque = 200 * s.at("nm_load", t) * (s.at("gate_load", t) > 0)
            other = 4 * (speed(s, t) + 0.25 * noise[1]) if name == "drive" else torque
            return np.hstack([status, _be16(other), _be16(100 * amps), zero])
        case "refs":
            sref, tref = 4 * s.at("SREF", t), 200 * s.at("TREF", t)
            return np.hstack([_le(sref, "<i2"), _le(tref, "<i2"), zero, zero])
        case "torque":
            return _le(10000 * (s.at("nm_load", t) * (s.at("gate_load", t) > 0) + 0.01 * noise[0]), "<i4")
        case _:
            volts = bus(s, t)
            amps = 10 * ((volts > 20) * (1.0 + 0.05 * noise[0]) + 1.2 * current(s, "drive", t))
            return np.hstack([_le(10 * volts, "<u2"), _le(amps, "<i2")])


def make(
    seed: int, defect: str = "", rpm: float = 1440.0, stamp_s: float = 0.00015, loss: float = 0.0
) -> tuple[str, dict[str, object]]:
    """A candump log and the truth about it (same seed, same text).

    `stamp_s` above 1 ms: delays evenly up to it; else half-normal. `loss`: chance that a frame is lost alone.
    """
    s = script(seed, rpm, defect)
    hit = sorted(s.hit)[0]
    onset = float(s.demands[hit]["demand_s"]) if s.demands else 3.0  # type: ignore[arg-type]
    rows: list[tuple[int, str]] = []
    for name, period in PERIOD.items():
        rows += _rows(s, name, period, onset, stamp_s, loss)
    rows.sort(key=lambda row: row[0])
    rows = _spoil_rows(rows, defect, onset)
    text = "".join(f"({EPOCH + us // 1000000}.{us % 1000000:06d}) can0 {frame} R\n" for us, frame in rows)
    allowed, function, effects = DEFECTS.get(defect, ({"pass"}, "", set()))
    truth = {
        "name": defect or "sound",
        "sound": not defect,
        "epoch": float(EPOCH),
        "first_frame_s": rows[0][0] / 1e6,
        "demands": s.demands,
        "hit": hit,
        "rpm": rpm,
        "allowed": sorted(allowed),
        "function": function,
        "effects": sorted(effects),
    }
    return text, truth


def _rows(
    s: Script, name: str, period: float, onset: float, stamp_s: float, loss: float
) -> list[tuple[int, str]]:
    """Stamp in microseconds and `ID#DATA` of every frame of a message, sensor and node defects included."""
    t = np.arange(s.u(0.0, period), END, period)

    def window(begin: float, length: float) -> np.ndarray:
        return (t >= onset + begin) & (t < onset + begin + length)

    def hold(column: str, x: np.ndarray) -> np.ndarray:
        held = {
            ("alive_frozen", "alive"): window(-0.05, 0.5),
            ("state_frozen", "alive"): window(-0.05, 0.5),
            ("state_frozen", "bits"): window(-0.05, 0.5),
            ("state_frozen_alive", "bits"): window(-0.05, 0.5),
            ("current_frozen", "current"): window(0.3, 2.0),
        }.get((s.defect, column))
        if held is not None:
            return np.where(held, x[np.argmax(held)], x)
        if column == "current" and s.defect in ("current_zero", "current_dead"):
            return np.where(window(-0.05, 2.0) | (s.defect == "current_dead"), 0.0, x)
        return x

    data = payload(s, name, t, hold)
    late = s.rng.uniform(0.0, stamp_s, len(t)) if stamp_s > 0.001 else abs(s.rng.normal(0.0, stamp_s, len(t)))
    us = np.maximum.accumulate(np.ceil((t + np.minimum(late, 0.00399)) * 1e6)).astype(int)
    keep = s.rng.random(len(t)) >= loss
    keep[1:] |= ~keep[:-1]
    gone = {"gap_state": "state", "gap_units": "drive load", "gap_refs": "refs", "gap_bus": "bus"}
    if name in gone.get(s.defect, "").split() or s.defect == "silent":
        keep &= ~window(-0.03, 6.0 if name == "bus" and s.defect == "gap_bus" else 0.4)
    if s.defect == "late_stamps" and name in IDLE:
        us = np.maximum.accumulate(us + 60_000 * window(-0.05, 1.0))
    head = f"{IDENT[name]:03X}#"
    return [(int(u), head + bytes(d).hex().upper()) for u, d in zip(us[keep], data[keep], strict=True)]


def _spoil_rows(rows: list[tuple[int, str]], defect: str, onset: float) -> list[tuple[int, str]]:
    """Defects of the logger: order, copies, clock, end."""
    at = next((k for k, row in enumerate(rows) if row[0] >= onset * 1e6), 0)
    match defect:
        case "cut":
            return [row for row in rows if row[0] < (onset + 0.015) * 1e6]
        case "clock_back":
            return [(us - 300_000 * (us > (onset + 0.5) * 1e6), frame) for us, frame in rows]
        case "swapped":
            return rows[: at - 40] + rows[at : at + 40] + rows[at - 40 : at] + rows[at + 40 :]
        case "twice":
            return rows[:at] + [row for row in rows[at : at + 400] for _ in range(2)] + rows[at + 400 :]
        case _:
            return rows
