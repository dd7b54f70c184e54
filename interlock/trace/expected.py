"""What the bench description says of a message in the log."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from interlock.bench.protection import Protection

__all__ = ["Expected"]


@dataclass(frozen=True, slots=True)
class Expected:
    """One message whose frames are evidence, and what a healthy log shows of it."""

    message: str
    max_gap_ns: int  # longest time between two frames
    period_ns: int  # nominal
    alive: str | None = None  # signal that counts up by one a frame
    alive_modulo: int = 256
    noisy: Mapping[str, int] = field(default_factory=dict)  # signal: most identical samples in a row
    protection: Protection | None = None  # its end-to-end checksum
    bus: str | None = None  # the bus on which it comes, as the logger names it; None: any
    stamp_spread_ns: int = 0  # by how much more one frame than another may be stamped late
    evidence: frozenset[str] = (
        frozenset()
    )  # signals that are judged: each must come in time, multiplexed or not
