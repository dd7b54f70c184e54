"""What was judged, with what result, from which evidence, and in one sentence."""

from dataclasses import dataclass
from typing import Any, NoReturn

from interlock.interval import Interval, ms_down, ms_up
from interlock.trace.as_json import interval_json
from interlock.verdict import Verdict

__all__ = ["Finding", "milliseconds"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One effect of one safety function, judged once on a log."""

    function: str  # id in the bench file; "recording" or "bench" for what concerns no single function
    subject: str  # unit, device or message
    effect: str
    verdict: Verdict
    requirement: str
    source: str
    sentence: str
    demand: Interval | None = None  # ns since the first frame; None: no demand, or one before the log began
    latency: Interval | None = None  # ns
    limit_ns: int | None = None

    def __bool__(self) -> NoReturn:
        raise TypeError("a finding is neither true nor false: compare .verdict")

    def as_json(self) -> dict[str, Any]:
        """The finding as plain data (see replay.schema.json)."""
        return {
            "function": self.function,
            "subject": self.subject,
            "effect": self.effect,
            "verdict": str(self.verdict),
            "demand_ns": interval_json(self.demand),
            "latency_ns": interval_json(self.latency),
            "limit_ns": self.limit_ns,
            "requirement": self.requirement,
            "source": self.source,
            "sentence": self.sentence,
        }


def milliseconds(interval: Interval) -> str:
    """The interval in words, rounded outwards to a tenth of a millisecond."""
    low = ms_down(interval.lo)
    return f"more than {low} ms" if interval.hi is None else f"{low} to {ms_up(interval.hi)} ms"
