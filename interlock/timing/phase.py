"""At which instants do messages that come at a steady beat all leave it at once, as where a piece was cut out?

Each stamp strays, but the mean of many does so far less: the mean phase of the frames before an instant is compared
with that of the frames after it, on a circle whose turn is the period (that of the counter, where frames are counted).
A piece of any length turns the phases of all messages by that one length; a sender that is late turns its own only.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from interlock.interval import Interval

__all__ = ["Beat", "phase_jumps", "steady_period"]

Floats = NDArray[np.float64]
Points = NDArray[np.complex128]

# How far is looked, and what is noticed: common practice, no source; measured on cut logs and whole ones.
_WINDOW_NS: Final = 2_000_000_000
_BIN_NS: Final = 50_000_000
_BINS: Final = _WINDOW_NS // _BIN_NS
_FEWEST: Final = 4  # frames on either side
_NOTICED: Final = 64.0  # sum of squares over messages; the mean of one phase strays by 1
_CHANCE: Final = 3.0  # of a mean phase, by how much of its stray it may have turned by chance
_AS_LIKELY: Final = 30.0  # instants whose sum of squares lies this little below the highest may be the one
_LEFT: Final = 400.0  # sum of squares that a length may leave: strays are not all alike
_EXPLAINED: Final = 0.2  # of the squares one length leaves at most this share
# longer cuts: the clocks of the senders go apart, and all phases differ
_LONGEST_NS: Final = 20_000_000_000
_ODD: Final = 25.0  # a single frame tells no more than this
_MOST: Final = 200  # jumps in one log; more are no cuts
_LONG: Final = 4_000_000  # bins, two days; a longer log has a pause in it that tells by itself
_AT_ONCE: Final = 1 << 18  # frames, to bound the memory
_LAGS: Final = (4, 16, 64, 256)
_BLOCKS: Final = 64  # so many times the period is measured, by so many frames each
_BLOCK: Final = 32
_OFF: Final = 0.02  # share by which a sender's period may differ from what is stated
_UNSURE: Final = 3e-6  # share by which a period is measured wrongly
_AGAIN: Final = 12  # times that the place of a jump is looked for further aside


@dataclass(frozen=True, slots=True, eq=False)
class Beat:
    """The stamps of one message and what of them repeats."""

    times_ns: NDArray[np.int64]  # in order, none below 0
    period_ns: float  # as measured
    counts: Floats | None = None  # its counter, frame by frame
    modulo: int = 1
    width_ns: int = 1  # of a stamp

    @property
    def turn_ns(self) -> float:
        """Phases are told but for whole turns of this."""
        return self.period_ns * (1 if self.counts is None else self.modulo)

    def pointers(self, first: int, stop: int) -> Points:
        """The phase of each of these frames as a point on the unit circle."""
        at = self.times_ns[first:stop].astype(np.float64)
        if self.counts is not None:
            at -= self.counts[first:stop] * self.period_ns
        return _points(at, self.turn_ns)


@dataclass(frozen=True, slots=True)
class _Usual:
    """How far the mean phases of a window before and one after an instant lie apart where nothing happens; ns."""

    middle: float
    stray: float  # of one frame


@dataclass(frozen=True, slots=True, eq=False)
class _Beside:
    """One message beside an interval in which its phase may have turned."""

    by_ns: float
    stray_ns: float  # of that
    turn_ns: float
    gain: Floats  # of the frames within: their stamps, and by how much they are nearer to the phase after


def steady_period(
    times_ns: NDArray[np.int64], about_ns: float, counts: Floats | None = None, modulo: int = 1
) -> float | None:
    """The period at which frames come, however their stamps stray and some are lost; ns. None: it is not steady.

    `about_ns` is stated of it; `counts` counts the frames, up to `modulo`.
    """
    period = about_ns
    for lag in _LAGS:
        size = min(_BLOCK, len(times_ns) - lag)
        if 10 * lag > len(times_ns):  # else a cut would tell in most of them
            break
        first = np.unique(np.linspace(0, len(times_ns) - lag - size, _BLOCKS).astype(np.int64))
        rows = first[:, None] + np.arange(size)
        apart = (times_ns[rows + lag] - times_ns[rows]).astype(np.float64)
        passed = np.rint(np.median(apart) / period)  # periods; some frames are lost
        if not passed:
            return None
        if counts is not None:
            apart -= (counts[rows + lag] - counts[rows]) * period
        turn = period * modulo
        ahead = np.angle(_points(apart, turn).sum(axis=1)) * turn / (2 * np.pi)
        period += float(np.median(ahead) / passed)
        if abs(period / about_ns - 1) > _OFF:
            return None
    return period if len(times_ns) > 2 * _FEWEST else None


def _points(at: Floats, turn: float) -> Points:
    """Each instant as a point on the unit circle, one turn of it `turn` long; to a millionth of it, which is quick."""
    turns = at / turn
    angle = (2 * np.pi * (turns - np.floor(turns))).astype(np.float32)
    points: Points = np.empty(at.shape, np.complex128)
    points.real, points.imag = np.cos(angle), np.sin(angle)
    return points


def phase_jumps(
    beats: Sequence[Beat], least_ns: float, known: Sequence[Interval] = (), alone_ns: float = 0.0
) -> Iterator[Interval]:
    """Where phases turn at once, by `least_ns` or more, and as one missing length explains; between which stamps.

    Not near `known` ones. Where but one message tells of it, its phase must have turned by `alone_ns`: less may be
    that it meets another one on the bus. How far phases stray in this record decides what is noticed: where a recorder
    delays all frames from time to time, more has to happen.
    """
    beats = [one for one in beats if one.period_ns * _FEWEST < _WINDOW_NS]
    bins = max((int(one.times_ns[-1]) for one in beats), default=-1) // _BIN_NS + 1
    if not 0 < bins < _LONG:
        return
    coarse = [_coarse(beat, bins) for beat in beats]
    usual, squares = [one for one, _ in coarse], np.sum([each for _, each in coarse], axis=0)
    squares /= _heavier(squares, len(beats))
    for one in known:
        squares[max(0, one.lo // _BIN_NS - _BINS) : (one.hi or one.lo) // _BIN_NS + _BINS + 2] = 0.0
    reach = 2 * _BIN_NS + int(max(one.period_ns for one in beats))
    for _ in range(_MOST):
        at = int(np.argmax(squares))
        if squares[at] < _NOTICED:
            return
        around = _around(at)
        level = np.flatnonzero(squares[around] >= 0.9 * squares[at])  # a half turn shows as a level stretch
        squares[around] = 0.0
        found = _placed(
            beats, usual, (around.start + int(np.mean(level))) * _BIN_NS, reach, (least_ns, alone_ns)
        )
        if found is not None:
            squares[_around(found.lo // _BIN_NS)] = 0.0
            yield found


def _heavier(squares: Floats, count: int) -> float:
    """How much larger the sums of squares are than strays that are alike make them, but for the share of a cut."""
    level = max(0.5, 1 - max(0.1, 1.5 * _BINS * 2 / len(squares)))
    return max(1.0, float(np.quantile(squares, level)) / float(chi2.ppf(level, count)))


def _around(at: int) -> slice:
    """The bins from which a window reaches to this one."""
    return slice(max(0, at - _BINS - 2), at + _BINS + 3)


def _placed(
    beats: Sequence[Beat], usual: Sequence[_Usual], at_ns: int, reach_ns: int, least_ns: tuple[float, float]
) -> Interval | None:
    """The stamps between which the phases turned, looked for frame by frame; None: not so far, or not all alike.

    `least_ns`: by how much at least, if several messages tell of it and if one does.
    """
    place = (at_ns, at_ns)
    for _ in range(_AGAIN):
        lo, hi = at_ns - reach_ns, at_ns + reach_ns
        each = (_beside(beat, one, lo, hi) for beat, one in zip(beats, usual, strict=True))
        beside = [one for one in each if one is not None]
        found = _between(np.concatenate([one.gain for one in beside], axis=1)) if beside else None
        if found is None:
            return None
        place = found
        if lo + _BIN_NS < place[0] and place[1] < hi - _BIN_NS:
            break
        at_ns = (place[0] + place[1]) // 2  # it lies further aside than was looked
    by, stray, turns = (
        np.array([one.by_ns for one in beside]),
        np.array([one.stray_ns for one in beside]),
        np.array([one.turn_ns for one in beside]),
    )
    squares = (by / stray) ** 2
    least = max(least_ns) if float(squares.sum() - squares.max()) < _NOTICED else least_ns[0]
    sure = float((np.abs(by) - _CHANCE * stray).max())  # what is left of the largest turn that is no chance
    if float(squares.sum()) < _NOTICED or sure < least or not _one_length(by, stray, turns):
        return None
    return Interval(*place)


def _coarse(beat: Beat, bins: int) -> tuple[_Usual, Floats]:
    """How the phase usually strays, by its median; and the square of it at the edge of each bin, in such strays."""
    sums, frames = np.zeros(bins, np.complex128), np.zeros(bins)
    for first in range(0, len(beat.times_ns), _AT_ONCE):
        bin_of = beat.times_ns[first : first + _AT_ONCE] // _BIN_NS
        points = beat.pointers(first, first + _AT_ONCE)
        frames += np.bincount(bin_of, minlength=bins)
        sums += np.bincount(bin_of, points.real, bins) + 1j * np.bincount(bin_of, points.imag, bins)
    total, count = np.concatenate(([0], np.cumsum(sums))), np.concatenate(([0.0], np.cumsum(frames)))
    edges = np.arange(bins + 1)
    before, after = np.maximum(edges - _BINS, 0), np.minimum(edges + _BINS, bins)
    old, new = count[edges] - count[before], count[after] - count[edges]
    by = _turned(total[edges] - total[before], total[after] - total[edges], beat.turn_ns)
    enough = np.minimum(old, new) >= _FEWEST
    if not enough.any():
        return _Usual(0.0, beat.turn_ns), np.zeros(bins + 1)
    wide = np.sqrt(1 / np.maximum(old, 1) + 1 / np.maximum(new, 1))
    middle = float(np.median(by[enough]))
    each = np.abs(_wrapped(by - middle, beat.turn_ns)) / wide
    stray = max(1.4826 * float(np.median(each[enough])), beat.width_ns / 4, 1000.0)
    return _Usual(middle, stray), np.where(enough, (each / stray) ** 2, 0.0)


def _turned(old: Points, new: Points, turn_ns: float) -> Floats:
    """By how much phases differ; ns."""
    by: Floats = np.angle(new * np.conj(old)) * (turn_ns / (2 * np.pi))
    return by


def _wrapped(values: Floats, turn_ns: float) -> Floats:
    """But for whole turns, as near to 0 as can be."""
    return values - np.rint(values / turn_ns) * turn_ns


def _beside(beat: Beat, usual: _Usual, lo: int, hi: int) -> _Beside | None:
    """The phases of a message before and after an interval, and of the frames within; None: too few frames."""
    ends = [lo - _WINDOW_NS, lo, hi, hi + _WINDOW_NS]
    first, begin, end, stop = np.searchsorted(beat.times_ns, ends).tolist()
    if min(begin - first, stop - end) < _FEWEST:
        return None
    points = beat.pointers(first, stop)
    old, inside, new = np.split(points, [begin - first, end - first])
    by = float(_turned(old.sum(), new.sum(), beat.turn_ns)) - usual.middle * (1 + (hi - lo) / _WINDOW_NS)
    stray = usual.stray * float(np.sqrt(1 / len(old) + 1 / len(new)))
    far = [
        np.minimum((_turned(one.sum(), inside, beat.turn_ns) / usual.stray) ** 2, _ODD) for one in (old, new)
    ]
    gain = np.stack((beat.times_ns[begin:end].astype(np.float64), far[0] - far[1]))
    return _Beside(float(_wrapped(np.array(by), beat.turn_ns)), stray, beat.turn_ns, gain)


def _between(gain: Floats) -> tuple[int, int] | None:
    """Between which stamps frames change from the one phase to the other: the likeliest instants."""
    stamps, by = gain[:, np.argsort(gain[0], kind="stable")]
    if not len(stamps):
        return None
    cost = np.concatenate(([0.0], np.cumsum(by)))  # of a change before the frame
    likely = np.flatnonzero(cost <= cost.min() + _AS_LIKELY)
    return int(stamps[max(0, likely[0] - 1)]), int(stamps[min(likely[-1], len(stamps) - 1)])


def _one_length(by: Floats, stray: Floats, turns: Floats) -> bool:
    """Whether all phases turned by one length, but for whole turns of each; or at least every one of them turned.

    Of long lengths the clocks of the senders make more or less, so that none of them explains all turns.
    """
    told = stray < turns / 8
    if not told.any():
        return False
    by, stray, turns = by[told], stray[told], turns[told]
    if bool((np.abs(by / stray) > np.sqrt(_NOTICED)).all()):
        return True
    longest = int(np.argmax(turns))
    lengths = by[longest] + turns[longest] * np.arange(int(_LONGEST_NS / turns[longest]) + 1)
    left = by - lengths[:, None]
    left -= np.rint(left / turns) * turns
    weights = 1 / (stray**2 + (_UNSURE * lengths[:, None]) ** 2)
    mean = (left * weights).sum(axis=1) / weights.sum(axis=1)
    rest = ((left - mean[:, None]) ** 2 * weights).sum(axis=1)
    moved = weights @ by**2
    return bool((rest <= np.minimum(_EXPLAINED * moved, _LEFT))[moved >= _NOTICED].any())
