"""What to log, or to do, so that an open question is answered next time: clauses that end the sentences of findings."""

from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np

from interlock.timing.track import Track
from interlock.trace.model import QualityKind

__all__ = ["AGAIN", "BY_DOUBT", "finer", "shown_every"]

AGAIN: Final = "repeat it, and see that the recording misses nothing"
_RECORDER: Final = "Log with a recorder that keeps up and in one piece."
_SENDER: Final = "Find out what is wrong with its sender before the next run."

BY_DOUBT: Final[Mapping[QualityKind, str]] = {
    QualityKind.UNREADABLE: "Export or copy the log again.",
    QualityKind.TRUNCATED: "Copy the log again, or stop the recorder before you take its file.",
    QualityKind.GAP: f"{_RECORDER} If the message may pause for so long, state it as longest_gap.",
    QualityKind.NOT_RECORDED: "Start all recorders before the run, and stop them after it.",
    QualityKind.COUNTER_STOPPED: _SENDER,
    QualityKind.CHECKSUM: _SENDER,
    QualityKind.COUNTER_JUMPED: f"{_RECORDER} If the recording is whole, its sender began anew: find out why.",
    QualityKind.TIME_BACKWARDS: f"{_RECORDER} Let nobody set its clock meanwhile.",
    QualityKind.TIME_RELATIVE: f"{_RECORDER} If it is sound, state how late it stamps as stamp_delay.",
    QualityKind.FROZEN: f"{_SENDER} If the value may rest for so long, state that under moves.",
    QualityKind.NOT_A_NUMBER: _SENDER,
    QualityKind.WRONG_LENGTH: "Compare the DBC with what the sender sends.",
    QualityKind.ERROR_FRAME: "Look for the fault of the bus (ends, plugs, bit rate).",
    QualityKind.OUT_OF_RANGE: "Compare the DBC with what the sender sends.",
    QualityKind.MISSING: "Log it, or take it out of the bench file if nothing is judged by it.",
    QualityKind.SEVERAL_CHANNELS: "Log it on one bus, or state under shows on which bus it is evidence.",
    QualityKind.SET_UP: "Set the node up as its EDS and the bench file say.",
    QualityKind.EMERGENCY: _SENDER,
    QualityKind.NODE_STATE: _SENDER,
    QualityKind.UNKNOWN_ID: "Compare the DBC with what the sender sends.",
}
"""By the kind of a doubt about the recording."""


_LOOKED_AT: Final = 1001  # stamps that tell how often a message comes: a long log has millions of them


def shown_every(track: Track) -> str:
    """The message and how often it comes."""
    gaps = np.diff(track.stamps_ns[:_LOOKED_AT])
    often = f" (now every {float(np.median(gaps)) / 1e6:.3g} ms)" if len(gaps) else ""
    return f"{track.message}{often}"


def finer(tracks: Iterable[Track | None], within_ns: int | None = None) -> str:
    """Which messages to log more often; and how long a time they may leave open altogether."""
    each = {track.message: shown_every(track) for track in tracks if track is not None}
    if not each:
        return AGAIN
    enough = "" if within_ns is None else f", so that less than {within_ns / 1e6:.3g} ms stay open"
    return f"log {' and '.join(each.values())} more often{enough}"
