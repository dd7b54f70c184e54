"""What CANopen nodes say of themselves, and what is said to them: errors, restarts, states, and how they are set up.

Errors, restarts and states are facts of the run and blind nothing: the drive's own word on why it stopped. A process
data object that was set up otherwise than the bench says is not believed from then on.
"""

from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench.canopen_messages import EMERGENCY, HEARTBEAT, NODE_STATES, REQUEST
from interlock.interval import Interval
from interlock.trace.decode import decode
from interlock.trace.gather import Log, Stream
from interlock.trace.model import Quality, QualityKind

__all__ = ["error_class", "node_facts"]

Values = Mapping[str, NDArray[np.float64]]

_CLASSES: Final = {
    0x00: "no error any more",
    0x10: "generic error",
    0x20: "current",
    0x21: "current, input side of the device",
    0x22: "current inside the device",
    0x23: "current, output side of the device",
    0x30: "voltage",
    0x31: "mains voltage",
    0x32: "voltage inside the device",
    0x33: "output voltage",
    0x40: "temperature",
    0x41: "ambient temperature",
    0x42: "temperature of the device",
    0x50: "hardware of the device",
    0x60: "software of the device",
    0x61: "internal software",
    0x62: "user software",
    0x63: "data set",
    0x70: "additional modules",
    0x80: "monitoring",
    0x81: "communication",
    0x82: "protocol error",
    0x90: "external error",
    0xF0: "additional functions",
    0xFF: "specific to the device",
}
"""Classes of error codes by their upper byte (CiA 301, table of emergency error codes)."""

_CODES: Final = {
    0x8110: "messages lost, CAN overrun",
    0x8120: "CAN in error passive mode",
    0x8130: "life guard or heartbeat error",
    0x8140: "recovered from bus off",
    0x8150: "two nodes use one identifier",
    0x8210: "process data object too short",
    0x8220: "process data object too long",
    0x8240: "SYNC of unexpected length",
    0x8250: "a process data object did not come in time",
}
_REMOTE: Final = 1 << 30
"""Flag of an identifier: it may not be asked for by a remote frame; says nothing of the content."""

_MOST: Final = 100
"""More emergencies than this are counted, not told one by one."""


def error_class(code: int) -> str:
    """What CiA 301 calls this error code, or its class."""
    return (
        _CODES.get(code)
        or _CLASSES.get(code >> 8)
        or _CLASSES.get(code >> 12 << 4)
        or "error of an unknown class"
    )


def node_facts(log: Log, stream: Stream) -> Iterator[Quality]:
    """What this message, if it is an emergency or a heartbeat of a node, says of the run."""
    node = stream.layout.name.rpartition("_")[0]
    if stream.layout.role == EMERGENCY:
        yield from _emergencies(log, stream, _values(log, stream), node)
    elif stream.layout.role == HEARTBEAT:
        yield from _changes(log, stream, _values(log, stream)["State"], node)
    elif stream.layout.role == REQUEST:
        yield from _set_up(log, stream)


def _values(log: Log, stream: Stream) -> Values:
    decoded = decode(*log.content(stream.layout, stream.good_rows))
    return {name: values for name, (_, values) in decoded.items()}


def _emergencies(log: Log, stream: Stream, signals: Values, node: str) -> Iterator[Quality]:
    codes = signals["Error_code"].astype(np.int64).tolist()
    registers = signals["Error_register"].astype(np.int64).tolist()
    makers = signals["Makers_code"].astype(np.int64).tolist()
    rows, times = stream.good_rows, stream.good_times_ns
    for number, (code, register, own) in enumerate(zip(codes, registers, makers, strict=True)):
        at = int(times[number])
        if number == _MOST:
            sentence = f"Node {node} sends {len(codes) - number} more emergency messages from here on."
            yield _fact(
                QualityKind.EMERGENCY, stream, log, int(rows[number]), Interval(at, int(times[-1])), sentence
            )
            return
        sentence = f"Node {node} reports that its errors are gone."
        if code >> 8:
            more = f", maker's code {own:X}h" if own else ""
            error = f"{code:04X}h ({error_class(code)})"
            sentence = f"Node {node} reports the error {error}, register {register:02X}h{more}."
        yield _fact(QualityKind.EMERGENCY, stream, log, int(rows[number]), Interval(at, at), sentence)


def _changes(log: Log, stream: Stream, values: NDArray[np.float64], node: str) -> Iterator[Quality]:
    """The states of the node in their order; a boot-up in the midst is a restart."""
    rows, times = stream.good_rows, stream.good_times_ns
    known = np.flatnonzero(~np.isnan(values))
    changed = known[1:][(values[known[1:]] != values[known[:-1]]) | (values[known[1:]] == 0)]
    for number, at in enumerate(changed.tolist()):
        stamp = int(times[at])
        if number == _MOST:
            sentence = f"Node {node} changes its state {len(changed) - number} times more from here on."
            yield _fact(
                QualityKind.NODE_STATE, stream, log, int(rows[at]), Interval(stamp, int(times[-1])), sentence
            )
            return
        name = NODE_STATES[int(values[at])]
        sentence = (
            f"Node {node} restarts here." if values[at] == 0 else f"Node {node} is {name} from here on."
        )
        yield _fact(QualityKind.NODE_STATE, stream, log, int(rows[at]), Interval(stamp, stamp), sentence)


def _set_up(log: Log, stream: Stream) -> Iterator[Quality]:
    """Each process data object for which an entry was last written with another value than the bench states.

    Requests that write at once suffice (CiA 301, SDO protocol, expedited download): such entries have 4 bytes at most.
    """
    stated = {(index, sub): (value, message) for index, sub, value, message in stream.layout.set_up}
    rows = stream.good_rows
    written: dict[tuple[int, int], tuple[int, int]] = {}  # value and row of the last request
    for row in rows[np.flatnonzero((log.data[rows, 0] & 0xE2) == 0x22)].tolist():
        data = log.data[row].tolist()
        size = 4 - (data[0] >> 2 & 3) if data[0] & 1 else 4
        place = (data[1] | data[2] << 8, data[3])
        if place in stated:
            written[place] = (int.from_bytes(bytes(data[4 : 4 + size]), "little"), row)
    other: dict[str, tuple[int, str]] = {}
    for (index, sub), (value, row) in written.items():
        wanted, message = stated[index, sub]
        if (value ^ wanted) & ~_REMOTE:
            what = f"{index:04X}h sub {sub} is set to {value:X}h, and the bench says {wanted:X}h"
            other[message] = min(other.get(message, (row, what)), (row, what))
    for message, (row, what) in other.items():
        span = Interval(int(log.times_ns[row]), None)
        sentence = f"{message} is set up otherwise here: {what}."
        yield Quality(QualityKind.SET_UP, message, None, span, log.place(row), blinds=True, sentence=sentence)


def _fact(kind: QualityKind, stream: Stream, log: Log, row: int, span: Interval, sentence: str) -> Quality:
    return Quality(kind, stream.layout.name, None, span, log.place(row), blinds=False, sentence=sentence)
