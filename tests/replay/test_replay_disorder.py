"""Sound logs that lost, repeated, delayed or mixed up frames at random, or begin or end anywhere: never a fail."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from replay_tape import BUS, COVER, DRV, ESTOP, LOD, REFS, SAFE, Tape, heard, judged, sound

from interlock.verdict import Verdict

IDENTS = (SAFE, DRV, LOD, REFS, BUS)
Spoil = Callable[[Tape, np.random.Generator, float, float], object]


def block(tape: Tape, _: np.random.Generator, at: float, lasts: float) -> Tape:
    """The frames of a window twice, one block after the other."""
    first, twice, last = tape.rows(None, -1, at), tape.rows(None, at, at + lasts), tape.rows(None, at + lasts)
    return tape.take(np.concatenate([first, twice, twice, last]))


def step(tape: Tape, rng: np.random.Generator, at: float, _: float) -> Tape:
    """The recorder's clock is set."""
    tape.us[tape.us > at * 1e6] += round(float(rng.choice([-2, -0.5, -0.05, 0.02, 0.05, 0.5, 2, 20])) * 1e6)
    return tape


def swap(tape: Tape, rng: np.random.Generator, at: float, _: float) -> Tape:
    """Two neighbouring blocks of lines exchanged."""
    order, size = np.arange(len(tape.us)), int(rng.choice([1, 5, 50, 500]))
    first = min(int(np.searchsorted(tape.us, at * 1e6)), len(order) - 2 * size)
    order[first : first + size] = np.arange(first + size, first + 2 * size)
    order[first + size : first + 2 * size] = np.arange(first, first + size)
    return tape.take(order)


def lose_some(tape: Tape, rng: np.random.Generator, at: float, lasts: float) -> Tape:
    for ident in IDENTS:
        if rng.random() < 0.6:
            tape.drop(ident, at, at + lasts)
    return tape


def freeze(tape: Tape, rng: np.random.Generator, at: float, lasts: float) -> Tape:
    """A sender repeats its payload, counter and all; references and bus stand still on a healthy bench as well."""
    return tape.freeze(int(rng.choice([SAFE, DRV, LOD])), at, at + max(lasts, 0.1), counting=False)


SPOILS: dict[str, Spoil] = {
    "one message lost": lambda t, r, at, lasts: t.drop(int(r.choice(IDENTS)), at, at + lasts),
    "some messages lost": lose_some,
    "everything lost": lambda t, _, at, lasts: t.drop(None, at, at + lasts),
    "stamped late": lambda t, r, at, lasts: t.late(
        int(r.choice(IDENTS)), float(r.choice([0.03, 0.1, 0.5])), at, at + lasts
    ),
    "clock set": step,
    "block twice": block,
    "blocks swapped": swap,
    "frozen": freeze,
}


def moment(tape: Tape, rng: np.random.Generator) -> float:
    """Near something that happens, or anywhere."""
    stop = tape.stops[int(rng.integers(0, len(tape.stops)))]
    near = [stop.on, stop.gone, stop.press, stop.release, stop.start, float(rng.uniform(1, 59))]
    return float(rng.choice(near)) + float(rng.uniform(-1, 1) * rng.choice([0.02, 0.2, 2]))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("what", SPOILS)
def test_structural_damage_is_never_a_fail(what: str, seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng([seed, len(what)])
    tape = sound(3, stamp_s=float(rng.choice([0.00015, 0.004])))
    at, lasts = moment(tape, rng), float(rng.choice([0.1, 0.3, 1, 3, 6]))
    SPOILS[what](tape, rng, at, lasts)
    assert judged(tape, tmp_path).verdict is Verdict.INCONCLUSIVE, (at, lasts)


def moments() -> list[float]:
    """Just before and after everything that happens in a cover stop and in an emergency stop."""
    events = [
        2.5,
        2.8,
        3.5,
        *(at for stop in (COVER, ESTOP) for at in (stop.on, stop.gone, stop.press, stop.release, stop.start)),
    ]
    events += [ESTOP.on + 0.44, ESTOP.on + 3, ESTOP.on + 7.5]
    return [event + by for event in events for by in (-0.007, 0.004, 0.011, 0.016, 0.024, 0.043, 0.06)]


@pytest.mark.parametrize("at", moments())
def test_a_sound_log_that_begins_or_ends_at_any_frame_never_fails(at: float) -> None:
    ended, begun = heard(sound().drop(None, at)), heard(sound().drop(None, -1, at))
    shown = {Verdict.PASS} if at > ESTOP.start else set()  # by then every function was exercised
    assert ended.verdict in {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED} | shown
    assert begun.verdict in {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED, Verdict.PASS}
