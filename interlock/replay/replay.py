"""From a bench file and the logs of one run to a judgement of them."""

from collections.abc import Sequence
from pathlib import Path

from interlock.bench import Bench, dbc_path
from interlock.bench.models import Message, Shows
from interlock.replay.judge import Judgement, judge_trace
from interlock.trace import Expected, Trace, load

__all__ = ["load_trace", "replay"]


def replay(bench_file: Path, bench: Bench, logs: Sequence[Path]) -> Judgement:
    """Read the logs of one run and judge them; raises LogError if they cannot be read at all."""
    return judge_trace(bench, load_trace(bench_file, bench, logs))


def load_trace(bench_file: Path, bench: Bench, logs: Sequence[Path]) -> Trace:
    """The trace of one run, with every doubt that the bench description's figures raise about it."""
    dbc = dbc_path(bench_file, bench)
    return load(logs, dbc, messages=[] if bench.shows is None else _expected(bench.shows))


def _expected(shows: Shows) -> list[Expected]:
    return [_message(name, message) for name, message in shows.messages.items()]


def _message(name: str, message: Message) -> Expected:
    still = {signal: max(2, span // message.period) for signal, span in message.moves.items()}
    return Expected(name, message.longest_gap, message.period, message.alive, message.alive_modulo, still)
