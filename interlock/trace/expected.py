"""What the bench description says of a message in the log."""

from collections.abc import Mapping
from dataclasses import dataclass, field

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
