"""What the tests of the trace room share: small logs, what the bench expects of them, other readers' answers."""

from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import can
import numpy as np

from interlock.trace import Expected, Quality, QualityKind, load_dbc
from interlock.trace.gather import Log, gather, streams_of
from interlock.trace.model import Columns, Ledger
from interlock.trace.payloads import filled
from interlock.trace.readers import read_log
from interlock.trace.reading import Reading

DATA = Path(__file__).parents[1] / "data"
DBC = DATA / "bench.dbc"
LAYOUTS = load_dbc(DBC)
MS = 10**6

EXPECTED = (
    Expected("SAFE_State", 35 * MS, 10 * MS, alive="Alive", alive_modulo=256),
    Expected("DRV_Actual", 17_500_000, 5 * MS, noisy={"DrvSpeed": 12, "DrvCurrent": 9}),
    Expected("LOD_Actual", 17_500_000, 5 * MS, noisy={"LodCurrent": 9}),
    Expected("CTL_Refs", 70 * MS, 20 * MS),
    Expected("TQS_Torque", 3_500_000, MS, noisy={"ShaftTorque": 5}),
    Expected("PSU_Bus", 35 * MS, 10 * MS),
)
"""The sample bench: gaps of at most 3.5 periods, as its engineer states."""


def read(path: Path) -> Reading:
    """The reading of a file, its ledger checked."""
    reading, source = read_log(path)
    ledger = reading.ledger
    assert ledger.lines_or_objects == ledger.frames + ledger.non_frames + ledger.rejected
    assert ledger.frames == len(reading.columns.times_ns)
    assert ledger.rejected == sum(piece.count for piece in reading.rejected)
    assert (source.frames, source.non_frames, source.rejected) == (
        ledger.frames,
        ledger.non_frames,
        ledger.rejected,
    )
    return reading


def payloads(columns: Columns) -> list[bytes]:
    """The payload of each frame, cut to its length."""
    data = filled(columns.data, columns.wide) if columns.wide else columns.data
    return [row[:size].tobytes() for row, size in zip(data, columns.lengths, strict=True)]


def rows_of(columns: Columns) -> list[tuple[int, int, bool, bytes]]:
    """Time, identifier, extended, payload of each frame."""
    return list(
        zip(
            columns.times_ns.tolist(),
            columns.idents.tolist(),
            columns.extended.tolist(),
            payloads(columns),
            strict=True,
        )
    )


def by_python_can(messages: Iterable[can.Message]) -> list[tuple[int, bool, bytes]]:
    """Identifier, extended, payload of each data frame as python-can reads it."""
    return [
        (message.arbitration_id, message.is_extended_id, bytes(message.data))
        for message in messages
        if not (message.is_error_frame or message.is_remote_frame)
    ]


def kinds(quality: Iterable[Quality]) -> Counter[QualityKind]:
    """How many findings of each kind."""
    return Counter(finding.kind for finding in quality)


def made_log(
    frames: Iterable[tuple[int, int, bytes]],
    *,
    absolute: bool = True,
    channels: Iterable[int] | None = None,
    name: str = "made.log",
) -> Log:
    """A log of frames (time in ns, identifier, payload) in this order."""
    return gather([Path(name)], [made_reading(frames, absolute=absolute, channels=channels)])


def made_reading(
    frames: Iterable[tuple[int, int, bytes]],
    *,
    absolute: bool = True,
    channels: Iterable[int] | None = None,
) -> Reading:
    """A reading of frames (time in ns, identifier, payload) in this order."""
    frames = list(frames)
    count = len(frames)
    width = 8 if max((len(payload) for *_, payload in frames), default=0) <= 8 else 64
    data = np.array([list(payload.ljust(width, b"\0")) for *_, payload in frames], np.uint8)
    buses = np.zeros(count, np.uint16) if channels is None else np.array(list(channels), np.uint16)
    columns = Columns(
        times_ns=np.array([time for time, *_ in frames], np.int64),
        idents=np.array([ident for _, ident, _ in frames], np.uint32),
        extended=np.zeros(count, np.bool_),
        lengths=np.array([len(payload) for *_, payload in frames], np.uint8),
        data=data.reshape(count, width),
        places=np.arange(1, count + 1),
        channels=buses,
        absolute=absolute,
        place_is="line",
    )
    names = tuple(str(bus) for bus in range(int(buses.max(initial=0)) + 1))
    return Reading("made", columns, Ledger(count, count, 0, 0), (), (), names, (), 1)


def frames_by_message(path: Path) -> dict[str, Counter[tuple[int, int]]]:
    """For each message of the bench its frames (time since 1970, payload as a number) as often as they were read."""
    log = gather([path], [read(path)])
    streams, _ = streams_of(log, LAYOUTS)
    words = np.ascontiguousarray(log.data[:, :8]).view("<u8")[:, 0]
    return {
        name: Counter(
            zip(
                (stream.times_ns[stream.good] + log.start_ns).tolist(),
                words[stream.rows[stream.good]].tolist(),
                strict=True,
            )
        )
        for name, stream in streams.items()
    }
