"""How the DC bus lost its charge after each opening of the contactor, and how long that takes from its highest voltage.

The part of the log from the contactor's opening until somebody may feed the bus again is fitted by one exponential.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import isfinite, tau
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench import Bench
from interlock.bench.required_models import BusDischarged, Decision
from interlock.bench.sources import message_of
from interlock.interval import Interval
from interlock.replay.judge import Judgement
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.replay.windows import until_supply
from interlock.timing.decision import judge
from interlock.timing.fall import Fall, fit_fall, unseen
from interlock.timing.inputs import NotIdentified
from interlock.timing.settle import settled
from interlock.timing.track import BLIND, NO, YES
from interlock.trace.as_json import interval_json
from interlock.verdict import Verdict

__all__ = ["BusRecord", "Discharge", "bus_records", "discharges", "fitted", "highest_voltage"]

SAFE_V: Final = 60.0  # IEC 60204-1:2016, 6.2.4
_AFTER_S: Final = 5.0  # the same
_FLOOR: Final = 0.5  # of the harmless voltage: below it the meter's error decides
_MOST_UNSEEN: Final = 0.5  # common practice, no source
_HOLDS: Final = {Verdict.PASS: True, Verdict.FAIL: False}


@dataclass(frozen=True, slots=True, eq=False)
class BusRecord:
    """Stamps and volts of one discharge, and what was seen of it without any model."""

    times_ns: NDArray[np.int64]
    volts: NDArray[np.float64]
    from_v: float  # the bus had at least so many volts when the contactor was open
    seen: Interval  # ns from the opening until harmless for good; hi None: not shown
    offset_v: float  # by which all volts may be off
    wander_s: float  # longest less the shortest delay from sampling to stamp


@dataclass(frozen=True, slots=True)
class Discharge:
    """One discharge, and the same from the highest voltage; without a time, `why` says what it lacks."""

    function: str
    subject: str
    demand: Interval | None  # ns since the first frame; None: older than the log
    limit_ns: int
    safe_v: float
    highest_v: float | None  # None: not known
    why: str  # why there is no time, or what the answer rests on
    seen: str = ""  # what was seen without any model
    time_constant_s: tuple[float, float, float] | None = None  # fitted, and its 95 % band
    taken: Interval | None = None  # ns from highest to harmless voltage; 95 % band
    remaining_v: tuple[float, float] | None = None  # after 5 s, from the highest voltage; 95 % band
    holds: bool | None = None  # whether the whole band is within the limit; None: not decided

    @property
    def sentence(self) -> str:
        """The figures, or why there are none, for an engineer."""
        far = f" {self.why[0].upper()}{self.why[1:]}." if self.why else ""
        if self.time_constant_s is None:
            seen = f" {self.seen}" if self.seen else ""
            return f"The time constant of the bus cannot be said: {self.why}.{seen}"
        said = "Time constant {:.4g} s ({:.4g} to {:.4g} s, 95 % band)".format(*self.time_constant_s)
        if self.taken is None or self.remaining_v is None or self.taken.hi is None:
            return f"{said}.{far}"
        low, high = f"{self.taken.lo // 10**6 / 1e3:.3f}", f"{-(-self.taken.hi // 10**6) / 1e3:.3f}"
        answer = {True: "that holds", False: "that does not hold", None: "the band does not decide"}[
            self.holds
        ]
        return (
            f"{said}: from {self.highest_v:.4g} V the bus is at {self.safe_v:g} V after {low} to {high} s;"
            f" {self.limit_ns / 1e9:g} s are allowed: {answer}. After {_AFTER_S:g} s {self.remaining_v[0]:.3g} to"
            f" {self.remaining_v[1]:.3g} V are left.{far}"
        )

    def as_json(self) -> dict[str, Any]:
        """The discharge as plain data (see replay.schema.json)."""
        return {
            "function": self.function,
            "subject": self.subject,
            "demand_ns": interval_json(self.demand),
            "limit_ns": self.limit_ns,
            "safe_v": self.safe_v,
            "highest_v": self.highest_v,
            "confidence": 0.95,
            "time_constant_s": None if self.time_constant_s is None else list(self.time_constant_s),
            "taken_ns": interval_json(self.taken),
            "remaining_v": None if self.remaining_v is None else list(self.remaining_v),
            "holds": self.holds,
            "sentence": self.sentence,
        }


def discharges(judgement: Judgement) -> tuple[Discharge, ...]:
    """One for each discharge that the log shows, in the order of the demands. They change no verdict."""
    bench = judgement.observation.bench
    stated = bench.required.effects.bus_discharged
    if stated is None:
        return ()
    return tuple(_discharge(bench, stated, stop, record) for stop, record in bus_records(judgement))


def _discharge(bench: Bench, stated: BusDischarged, stop: Stop, record: BusRecord | str) -> Discharge:
    safe, highest = min(SAFE_V, stated.at_most.number), highest_voltage(bench)
    opening, limit = bench.required.effects.contactor_open, stated.within
    if stated.after == "demand" and opening is not None:  # the fit counts from the opening
        limit = max(0, limit - opening.within)
    found = Discharge(stop.name, stated.of, stop.demand, limit, safe, highest, "")
    fall = record if isinstance(record, str) else fitted(record)
    if isinstance(fall, str):
        return replace(found, why=fall, seen="" if isinstance(record, str) else _seen(record, safe))
    found = replace(found, time_constant_s=(fall.tau_s, fall.shortest_s, fall.longest_s))
    if highest is None:
        return replace(
            found, why="the entries in 'rating: discharge:' are no numbers, so no highest voltage is known"
        )
    if highest <= safe:
        return replace(found, why=f"the bus never exceeds {safe:g} V")
    if (fed := _back_emf(bench)) is None or fed > safe:
        why = f"a unit that is turned at top speed feeds the bus above {safe:g} V: interlock rate reckons with that"
        return replace(found, why=why)
    taken = _widened(fall.time(highest, safe), bench.required.decision)
    share = unseen(fall, highest, safe)
    few = share > _MOST_UNSEEN
    return replace(
        found,
        taken=taken,
        remaining_v=fall.remaining_v(highest, _AFTER_S),
        holds=None if few else _HOLDS.get(judge(taken, limit)),
        why=f"{share:.0%} of that time lies outside the voltages recorded" if few else "",
    )


def _seen(record: BusRecord, safe_v: float) -> str:
    low, high = record.seen.lo / 1e9, record.seen.hi
    within = f"more than {low:.3f} s" if high is None else f"{low:.3f} to {-(-high // 10**6) / 1e3:.3f} s"
    return f"Seen without it: from {record.from_v:.4g} V or more to {safe_v:g} V in {within}."


def _widened(taken: Interval, stated: Decision | None) -> Interval:
    chain = 0 if stated is None else stated.measuring_chain
    return Interval(max(0, taken.lo - chain), None if taken.hi is None else taken.hi + chain)


def highest_voltage(bench: Bench) -> float | None:
    """Volts: rated bus voltage, highest supply voltage, or back-EMF at top speed; None if an entry is no number."""
    supply = _number(_entries(bench).get("highest_supply_v", 0.0))
    fed = _back_emf(bench)
    if supply is None or fed is None:
        return None
    return max(bench.bench.ratings.bus_voltage.number, supply, fed)


def _back_emf(bench: Bench) -> float | None:
    """The highest of all units at top speed, V; None if an entry is no number."""
    units = _entries(bench).get("units", {})
    given = [one.get("emf_v_s_per_rad") if isinstance(one, dict) else None for one in _values(units)]
    found = [_number(one) for one in given]
    known = [one for one in found if one is not None]
    if len(known) < len(found):
        return None
    return max([0.0, *known]) * bench.bench.ratings.max_speed.number * tau / 60


def _values(units: object) -> list[object]:
    return list(units.values()) if isinstance(units, dict) else [units]


def _entries(bench: Bench) -> dict[str, Any]:
    """What the rating says of the discharge; it is checked in full where the bench is rated."""
    given = (bench.rating or {}).get("discharge")
    return given if isinstance(given, dict) else {}


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value) or value < 0:
        return None
    return float(value)


def fitted(record: BusRecord) -> Fall | str:
    """The time constant with its band, or why there is none."""
    when = f"the discharge at {record.times_ns[0] / 1e9:.3f} s"
    try:
        fall = fit_fall(
            record.times_ns,
            record.volts,
            floor_v=_FLOOR * SAFE_V,
            offset_v=record.offset_v,
            wander_s=record.wander_s,
        )
    except NotIdentified as unknown:
        return f"{unknown} ({when})"
    return fall if fall.fits else f"no single exponential fits {when} (p = {fall.memory.p_value:.1g})"


def bus_records(judgement: Judgement) -> Iterator[tuple[Stop, BusRecord | str]]:
    """Each discharge that began with a stop, a text where the log does not show it whole."""
    for stop in judgement.stops:
        if "bus_discharged" in stop.function.effects:
            found = _record(judgement.observation, stop)
            if found is not None:
                yield stop, found


def _record(seen: Observation, stop: Stop) -> BusRecord | str | None:
    """One discharge; None if none began here, a text if one did but is not shown whole."""
    effects = seen.bench.required.effects
    bus, contactor = effects.bus_discharged, effects.contactor_open
    if bus is None or contactor is None:
        return None
    name, main = seen.shows.values.get(f"{bus.of}.voltage"), seen.tracks.get(f"{contactor.of}.main")
    charged = seen.beyond(f"{bus.of}.voltage", ">", min(SAFE_V, bus.at_most.number), magnitude=True)
    samples = None if name is None else seen.trace.signals.get(str(name))
    if main is None or charged is None or samples is None or name is None:
        return None
    window = until_supply(seen, stop).window
    opened = settled(main, window)
    if opened.before == NO:
        return None
    if opened.at.hi is None:
        return "the contactor was not seen to open for good"
    last = np.inf if window.end is None else window.end.lo + charged.clock.least_ns - charged.clock.width_ns
    first = opened.at.hi + charged.clock.most_ns + charged.clock.width_ns
    states = charged.states[slice(*np.searchsorted(charged.stamps_ns, (first, last)))]
    if not (states == YES).any():
        return None  # the bus was harmless already
    if (states == BLIND).any():
        return "evidence of the voltage is missing"
    inside = slice(*np.searchsorted(samples.times_ns, (first, last)))
    volts = np.abs(samples.values[inside]).astype(np.float64)
    uncertain = message_of(seen.shows, name.message).uncertain.get(name.signal)
    offset = 0.0 if uncertain is None else float(uncertain.value)
    at = settled(charged, window).at
    shown = Interval(max(0, at.lo - opened.at.hi), None if at.hi is None else max(0, at.hi - opened.at.lo))
    from_v = max(0.0, float(volts[0]) - offset)
    clock = charged.clock
    wander_s = (clock.most_ns - clock.least_ns + 2 * clock.width_ns) / 1e9
    return BusRecord(samples.times_ns[inside].astype(np.int64), volts, from_v, shown, offset, wander_s)
