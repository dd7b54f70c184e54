"""Would each stop hold its limit from the bench's maximum speed, though the shaft turned slower when it was made?

The part of the log after the torque was gone is a coast-down; its friction, fitted, gives the time from maximum speed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import tau
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench.expr import names
from interlock.bench.observe import SignalName
from interlock.bench.required_models import Decision, Standstill
from interlock.bench.sources import delay_of, message_of
from interlock.interval import Interval, delay
from interlock.replay.judge import Judgement
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.replay.windows import until_motion
from interlock.timing.coast import CoastAnswer, CoastQuestion, Estimate, friction, judge_coast
from interlock.timing.coast_errors import Stated
from interlock.timing.coast_fit import CoastFit
from interlock.timing.decision import judge
from interlock.timing.settle import settled
from interlock.timing.track import BLIND, Clock, Track
from interlock.trace.as_json import interval_json
from interlock.verdict import Verdict

__all__ = ["CoastDown", "coast_downs"]

_RPM: Final = tau / 60  # rad/s
_CONFIDENCE: Final = 0.95
_HOLDS: Final = {Verdict.PASS: True, Verdict.FAIL: False}


@dataclass(frozen=True, slots=True)
class CoastDown:
    """What one stop says about the same stop from maximum speed; without a time, `why` says what it lacks."""

    function: str
    subject: str
    demand: Interval  # ns since the first frame
    limit_ns: int
    max_speed: float  # 1/min
    why: str  # why there is no time, or what the answer rests on
    tested_speed: float | None = None  # 1/min, the greatest of the coast-down
    before: Interval | None = None  # ns from the demand until the torque was gone; part of `taken`
    taken: Interval | None = None  # ns from the demand to standstill, from maximum speed; hi None: no bound
    holds: bool | None = (
        None  # whether the whole band is within the limit (False: none of it); None: not decided
    )
    coulomb: Estimate | None = None  # N m; None: no time, or the bench does not state its inertia
    viscous: Estimate | None = None  # N m s/rad

    @property
    def sentence(self) -> str:
        """The prediction, or why there is none, for an engineer."""
        top = f"{self.max_speed:g} 1/min"
        if self.taken is None:
            return f"How long this stop would take from {top} cannot be said: {self.why}. Test it from there."
        high = self.taken.hi
        low = f"{self.taken.lo // 1_000_000 / 1e3:.3f}"
        span = f"{low} s or more" if high is None else f"{low} to {-(-high // 1_000_000) / 1e3:.3f} s"
        far = f" {self.why[0].upper()}{self.why[1:]}." if self.why else ""
        by = f"by the friction seen from {self.tested_speed:.0f} 1/min down"
        return (
            f"From {top} this stop would take {span} from demand to standstill ({_CONFIDENCE:.0%} band, {by});"
            f" {self.limit_ns / 1e9:g} s are allowed: {self._answer}.{far}"
        )

    @property
    def _answer(self) -> str:
        match self.holds:
            case True:
                return "the limit holds from maximum speed too"
            case False:
                return "the limit does not hold from maximum speed"
            case None:
                return "the band does not decide, so test it from maximum speed"

    def as_json(self) -> dict[str, Any]:
        """The prediction as plain data (see replay.schema.json)."""
        return {
            "function": self.function,
            "subject": self.subject,
            "demand_ns": interval_json(self.demand),
            "limit_ns": self.limit_ns,
            "max_speed_per_min": self.max_speed,
            "tested_speed_per_min": self.tested_speed,
            "confidence": _CONFIDENCE,
            "torque_gone_ns": interval_json(self.before),
            "taken_ns": interval_json(self.taken),
            "holds": self.holds,
            "coulomb_nm": _estimate_json(self.coulomb),
            "viscous_nms_per_rad": _estimate_json(self.viscous),
            "sentence": self.sentence,
        }


def _estimate_json(estimate: Estimate | None) -> list[float] | None:
    return None if estimate is None else [estimate.value, estimate.low, estimate.high]


def coast_downs(judgement: Judgement) -> tuple[CoastDown, ...]:
    """One for each demand that put standstill to the test, in the order of the demands. They change no verdict.

    The band is that of the fit. It supposes that the shaft turns no faster than maximum speed when its torque goes,
    and knows nothing of other stops or other temperatures, nor of the gain of the speed sensor.
    """
    stated = judgement.observation.bench.required.effects.standstill
    if stated is None:
        return ()
    timed = {
        (one.function, one.demand): one.latency
        for one in judgement.findings
        if one.effect == "standstill" and one.demand is not None
    }
    found = []
    for stop in judgement.stops:
        demand = stop.demand
        latency = None if demand is None else timed.get((stop.name, demand))
        if latency is not None and demand is not None:
            found.append(_coast_down(_Case(judgement.observation, stop, stated, demand, latency)))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Case:
    """A demand that put standstill to the test, and the latency found."""

    seen: Observation
    stop: Stop
    stated: Standstill
    demand: Interval
    latency: Interval

    @property
    def speed(self) -> SignalName | None:
        return self.seen.shows.values.get(f"{self.stated.of}.speed")


@dataclass(frozen=True, slots=True)
class _Record:
    """The speeds of one coast-down, 1/min, and how long after the demand the torque was gone."""

    stamps_ns: NDArray[np.int64]
    speeds: NDArray[np.float64]
    before: Interval
    offset: float  # 1/min by which all of them, or each in its own way, may be off
    wander_s: float  # longest less the shortest delay from sampling to stamp


def _coast_down(case: _Case) -> CoastDown:
    record = _record(case)
    if isinstance(record, str):
        return _told(case, why=record)
    answer = _answered(record, case.stated, case.seen.bench.bench.ratings.max_speed.number)
    if answer.taken is None or answer.fit is None:
        return _told(case, why=f"{answer.why}{_departs(answer.fit)}")
    why = "; ".join(filter(None, (answer.why, _wanders(answer.fit))))
    found, inertia = _told(case, why=why), case.seen.bench.bench.ratings.inertia
    if inertia is not None:
        coulomb, viscous = friction(answer.fit, inertia.number, confidence=_CONFIDENCE)
        found = replace(found, coulomb=coulomb, viscous=viscous)
    taken = _widened(answer.taken, case.seen.bench.required.decision)
    return replace(
        found,
        tested_speed=answer.fit.used.highest / _RPM,
        before=record.before,
        taken=taken,
        holds=_HOLDS.get(judge(taken, case.stated.within)),
    )


def _widened(taken: Interval, stated: Decision | None) -> Interval:
    """By the uncertainty of the measuring chain, where the bench file states one."""
    chain = 0 if stated is None else stated.measuring_chain
    return Interval(max(0, taken.lo - chain), None if taken.hi is None else taken.hi + chain)


def _departs(fit: CoastFit | None) -> str:
    """How far a record that does not fit lies beyond what the bench file says of its samples."""
    if fit is None or fit.fits:
        return ""
    by, allowed = fit.departs.by / _RPM, fit.departs.allowed / _RPM
    return f"; it departs from them by {by:.2g} 1/min, and the errors stated for its samples explain {allowed:.2g}"


def _wanders(fit: CoastFit) -> str:
    if not fit.wanders:
        return ""
    return "the record bends about the fit, no further than the errors stated for its samples; these are in the band"


def _told(case: _Case, why: str) -> CoastDown:
    """Without any figure that the record must give."""
    top = case.seen.bench.bench.ratings.max_speed.number
    return CoastDown(case.stop.name, case.stated.of, case.demand, case.stated.within, top, why=why)


def _answered(record: _Record, stated: Standstill, top: float) -> CoastAnswer:
    below = stated.below.number
    question = CoastQuestion(top * _RPM, below * _RPM, stated.within, _CONFIDENCE, record.before)
    speeds, offset = record.speeds * _RPM, record.offset * _RPM
    errors = Stated(offset, record.wander_s)
    return judge_coast(record.stamps_ns, speeds, question, floor=below * _RPM, offset=offset, stated=errors)


def _record(case: _Case) -> _Record | str:
    """The speeds from when the torque was surely gone until standstill was shown; or why they are no coast-down."""
    seen, port = case.seen, f"{case.stated.of}.speed"
    category = case.stop.function.stop_category
    if category != 0:
        return f"in a stop of category {category} the drive brakes, so the shaft does not coast"
    turning = seen.beyond(port, ">=", case.stated.below.number, magnitude=True)
    samples = None if case.speed is None else seen.trace.signals.get(str(case.speed))
    if samples is None or turning is None or case.speed is None:
        return "the log does not show the speed"
    off = _torque_gone(case)
    if isinstance(off, str):
        return off
    first, last = _ends(case, off, turning.clock)
    inside = (samples.times_ns >= first) & (samples.times_ns <= last)
    stamps, speeds = samples.times_ns[inside], samples.values[inside]
    if _blind(turning, first, last) or not np.isfinite(speeds).all() or (np.diff(stamps) < 0).any():
        return "frames with the speed are missing there, or not to be trusted"
    uncertain = message_of(seen.shows, case.speed.message).uncertain.get(case.speed.signal)
    offset = 0.0 if uncertain is None else float(uncertain.value)
    delay_ = delay_of(seen.shows, case.speed.message)
    wander_s = (delay_.most - delay_.least + 2 * turning.clock.width_ns) / 1e9
    return _Record(stamps, speeds, _before(case, off), offset, wander_s)


def _ends(case: _Case, off: Interval, clock: Clock) -> tuple[int, int]:
    """First and last stamp of samples that were surely taken without torque, and not after standstill was shown."""
    window = until_motion(case.seen, case.stop).window
    shown = None if case.latency.hi is None else case.stop.onset.lo + case.latency.hi
    ends = [one for one in (shown, None if window.end is None else window.end.lo) if one is not None]
    first = (off.lo if off.hi is None else off.hi) + clock.most_ns + clock.width_ns
    return first, min(ends, default=case.seen.trace.end_ns) + clock.least_ns - clock.width_ns


def _before(case: _Case, off: Interval) -> Interval:
    """From the demand until the torque was gone; 0 where it went before."""
    raw = delay(case.stop.onset, off)
    return Interval(max(0, raw.lo), None if raw.hi is None else max(0, raw.hi))


def _torque_gone(case: _Case) -> Interval | str:
    """When the last unit that may turn the shaft was without torque for good, with an upper bound."""
    window, found = until_motion(case.seen, case.stop).window, []
    for unit in _drivers(case):
        track = case.seen.tracks.get(f"{unit}.torque")
        at = None if track is None else settled(track, window).at
        if (at is None or at.hi is None) and unit not in case.stop.limits:
            name = case.seen.device_name(unit)
            return (
                f"this stop leaves the {name} alone, and while that may make torque the shaft does not coast; make it"
                f" once more with the {name} switched off"
            )
        if at is None or at.hi is None:
            return f"the log does not show when the {case.seen.device_name(unit)} was without torque"
        found.append((at.lo, at.hi))
    return Interval(max(lo for lo, _ in found), max(hi for _, hi in found))


def _drivers(case: _Case) -> Sequence[str]:
    """The units that its wiring says turn the shaft; every one where it does not name them."""
    units, driven = (
        case.seen.bench.required.effects.torque_off.of,
        case.seen.bench.wiring.get(f"{case.stated.of}.driven"),
    )
    named = set() if driven is None else {port.partition(".")[0] for port in names(driven)}
    return [unit for unit in units if unit in named] or units


def _blind(track: Track, first_ns: int, last_ns: int) -> bool:
    inside = (track.stamps_ns >= first_ns) & (track.stamps_ns <= last_ns)
    return bool((track.states[inside] == BLIND).any())
