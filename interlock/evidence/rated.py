"""A bench rated: its section, the categories that its structure supports, and the stops measured on a log."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from interlock.bench import Bench
from interlock.rating.rate import rate
from interlock.rating.result import RatingResult
from interlock.rating.section import rating_of
from interlock.replay import replay
from interlock.replay.stop_time import StopTime, stop_times

__all__ = ["rated"]


def rated(
    bench_file: Path, bench: Bench, logs: Sequence[Path]
) -> tuple[RatingResult, Mapping[str, StopTime]]:
    """The rating, and the stop times that it used (none without logs)."""
    inputs = rating_of(bench_file)
    stops = stop_times(replay(bench_file, bench, logs)) if logs else {}
    upper = {name: one.upper_s for name, one in stops.items()} or None
    return rate(inputs, stop_time_upper_s=upper, supported_categories=None), stops
