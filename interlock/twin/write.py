"""Writes a log as candump text, ASC text or BLF; stamps of the two text forms are exact."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import can

from interlock.twin.frames import Frame, Frames

__all__ = ["write", "write_asc", "write_blf", "write_candump"]


def write_candump(log: Frames, epoch_s: int, path: Path) -> None:
    """One line a frame: `(seconds.microseconds) can0 ID#DATA`."""
    path.write_text("".join(_candump_line(frame, epoch_s) for frame in log), encoding="ascii", newline="\n")


def _candump_line(frame: Frame, epoch_s: int) -> str:
    seconds, ns = divmod(frame.stamp_ns, 10**9)
    name = f"{frame.frame_id:08X}" if frame.extended else f"{frame.frame_id:03X}"
    return f"({epoch_s + seconds}.{ns // 1000:06d}) can0 {name}#{frame.data.hex().upper()}\n"


def write_asc(log: Frames, epoch_s: int, path: Path) -> None:
    """ASC: hexadecimal, absolute stamps counted from the head's date, which is `epoch_s` in UTC."""
    date = datetime.fromtimestamp(epoch_s, UTC).strftime("%a %b %d %H:%M:%S.000 %Y")
    head = (
        f"date {date}\nbase hex  timestamps absolute\ninternal events logged\n"
        f"Begin Triggerblock {date}\n 0.000000 Start of measurement\n"
    )
    lines = "".join(_asc_line(frame) for frame in log)
    path.write_text(f"{head}{lines}End TriggerBlock\n", encoding="ascii", newline="\n")


def _asc_line(frame: Frame) -> str:
    seconds, ns = divmod(frame.stamp_ns, 10**9)
    name = f"{frame.frame_id:X}x" if frame.extended else f"{frame.frame_id:X}"
    data = frame.data.hex(" ").upper()
    return f" {seconds}.{ns // 1000:06d} 1  {name:<15} Rx   d {len(frame.data)} {data}\n"


def write_blf(log: Frames, epoch_s: int, path: Path) -> None:
    """BLF by python-can; its float seconds cost up to a quarter of a microsecond."""
    with can.BLFWriter(path) as writer:
        for frame in log:
            writer.on_message_received(
                can.Message(
                    timestamp=epoch_s + frame.stamp_ns / 1e9,
                    arbitration_id=frame.frame_id,
                    is_extended_id=frame.extended,
                    data=frame.data,
                    channel=0,
                )
            )


_WRITERS: Final[dict[str, Callable[[Frames, int, Path], None]]] = {
    ".log": write_candump,
    ".asc": write_asc,
    ".blf": write_blf,
}


def write(log: Frames, epoch_s: int, path: Path) -> None:
    """Writes in the format that the file's name ends with: `.log` (candump), `.asc` or `.blf`."""
    try:
        writer = _WRITERS[path.suffix.lower()]
    except KeyError:
        raise ValueError(f"no writer for {path.name}: end it with {', '.join(_WRITERS)}") from None
    writer(log, epoch_s, path)
