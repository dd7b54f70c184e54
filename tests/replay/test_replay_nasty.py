"""Logs of a bench whose drive keeps its torque through a stop, spoilt so that the stop looks good: never a pass.

What no log can show is left out: a piece as long as a whole number of all periods, the counter written anew.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from replay_tape import COVER, DRV, ESTOP, Tape, judged, sound

from interlock.verdict import Verdict


def defective() -> Tape:
    return sound().add("DrvCurrent", 2.0, COVER.on, COVER.on + 0.5)


def recorded_again(tape: Tape, lo: float, hi: float) -> Tape:
    """A block of the log stands at its end once more, as if it had been recorded then."""
    rows = tape.rows(None, lo, hi)
    us = tape.us[rows] - round(lo * 1e6) + tape.us.max() + 1000
    return Tape(
        np.concatenate([tape.us, us]),
        np.concatenate([tape.ident, tape.ident[rows]]),
        np.concatenate([tape.data, tape.data[rows]]),
    )


def every_second_frame_lost() -> Tape:
    tape = defective()
    return tape.take(np.setdiff1d(np.arange(len(tape.us)), tape.rows(DRV, COVER.on, COVER.on + 0.5)[::2]))


CASES: dict[str, Callable[[], Tape]] = {
    "a good stop again at the end": lambda: recorded_again(defective(), ESTOP.on - 1, ESTOP.start + 1),
    "two runs in one file": lambda: recorded_again(defective(), 0, 30),
    "lines in reverse": lambda: defective().take(np.arange(len(defective().us))[::-1]),
    "current clipped below its bound": lambda: defective().put("DrvCurrent", 0.25, COVER.on, COVER.start),
    "current frozen at zero": lambda: defective().put("DrvCurrent", 0.0, COVER.on - 1, COVER.start),
    "message frozen": lambda: defective().freeze(DRV, COVER.on - 0.2, COVER.start, counting=False),
    "every second frame lost": every_second_frame_lost,
    "the stop cut out": lambda: defective().cut_out(COVER.on - 0.2, COVER.on + 0.607),
}


def test_the_log_that_is_spoilt_fails_whole(tmp_path: Path) -> None:
    assert judged(defective(), tmp_path).verdict is Verdict.FAIL


@pytest.mark.parametrize("name", CASES)
def test_spoilt_it_never_passes(name: str, tmp_path: Path) -> None:
    assert judged(CASES[name](), tmp_path).verdict is not Verdict.PASS
