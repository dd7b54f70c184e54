"""Frames whose end-to-end checksum is wrong are no evidence (AUTOSAR E2E Protocol Specification, PRS_E2EProtocol)."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench.protection import PROFILES, ProfileName, Protection
from interlock.interval import Interval
from interlock.trace.crc import CRC8_H2F, CRC8_J1850_ZERO, CRC16_CCITT_FALSE, CRC32_P4, Crc, checksums
from interlock.trace.decode import padded, raw_values
from interlock.trace.excerpt import RIGHT
from interlock.trace.expected import Expected
from interlock.trace.gather import Log, Stream
from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import Quality, QualityKind
from interlock.trace.spans import runs

__all__ = ["checked_by", "due", "right", "sift"]

Block = NDArray[np.uint8]
Numbers = NDArray[np.uint32]
Mask = NDArray[np.bool_]
Column = NDArray[np.uint8] | int

_CRC: Final[Mapping[ProfileName, Crc]] = {
    "P01": CRC8_J1850_ZERO,
    "P02": CRC8_H2F,
    "P04": CRC32_P4,
    "P05": CRC16_CCITT_FALSE,
    "P06": CRC16_CCITT_FALSE,
    "P11": CRC8_J1850_ZERO,
    "P22": CRC8_H2F,
}


def sift(
    log: Log, streams: Mapping[str, Stream], messages: Sequence[Expected]
) -> tuple[dict[str, Stream], list[Quality]]:
    """The streams without their wrong frames among the good ones, and a finding for each run of such frames."""
    kept, doubts = dict(streams), list[Quality]()
    for expected in messages:
        stream, protection = streams.get(expected.message), expected.protection
        if protection is None or stream is None:
            continue
        signals = {signal.name: signal for signal in stream.layout.signals}
        alive = signals.get(expected.alive or "")
        if stream.sampled is not None or alive is None or protection.checksum not in signals:
            doubts.append(_unchecked(expected))
            continue
        wrong = np.zeros(len(stream.rows), np.bool_)
        wrong[stream.good] = ~_right(log, stream, protection, alive.name)
        doubts += _wrong(log, stream, protection, wrong)
        kept[expected.message] = one = replace(stream, good=stream.good & ~wrong)
        doubts += _lost(log, one, expected, alive)
    return kept, doubts


def checked_by(layout: MessageLayout, expected: Expected) -> Callable[[Block], Mask] | None:
    """The check of the payloads of a message; None: it has none, or counter or checksum lack."""
    names, protection = {signal.name for signal in layout.signals}, expected.protection
    if protection is None or not {expected.alive, protection.checksum} <= names:
        return None
    return lambda data: right(protection, layout, data, expected.alive or "")


def _right(log: Log, stream: Stream, protection: Protection, alive: str) -> Mask:
    """Which good frames are right; of payloads that were cut it was told before."""
    told = log.told(stream.layout, stream.good_rows, RIGHT)
    if told is None:
        told = right(protection, *log.content(stream.layout, stream.good_rows), alive)
    return told


def _unchecked(expected: Expected) -> Quality:
    """Nobody can tell whether the frames were right: a recorder kept their values only, or counter or checksum lack."""
    sentence = (
        f"The end-to-end checksum of {expected.message} cannot be checked: the log has no frames with it."
    )
    where, whole = "the whole log", Interval(0, None)
    return Quality(QualityKind.CHECKSUM, expected.message, None, whole, where, blinds=True, sentence=sentence)


def right(protection: Protection, layout: MessageLayout, data: Block, alive: str) -> Mask:
    """In which rows checksum, counter and what else of the profile is sent are right; `data` [rows, bytes]."""
    signals = {signal.name: signal for signal in layout.signals}
    data = padded(layout, data)
    counter = raw_values(signals[alive], data)
    good: Mask = counter < np.uint64(PROFILES[protection.profile].modulo)
    good &= raw_values(signals[protection.checksum], data) == due(protection, layout, data, alive)
    if protection.id_nibble is not None:
        upper = np.uint64((protection.data_id or 0) >> 8)
        good &= raw_values(signals[protection.id_nibble], data) == upper
    for first, size, value in _sent(protection, layout, _first(signals[protection.checksum])):
        number = np.zeros(len(data), np.uint64)
        for byte in range(first, first + size):
            number = (number << np.uint64(8)) | data[:, byte]
        good &= number == np.uint64(value)
    return good


def _sent(protection: Protection, layout: MessageLayout, checksum: int) -> Iterator[tuple[int, int, int]]:
    """Where else in the message, in how many bytes, high byte first, the profile sends a value that is known."""
    if protection.profile == "P04":
        yield checksum - 8, 2, layout.length
        yield checksum - 4, 4, protection.data_id or 0
    elif protection.profile == "P06":
        yield checksum + 2, 2, layout.length


def due(protection: Protection, layout: MessageLayout, data: Block, alive: str) -> Numbers:
    """The checksum that each row must have; [rows]."""
    signals = {signal.name: signal for signal in layout.signals}
    data = padded(layout, data)
    first = _first(signals[protection.checksum])
    size = PROFILES[protection.profile].checksum_bits // 8
    covered = [data[:, byte] for byte in range(layout.length) if not first <= byte < first + size]
    counter = raw_values(signals[alive], data)
    return checksums(_CRC[protection.profile], len(data), _in_order(protection, covered, counter))


def _first(signal: SignalLayout) -> int:
    return signal.start // 8


def _in_order(protection: Protection, covered: list[Block], counter: NDArray[np.uint64]) -> list[Column]:
    """The bytes of the data id and those of the message in the order in which the profile takes them."""
    low, high = (protection.data_id or 0) & 0xFF, (protection.data_id or 0) >> 8
    match protection.profile:
        case "P01" | "P11":
            return [*_id_of_first(protection, low, high, counter), *covered]
        case "P02" | "P22":
            listed = np.array(protection.data_ids, np.uint8)
            return [*covered, listed[(counter & np.uint64(0xF)).astype(np.intp)]]
        case "P05":
            return [*covered, low, high]
        case "P06":
            return [*covered, high, low]
        case "P04":
            return [*covered]


def _id_of_first(protection: Protection, low: int, high: int, counter: NDArray[np.uint64]) -> list[Column]:
    match protection.id_mode:
        case "all16Bit":
            return [low, high]
        case "alternating8Bit":
            return [np.where(counter & np.uint64(1), np.uint8(high), np.uint8(low))]
        case "lower8Bit":
            return [low]
        case "lower12Bit":
            return [low, 0]


def _wrong(log: Log, stream: Stream, protection: Protection, wrong: Mask) -> Iterator[Quality]:
    all_of_them = len(wrong) and bool((wrong | ~stream.good).all())
    for run in runs(wrong, stream.times_ns):
        count = "1 frame" if run.count == 1 else f"{run.count} frames"
        fails = "fails" if run.count == 1 else "fail"
        sentence = f"{count} of {stream.layout.name} {fails} the check of E2E profile {protection.profile}"
        if all_of_them:
            sentence += ", as every frame of the log does: are profile and data id those of the sender?"
        place = log.place(int(stream.rows[run.first]))
        yield Quality(
            QualityKind.CHECKSUM, stream.layout.name, None, run.span, place, True, f"{sentence.rstrip('.?')}."
        )


def _lost(log: Log, stream: Stream, expected: Expected, alive: SignalLayout) -> Iterator[Quality]:
    """How many frames the counter shows to be lost, where the time between does not show it already; blinds nothing."""
    rows, times = stream.good_rows, stream.good_times_ns
    layout, data = log.content(stream.layout, rows)
    counting = next(signal for signal in layout.signals if signal.name == alive.name)
    counter = raw_values(counting, padded(layout, data)).astype(np.int64)
    missing = np.mod(np.diff(counter), expected.alive_modulo) - 1
    at = np.flatnonzero((missing > 0) & (np.diff(times) <= expected.max_gap_ns))
    if not len(at):
        return
    count, places = int(missing[at].sum()), "1 place" if len(at) == 1 else f"{len(at)} places"
    what = "1 frame is lost" if count == 1 else f"{count} frames are lost"
    yield Quality(
        QualityKind.COUNTER_JUMPED,
        expected.message,
        None,
        Interval(int(times[at[0]]), int(times[at[-1] + 1])),
        log.place(int(rows[at[0] + 1])),
        blinds=False,
        sentence=f"By the counter of {expected.message} {what} in {places}, the first one before this.",
    )
