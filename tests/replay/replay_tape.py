"""A sound log of the sample bench as frames that a test may spoil one by one, and then has judged.

Times are seconds since the log's epoch; a frame's stamp stands for the instant of its content (0.5 ms at most apart).
"""

import functools
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import loggen
import numpy as np
from numpy.typing import NDArray

from interlock.bench import load_bench
from interlock.replay import Finding, Judgement, judge_trace, replay
from interlock.trace import Samples, Trace
from interlock.verdict import Verdict

BENCH_FILE: Final = Path(__file__).parent.parent / "benches" / "sample" / "bench.yaml"
BENCH: Final = load_bench(BENCH_FILE)

SAFE, DRV, LOD, REFS, BUS = 0x120, 0x201, 0x202, 0x203, 0x340
MESSAGES: Final = {
    SAFE: "SAFE_State",
    DRV: "DRV_Actual",
    LOD: "LOD_Actual",
    REFS: "CTL_Refs",
    BUS: "PSU_Bus",
}
BITS: Final = {  # signal of SAFE_State: byte and bit, by the sample bench's DBC
    "CoverA": (0, 0),
    "CoverB": (0, 1),
    "TorqueOffPb": (0, 2),
    "EmStop": (0, 3),
    "ResetPb": (0, 4),
    "SupplyOnPb": (0, 5),
    "MainContactorFb": (0, 6),
    "TorqueEnableDrv": (1, 0),
    "TorqueEnableLod": (1, 1),
}
NUMBERS: Final = {  # signal: identifier, first byte, type, scale
    "DrvSpeed": (DRV, 2, ">i2", 0.25),
    "DrvCurrent": (DRV, 4, ">i2", 0.01),
    "LodTorqueEst": (LOD, 2, ">i2", 0.005),
    "LodCurrent": (LOD, 4, ">i2", 0.01),
    "SpeedRef": (REFS, 0, "<i2", 0.25),
    "TorqueRef": (REFS, 2, "<i2", 0.005),
    "BusVoltage": (BUS, 0, "<u2", 0.1),
    "Alive": (SAFE, 7, "u1", 1.0),
}


@dataclass(frozen=True)
class Moments:
    """When one stop of the log began and ended."""

    on: float
    gone: float
    press: float
    release: float
    start: float


class Tape:
    """Frames in the order of the file; every method spoils this tape and returns it."""

    def __init__(self, us: NDArray[np.int64], ident: NDArray[np.int64], data: NDArray[np.uint8]) -> None:
        self.us, self.ident, self.data = us, ident, data
        self.stops: list[Moments] = []

    def copy(self) -> "Tape":
        other = Tape(self.us.copy(), self.ident.copy(), self.data.copy())
        other.stops = self.stops
        return other

    def rows(self, ident: int | None, lo: float = -1.0, hi: float = 1e6) -> NDArray[np.intp]:
        """Rows of one message (None: of all) stamped from `lo` up to, and without, `hi`."""
        inside = (self.us >= lo * 1e6) & (self.us < hi * 1e6)
        return np.flatnonzero(inside if ident is None else inside & (self.ident == ident))

    def put(self, signal: str, value: float, lo: float = -1.0, hi: float = 1e6) -> "Tape":
        """The signal shows `value` in the window."""
        if signal in BITS:
            byte, bit = BITS[signal]
            rows = self.rows(SAFE, lo, hi)
            self.data[rows, byte] = self.data[rows, byte] & (255 - (1 << bit)) | (int(value) << bit)
            return self
        return self._write(signal, lambda shown: np.full_like(shown, value), lo, hi)

    def add(self, signal: str, amount: float, lo: float = -1.0, hi: float = 1e6) -> "Tape":
        """The signal shows that much more than it did, noise and all."""
        return self._write(signal, lambda shown: shown + amount, lo, hi)

    def hold(self, signal: str, lo: float, hi: float) -> "Tape":
        """The signal goes on to show what it showed first in the window."""
        if signal not in BITS:
            return self._write(signal, lambda shown: np.full_like(shown, shown[0]), lo, hi)
        byte, bit = BITS[signal]
        return self.put(signal, self.data[self.rows(SAFE, lo, hi)[0], byte] >> bit & 1, lo, hi)

    def move(self, signal: str, by: float, lo: float, hi: float) -> "Tape":
        """What the signal shows in the window comes from `by` seconds earlier."""
        ident = SAFE if signal in BITS else NUMBERS[signal][0]
        rows, source = self.rows(ident, lo, hi), self.rows(ident)
        taken = source[np.searchsorted(self.us[source], self.us[rows] - round(by * 1e6), side="right") - 1]
        byte, width = (BITS[signal][0], 1) if signal in BITS else (NUMBERS[signal][1], 2)
        mask = np.uint8(1 << BITS[signal][1]) if signal in BITS else np.uint8(255)
        old, new = self.data[rows, byte : byte + width], self.data[taken, byte : byte + width]
        self.data[rows, byte : byte + width] = (old & ~mask) | (new & mask)
        return self

    def _write(self, signal: str, change, lo: float, hi: float) -> "Tape":  # type: ignore[no-untyped-def]
        ident, byte, kind, scale = NUMBERS[signal]
        rows, width = self.rows(ident, lo, hi), np.dtype(kind).itemsize
        raw = np.ascontiguousarray(self.data[rows, byte : byte + width]).view(kind)[:, 0]
        new = np.rint(change(raw * scale) / scale).astype(kind)
        self.data[rows, byte : byte + width] = new.view(np.uint8).reshape(-1, width)
        return self

    def drop(self, ident: int | None, lo: float = -1.0, hi: float = 1e6) -> "Tape":
        """The frames are lost."""
        return self.take(np.setdiff1d(np.arange(len(self.us)), self.rows(ident, lo, hi)))

    def take(self, rows: NDArray[np.intp]) -> "Tape":
        """Only these frames, in this order."""
        self.us, self.ident, self.data = self.us[rows], self.ident[rows], self.data[rows]
        return self

    def cut_out(self, lo: float, hi: float) -> "Tape":
        """A piece of the tape is taken out and its ends joined; the alive counter runs on."""
        self.drop(None, lo, hi)
        self.us[self.us >= hi * 1e6] -= round((hi - lo) * 1e6)
        rows = self.rows(SAFE)
        self.data[rows, 7] = np.arange(len(rows)) % 256
        return self

    def late(self, ident: int | None, by: float, lo: float = -1.0, hi: float = 1e6) -> "Tape":
        """The frames are stamped later (the order of each message is kept, the file sorted by stamps)."""
        rows = self.rows(ident, lo, hi)
        self.us[rows] += round(by * 1e6)
        for one in {ident} if ident is not None else set(self.ident.tolist()):
            mine = self.rows(one)
            self.us[mine] = np.maximum.accumulate(self.us[mine])
        return self.take(np.argsort(self.us, kind="stable"))

    def freeze(self, ident: int, lo: float, hi: float, *, counting: bool = True) -> "Tape":
        """The sender repeats its first payload of the window; `counting`: but for the alive counter."""
        rows = self.rows(ident, lo, hi)
        width = 7 if counting and ident == SAFE else 8
        self.data[rows, :width] = self.data[rows[0], :width]
        return self

    def text(self, epoch: int = loggen.EPOCH) -> str:
        """The tape as a candump log."""
        size = {SAFE: 16, DRV: 16, LOD: 16, REFS: 16, BUS: 8}
        whole = self.data.tobytes().hex().upper()
        seconds, micro = (self.us // 1_000_000 + epoch).tolist(), (self.us % 1_000_000).tolist()
        return "".join(
            f"({s}.{u:06d}) can0 {i:03X}#{whole[16 * k : 16 * k + size[i]]} R\n"
            for k, (s, u, i) in enumerate(zip(seconds, micro, self.ident.tolist(), strict=True))
        )

    def trace(self) -> Trace:
        """The tape as a trace, decoded here: what the reader would add about its data is not there."""
        start, messages, signals = int(self.us.min()), {}, {}
        for ident, message in MESSAGES.items():
            rows = self.rows(ident)
            times, data = (self.us[rows] - start) * 1000, self.data[rows]
            if not len(rows):
                continue
            messages[message] = times
            for signal, (byte, bit) in BITS.items() if ident == SAFE else ():
                values = (data[:, byte] >> bit & 1).astype(np.float64)
                signals[f"{message}.{signal}"] = Samples(message, signal, "", times, values)
            for signal, (of, byte, kind, scale) in NUMBERS.items():
                if of == ident:
                    raw = np.ascontiguousarray(data[:, byte : byte + np.dtype(kind).itemsize]).view(kind)
                    signals[f"{message}.{signal}"] = Samples(message, signal, "", times, raw[:, 0] * scale)
        end = int(self.us.max() - start) * 1000
        began = loggen.EPOCH * 10**9 + start * 1000
        return Trace(began, True, end, messages, signals, (), resolution_ns=1000)


@functools.cache
def _sound(seed: int, rpm: float, stamp_s: float, loss: float) -> Tape:
    text, truth = loggen.make(seed, "", rpm=rpm, stamp_s=stamp_s, loss=loss)
    rows = [line.split() for line in text.splitlines() if " 310#" not in line]  # torque: 1 kHz, not evidence
    stamps = [row[0][1:-1].split(".") for row in rows]
    us = np.array([(int(s) - loggen.EPOCH) * 1_000_000 + int(u) for s, u in stamps], dtype=np.int64)
    ident = np.array([int(row[2][:3], 16) for row in rows], dtype=np.int64)
    data = np.frombuffer(bytes.fromhex("".join(row[2][4:].ljust(16, "0") for row in rows)), np.uint8)
    tape = Tape(us, ident, data.reshape(-1, 8).copy())
    for demand in truth["demands"]:  # type: ignore[attr-defined]
        on, long = demand["demand_s"], demand["what"] == "emergency"
        gone, press, start = (6.5, 8.5, 9.5) if long else (3.0, 4.0, 5.0)
        tape.stops.append(Moments(on, on + gone, on + press, on + press + 0.3, on + start))
    return tape


def sound(seed: int = 3, rpm: float = 1440.0, stamp_s: float = 0.00015, loss: float = 0.0) -> Tape:
    """A fresh copy of a sound log: cover, button, cover, emergency stop, button, cover."""
    return _sound(seed, rpm, stamp_s, loss).copy()


def heard(tape: Tape) -> Judgement:
    """What the judge says of a tape whose data nobody doubts."""
    return judge_trace(BENCH, tape.trace())


def judged(log: Tape | str | bytes, folder: Path, name: str = "a.log") -> Judgement:
    """What the package says of a log file."""
    path = folder / name
    match log:
        case Tape():
            path.write_text(log.text(), newline="\n")
        case str():
            path.write_text(log, newline="")
        case _:
            path.write_bytes(log)
    return replay(BENCH_FILE, BENCH, [path])


def found(
    judgement: Judgement,
    effect: str,
    *,
    function: str | None = None,
    subject: str | None = None,
    verdict: Verdict | None = None,
    near: float | None = None,
) -> list[Finding]:
    """Findings of an effect; `near`: the demand's interval, half a second wider, holds this instant (s)."""
    start = judgement.observation.trace.start_ns - loggen.EPOCH * 10**9

    def fits(one: Finding) -> bool:
        if near is not None:
            if one.demand is None or one.demand.hi is None:
                return False
            at = near * 1e9 - start
            if not one.demand.lo - 5e8 <= at <= one.demand.hi + 5e8:
                return False
        return (
            one.effect == effect
            and function in (None, one.function)
            and subject in (None, one.subject)
            and verdict in (None, one.verdict)
        )

    return [one for one in judgement.findings if fits(one)]


COVER, BUTTON, COVER_2, ESTOP, BUTTON_2, COVER_3 = sound().stops
"""The stops of `sound()`, in the order of the log."""


@dataclass(frozen=True)
class Case:
    """One thing done to a sound log, the right overall verdict, and the finding that must say why."""

    name: str
    spoil: Callable[[Tape], Tape]
    verdict: str
    function: str = ""
    subject: str = ""
    effect: str = ""
    words: str = ""  # a regular expression that the finding's sentence must hold

    def __str__(self) -> str:
        return self.name

    def check(self) -> Judgement:
        """Judge the spoiled log and look for the finding; a fail must be laid on no other function."""
        said = heard(self.spoil(sound()))
        worst = [
            f"{one.verdict}: {one.function} {one.subject} {one.effect}: {one.sentence}"
            for one in said.findings
        ]
        assert said.verdict.value == self.verdict, [line for line in worst if not line.startswith("pass")]
        if self.effect:
            named = [
                one
                for one in said.findings
                if (one.function, one.subject, one.effect) == (self.function, self.subject, self.effect)
                and one.verdict is said.verdict
            ]
            assert named, [line for line in worst if not line.startswith("pass")]
            assert any(re.search(self.words, one.sentence) for one in named), [one.sentence for one in named]
            failed = {one.function for one in said.findings if one.verdict is Verdict.FAIL}
            assert failed <= {self.function}
        return said


def lines(tape: Tape, value: int, lo: float, hi: float, *, units: str = "DrvLod") -> Tape:
    """Both torque-enable lines, or one of them (`units` Drv or Lod), show `value` in the window."""
    for unit in ("Drv", "Lod"):
        if unit in units:
            tape.put(f"TorqueEnable{unit}", value, lo, hi)
    return tape


def press(tape: Tape, lo: float, hi: float) -> Tape:
    """Somebody presses reset from `lo` to `hi`."""
    return tape.put("ResetPb", 1, lo, hi)
