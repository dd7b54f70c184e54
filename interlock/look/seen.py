"""What is in a log, as plain values: files, messages, signals, counters, doubts."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from interlock.interval import Interval
from interlock.trace.model import Quality, QualityKind

__all__ = ["Counter", "Edge", "FileSeen", "Look", "MessageSeen", "Periods", "Piece", "SignalSeen", "Still"]


@dataclass(frozen=True, slots=True)
class Piece:
    """Neighbouring lines or objects of a file that became no frame, for one reason."""

    place: int  # line (1-based) or byte of the first one
    place_is: str  # "line" or "byte"
    count: int
    kind: QualityKind
    why: str


@dataclass(frozen=True, slots=True)
class FileSeen:
    """One file: lines_or_objects = frames + non_frames + the counts of its findings."""

    path: str
    sha256: str
    format: str
    lines_or_objects: int
    frames: int
    non_frames: int
    findings: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Periods:
    """Times from each frame of a message to its next, ns."""

    median_ns: int
    least_ns: int
    most_ns: int


@dataclass(frozen=True, slots=True)
class Counter:
    """What looks like an alive counter: a guess from the data, to be confirmed by whoever knows the sender."""

    where: str  # name of the signal, else "byte 7" or "byte 7, low half" (from 0)
    modulo: int
    share: float  # of the steps, those that are one up
    stands: int  # steps of zero
    jumps: int  # steps of more than one


@dataclass(frozen=True, slots=True)
class MessageSeen:
    """One identifier, and when its frames came."""

    identifier: int
    extended: bool
    name: str | None  # by the DBC
    decoded: bool  # True: samples that the recorder had decoded, without an identifier
    count: int
    first_ns: int
    last_ns: int
    periods: Periods | None  # None: fewer than two frames
    longest_gap: Interval  # longest stretch without a frame, the ends of the log included
    lengths: Mapping[int, int]  # payload bytes: frames of that length
    channels: tuple[str, ...]
    counters: tuple[Counter, ...]

    @property
    def label(self) -> str:
        """The identifier as people write it: hexadecimal, with an x if it is of 29 bits."""
        return "-" if self.decoded else f"{self.identifier:X}{'x' if self.extended else ''}"


@dataclass(frozen=True, slots=True)
class Still:
    """The longest stretch over which a signal kept one value."""

    samples: int
    span: Interval  # from its first sample to its last
    value: float


@dataclass(frozen=True, slots=True)
class Edge:
    """A change of a two-valued signal, as shown: the stamps of the last old sample and of the first new one."""

    span: Interval
    value: float  # the new one


@dataclass(frozen=True, slots=True)
class SignalSeen:
    """One decoded signal, and which values it took."""

    message: str
    name: str
    unit: str
    bits: int | None  # None: not known
    count: int
    least: float | None  # None: no sample is a finite number
    most: float | None
    distinct: int
    still: Still | None
    edges: tuple[Edge, ...] | None  # None: it took more than two values
    selects: bool = False  # it says which signals the frame holds (multiplexed)

    @property
    def two_valued(self) -> bool:
        """Whether it may be a contact: one bit wide, or seen with exactly two values."""
        return self.bits == 1 or self.distinct == 2


@dataclass(frozen=True, slots=True)
class Look:
    """Everything that was seen in the logs of one run."""

    files: tuple[FileSeen, ...]
    dbc: str | None
    start_ns: int  # of the first frame, since 1970-01-01 UTC if `absolute`
    absolute: bool
    duration_ns: int
    messages: tuple[MessageSeen, ...]
    signals: tuple[SignalSeen, ...]
    doubts: tuple[Quality, ...]
    notes: tuple[str, ...] = field(default=())

    @property
    def blind(self) -> bool:
        """Whether a doubt takes something away from what the log can prove."""
        return any(doubt.blinds for doubt in self.doubts)
