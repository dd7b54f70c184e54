"""Defects of the log: what sensors, nodes or the logger do wrong around a demand."""

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.twin.bench import Message
from interlock.twin.defects import Defect, Flaw, Flaws
from interlock.twin.frames import Frames
from interlock.twin.kernel import Floats
from interlock.twin.nets import Net, Reading
from interlock.twin.nodes import Columns

__all__ = ["spoil_columns", "spoil_log"]

_OFFSET_A: Final = 1.5
_CURRENTS: Final = (Reading.CURRENT_DRIVE, Reading.CURRENT_LOAD)
_MISSING: Final = {
    Defect.GAP_STATE: (Net.PERMIT_DRIVE, Net.COVER_1),
    Defect.GAP_UNITS: _CURRENTS,
    Defect.GAP_REFERENCES: (Net.SPEED_REFERENCE, Net.TORQUE_REFERENCE),
    Defect.GAP_BUS: (Reading.BUS_VOLTAGE,),
    Defect.LOG_SILENT: (*Net, *Reading),
}
_LEAD_S: Final = 0.04  # such a defect begins this long before the demand, unless its sentence says otherwise


def spoil_columns(
    flaws: Flaws, onsets_s: tuple[float, ...], rng: np.random.Generator
) -> Callable[[Message, Floats, Columns], Columns]:
    """What `put_on_bus` calls for each message: its columns with the defects of sensor and node."""

    def spoil(message: Message, at_s: Floats, columns: Columns) -> Columns:
        for flaw in flaws.all:
            columns = _spoil_message(flaw, message, at_s, columns, onsets_s, rng)
        return columns

    return spoil


def _onset(flaw: Flaw, onsets_s: tuple[float, ...]) -> float:
    try:
        return onsets_s[flaw.demand or 0]
    except IndexError:
        raise ValueError(f"{flaw} asks for a demand that the scenario does not have") from None


def _spoil_message(
    flaw: Flaw,
    message: Message,
    at_s: Floats,
    columns: Columns,
    onsets_s: tuple[float, ...],
    rng: np.random.Generator,
) -> Columns:
    currents = [s.signal for s in message.shown if s.source in _CURRENTS]
    alive = [s.signal for s in message.shown if s.source is Reading.ALIVE]
    state = [s.signal for s in message.shown] if Net.PERMIT_DRIVE in {s.source for s in message.shown} else []
    match flaw.defect:
        case Defect.CURRENT_DEAD:
            return columns | {name: 0.0 * columns[name] for name in currents}
        case Defect.CURRENT_BLIND:
            return columns | {name: rng.normal(0.0, 0.03, len(at_s)) for name in currents}
        case Defect.CURRENT_OFFSET:
            return columns | {name: columns[name] + _OFFSET_A for name in currents}
        case Defect.CURRENT_STUCK_ZERO:
            return columns | _held(columns, currents, at_s, _onset(flaw, onsets_s) - _LEAD_S, flaw, 0.0)
        case Defect.CURRENT_STUCK_LAST:
            return columns | _held(columns, currents, at_s, _onset(flaw, onsets_s) + 0.3, flaw)
        case Defect.ALIVE_FROZEN:
            return columns | _held(columns, alive, at_s, _onset(flaw, onsets_s) - _LEAD_S, flaw)
        case Defect.STATE_FROZEN:
            return columns | _held(columns, state, at_s, _onset(flaw, onsets_s) - _LEAD_S, flaw)
        case Defect.STATE_FROZEN_ALIVE:
            still = [name for name in state if name not in alive]
            return columns | _held(columns, still, at_s, _onset(flaw, onsets_s) - _LEAD_S, flaw)
        case _:
            return columns


def _held(
    columns: Columns, names: list[str], at_s: Floats, begin_s: float, flaw: Flaw, value: float | None = None
) -> Columns:
    """The named columns with `value` (or their last) from `begin_s` for the flaw's size."""
    inside = (at_s >= begin_s) & (at_s < begin_s + flaw.seconds)
    first = int(np.argmax(inside)) if inside.any() else 0
    held = {}
    for name in names:
        last = columns[name][first] if value is None else value
        held[name] = np.where(inside, last, columns[name])
    return held


def spoil_log(
    log: Frames, messages: tuple[Message, ...], flaws: Flaws, onsets_s: tuple[float, ...]
) -> Frames:
    """The log with the defects of the logger and of the bus, in the order of the flaws."""
    for flaw in flaws.all:
        if flaw.defect in _MISSING:
            log = _without(log, messages, flaw, _onset(flaw, onsets_s))
        elif flaw.defect in _ON_LOG:
            log = _ON_LOG[flaw.defect](log, messages, flaw.seconds, _onset(flaw, onsets_s))
    return log


def _window(log: Frames, begin_s: float, seconds: float) -> NDArray[np.bool_]:
    begin, end = round(begin_s * 1e9), round((begin_s + seconds) * 1e9)
    return (log.stamp_ns >= begin) & (log.stamp_ns < end)


def _rows(
    log: Frames, messages: tuple[Message, ...], sources: tuple[Net | Reading, ...]
) -> NDArray[np.bool_]:
    """Frames of each message that shows one of the sources."""
    chosen = [m.name for m in messages if any(shown.source in sources for shown in m.shown)]
    return np.isin(log.message, [log.names.index(name) for name in chosen])


def _without(log: Frames, messages: tuple[Message, ...], flaw: Flaw, onset_s: float) -> Frames:
    gone = _rows(log, messages, _MISSING[flaw.defect]) & _window(log, onset_s - _LEAD_S, flaw.seconds)
    return log.take(~gone)


def _clock_back(log: Frames, _: tuple[Message, ...], seconds: float, onset_s: float) -> Frames:
    step = log.stamp_ns >= round((onset_s + 0.6) * 1e9)
    return log.stamped(log.stamp_ns - step * round(seconds * 1e9), np.arange(len(log)))


def _cut(log: Frames, _: tuple[Message, ...], seconds: float, onset_s: float) -> Frames:
    return log.take(log.stamp_ns < round((onset_s + seconds) * 1e9))


def _swapped(log: Frames, _: tuple[Message, ...], seconds: float, onset_s: float) -> Frames:
    """Each pair of blocks of twenty frames within the window changes places."""
    rows = np.arange(len(log))
    inside = np.flatnonzero(_window(log, onset_s - _LEAD_S, seconds))
    inside = inside[: len(inside) // 40 * 40]
    rows[inside] = inside.reshape(-1, 2, 20)[:, ::-1].reshape(-1)
    return log.take(rows)


def _twice(log: Frames, _: tuple[Message, ...], seconds: float, onset_s: float) -> Frames:
    return log.take(np.repeat(np.arange(len(log)), 1 + _window(log, onset_s - _LEAD_S, seconds)))


def _late(log: Frames, messages: tuple[Message, ...], seconds: float, onset_s: float) -> Frames:
    """The currents' frames of one second are held back, and the bus sorts them in where they come out."""
    held = _rows(log, messages, _CURRENTS) & _window(log, onset_s - _LEAD_S, 1.0)
    stamps = log.stamp_ns + held * round(seconds * 1e9)
    for k in range(len(log.names)):
        own = log.message == k
        stamps[own] = np.maximum.accumulate(stamps[own])
    return log.stamped(stamps, np.argsort(stamps, kind="stable"))


_ON_LOG: Final = {
    Defect.CLOCK_BACK: _clock_back,
    Defect.LOG_CUT: _cut,
    Defect.FRAMES_SWAPPED: _swapped,
    Defect.FRAMES_TWICE: _twice,
    Defect.DELAY_BEYOND: _late,
}
