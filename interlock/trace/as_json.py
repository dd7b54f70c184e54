"""What every document says alike of a trace: intervals, instants, files and doubts, as plain data."""

from datetime import UTC, datetime, timedelta
from typing import Any

from interlock.interval import Interval
from interlock.trace.model import Quality, Source

__all__ = ["instant_json", "interval_json", "quality_json", "source_json"]


def interval_json(interval: Interval | None) -> list[int | None] | None:
    """`[lo, hi]`, hi None where no upper bound is known."""
    return None if interval is None else [interval.lo, interval.hi]


def instant_json(since_1970_ns: int) -> str:
    """The instant in UTC (ISO 8601), to the nanosecond."""
    seconds, rest = divmod(since_1970_ns, 10**9)
    whole = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
    return f"{whole:%Y-%m-%dT%H:%M:%S}.{rest:09d}Z"


def source_json(source: Source) -> dict[str, Any]:
    """A file, and what became of its lines or objects."""
    return {
        "path": source.path,
        "sha256": source.sha256,
        "format": source.format,
        "lines_or_objects": source.lines_or_objects,
        "frames": source.frames,
        "non_frames": source.non_frames,
        "rejected": source.rejected,
    }


def quality_json(doubt: Quality) -> dict[str, Any]:
    """A doubt, the span it concerns in nanoseconds since the first frame."""
    return {
        "kind": str(doubt.kind),
        "message": doubt.message,
        "signal": doubt.signal,
        "span_ns": interval_json(doubt.span),
        "place": doubt.place,
        "blinds": doubt.blinds,
        "sentence": doubt.sentence,
    }
