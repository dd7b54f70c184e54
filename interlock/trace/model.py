"""What a log becomes: frames in columns, decoded signals, and a ledger of what could not be trusted."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval

if TYPE_CHECKING:
    from interlock.trace.payloads import Payloads

__all__ = ["Columns", "Ledger", "Quality", "QualityKind", "Samples", "Source", "Trace", "slim"]


class QualityKind(StrEnum):
    """What kind of doubt a quality finding raises."""

    UNREADABLE = "unreadable"  # a line or object that became no frame
    TRUNCATED = "truncated"  # the file ends inside a line, object or block
    GAP = "gap"  # no frame of a message for longer than the bench allows
    NOT_RECORDED = "not_recorded"  # the source of a message began later or ended earlier than the run
    COUNTER_STOPPED = "counter_stopped"  # an alive counter stands still: content is not fresh
    CHECKSUM = "checksum"  # an end-to-end checksum is wrong: the frame is no evidence
    COUNTER_JUMPED = "counter_jumped"  # an alive counter moved by more than lost frames explain
    TIME_BACKWARDS = "time_backwards"  # a stamp lies before the one above it
    TIME_RELATIVE = "time_relative"  # stamps read as distances, or time base in doubt
    FROZEN = "frozen"  # a value that carries noise stands still
    NOT_A_NUMBER = "not_a_number"
    WRONG_LENGTH = "wrong_length"  # a frame too short or long for its message
    ERROR_FRAME = "error_frame"
    OUT_OF_RANGE = "out_of_range"  # a value outside the range that the DBC states
    MISSING = "missing"  # a message or signal that the bench names and the log lacks
    SEVERAL_CHANNELS = "several_channels"  # one message came over two buses or from two overlapping files
    SET_UP = "set_up"  # the log shows that a CANopen node was set up otherwise than the bench says
    EMERGENCY = "emergency"  # a CANopen node reports an error (a fact of the run, never blinding)
    NODE_STATE = "node_state"  # a CANopen node restarts or changes its state (likewise)
    UNKNOWN_ID = "unknown_id"  # frames that the DBC does not describe (counted, never blinding)


@dataclass(frozen=True, slots=True)
class Quality:
    """One doubt about the log. While it lasts (`span`), the named message is not evidence if `blinds`."""

    kind: QualityKind
    message: str | None  # name of the message in doubt; None: any message may be affected
    signal: str | None  # the one signal in doubt, if only one is
    span: Interval  # ns since the first frame of the trace
    place: str  # e.g. "run.log:17" or "run.blf at byte 4096"
    blinds: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Source:
    """One file of the trace, and what became of each line or object in it; the counts add up."""

    path: str
    sha256: str
    format: str
    lines_or_objects: int
    frames: int
    non_frames: int  # comments, headers, known objects that carry no data frame
    rejected: int  # each one also a Quality finding


@dataclass(frozen=True, slots=True)
class Ledger:
    """Counts of one file while it is read: lines_or_objects = frames + non_frames + rejected."""

    lines_or_objects: int
    frames: int
    non_frames: int
    rejected: int


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Data frames in the order of the file, one row a frame."""

    times_ns: NDArray[np.int64]  # as stamped: since 1970 if `absolute`, else since the file's own start
    idents: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    lengths: NDArray[np.uint8]
    data: NDArray[np.uint8]  # [n, widest payload], zero-filled
    places: NDArray[np.int64]  # line number (1-based) or byte offset of each frame
    channels: NDArray[np.uint16]  # which bus, as an index into the names that the reader gives
    absolute: bool
    place_is: str  # "line", "byte", "sample" or "record"
    payloads: "Payloads | None" = None  # instead of `data`, which holds no row then
    wide: tuple[tuple[NDArray[np.int64], NDArray[np.uint8]], ...] = ()
    """Rows with payloads over eight bytes, and these, if `data` holds eight bytes of each."""


def slim(columns: Columns, *, places: bool = False) -> Columns:
    """The columns without their rows, but for the places if wanted: those of a long log need much memory."""
    none = np.zeros(0, np.int64)
    return Columns(
        times_ns=none,
        idents=none.astype(np.uint32),
        extended=none.astype(np.bool_),
        lengths=none.astype(np.uint8),
        data=none.astype(np.uint8).reshape(0, 1),
        places=columns.places if places else none,
        channels=none.astype(np.uint16),
        absolute=columns.absolute,
        place_is=columns.place_is,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """One decoded signal: stamps and values of equal length, in the order received."""

    message: str
    signal: str
    unit: str
    times_ns: NDArray[np.int64]  # since the first frame of the trace
    values: NDArray[np.float64]
    labels: Mapping[float, str] = field(
        default_factory=dict
    )  # what values are called, if its description says so


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Everything known of one run: decoded signals on one time base, and each doubt about them."""

    start_ns: int  # of the first frame, since 1970-01-01 UTC (or since the file's start if not `absolute`)
    absolute: bool
    end_ns: int  # last frame, ns since the first
    messages: Mapping[str, NDArray[np.int64]]  # stamps of each message, ns since the first frame
    signals: Mapping[str, Samples]  # key "MESSAGE.SIGNAL"
    sources: tuple[Source, ...]
    quality: tuple[Quality, ...] = field(default=())
    resolution_ns: int = 1  # a stamp may be off by this much because of the digits it is written with
    message_width_ns: Mapping[str, int] = field(default_factory=dict)  # the same for each message by itself
    notes: tuple[str, ...] = ()  # what was assumed while reading (e.g. the zone of a date)
    start_width_ns: int = 0  # `start_ns` may be off by this much, if `absolute`: dates are no finer
