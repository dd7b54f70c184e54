"""The stations at the simulated bench: a proof test recorded, and the log judged."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np

from interlock.bench import load_bench
from interlock.demo.station import Station
from interlock.replay import Judgement, replay
from interlock.verdict import Verdict

__all__ = ["judge", "record"]

_SEED: Final = 4


def record(path: Path, defect: str | None, *, begun: datetime) -> Path:
    """Write the log of a proof test on the simulated bench, with one defect of its list or none."""
    from interlock.demo.cell import cell
    from interlock.twin import Defect, proof_test, run, write

    flaws = [] if defect is None else [Defect[defect]]
    made = run(cell(), proof_test(), np.random.default_rng(_SEED), flaws)
    write(made.log, int(begun.timestamp()), path)
    return path


def judge(bench: Path, log: Path, title: str, expected: Verdict) -> Station:
    """Judge one log, and say what was found."""
    judgement = replay(bench, load_bench(bench), [log])
    return Station(title, judgement.verdict, expected, tuple(_judged(judgement)), (log,))


def _judged(judgement: Judgement) -> Iterator[str]:
    source = judgement.observation.trace.sources[0]
    yield f"{source.frames} frames, {len(judgement.findings)} findings"
    torque = [one for one in judgement.findings if one.effect == "torque_off" and one.latency is not None]
    bounds = [one.latency.hi for one in torque if one.latency is not None and one.latency.hi is not None]
    if bounds and judgement.verdict is Verdict.PASS:
        yield f"torque off at the latest {max(bounds) / 1e6:.1f} ms after a demand, in {len(torque)} cases"
    wrong = next((one for one in judgement.findings if one.verdict is Verdict.FAIL), None)
    if wrong is not None:
        yield f"{wrong.function}: {wrong.sentence}"
