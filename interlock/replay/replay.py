"""From a bench file and the logs of one run to a judgement of them."""

from collections.abc import Sequence
from pathlib import Path

from interlock.bench import Bench
from interlock.replay.gathered import gathered
from interlock.replay.judge import Judgement, judge_trace
from interlock.trace import Trace

__all__ = ["load_trace", "replay"]


def replay(bench_file: Path, bench: Bench, logs: Sequence[Path]) -> Judgement:
    """Read the logs of one run and judge them; raises LogError if they cannot be read at all."""
    return judge_trace(bench, load_trace(bench_file, bench, logs))


def load_trace(bench_file: Path, bench: Bench, logs: Sequence[Path]) -> Trace:
    """The trace of one run, with every doubt that the bench description's figures raise about it."""
    return gathered(bench_file, bench, logs)
