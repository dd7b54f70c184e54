"""The discharges of the DC bus on a log, as the rating needs them: the hull of all bands, and what was seen of each."""

from interlock.rating.measured_fall import MeasuredFall, SeenFall
from interlock.replay import Judgement
from interlock.replay.discharging import BusRecord, bus_records, fitted
from interlock.timing.fall import Fall

__all__ = ["measured_fall"]


def measured_fall(judgement: Judgement) -> MeasuredFall | None:
    """The hull of the bands of all discharges on the log; None if it shows none at all.

    One that no exponential explains, or that keeps its voltage, makes the time constant unknown; one that the log shows
    in part only makes everything unknown: no good one makes up for it.
    """
    records, doubts = list[BusRecord](), list[str]()
    for stop, found in bus_records(judgement):
        if isinstance(found, str):
            when = "since before the log" if stop.demand is None else f"at {stop.demand.lo / 1e9:.3f} s"
            doubts.append(f"{found}, after the demand of {stop.name} {when}")
        else:
            records.append(found)
    source = f"log: {len(records)} discharge(s) after an opening of the contactor"
    if doubts:
        return MeasuredFall(None, (), source, "; ".join(doubts))
    if not records:
        return None
    fits = [fitted(one) for one in records]
    unknown = "; ".join(one for one in fits if isinstance(one, str))
    falls = [one for one in fits if isinstance(one, Fall)]
    if any(one.seen.hi is None for one in records):
        unknown = "; ".join(filter(None, ("the bus was not seen to become harmless for good", unknown)))
    hull = None
    if not unknown:
        shortest, longest = min(one.shortest_s for one in falls), max(one.longest_s for one in falls)
        lowest, highest = min(one.lowest_v for one in falls), max(one.highest_v for one in falls)
        hull = (shortest, longest, lowest, highest)
    return MeasuredFall(hull, tuple(map(_seen, records)), source, unknown)


def _seen(record: BusRecord) -> SeenFall:
    latest = None if record.seen.hi is None else record.seen.hi / 1e9
    return SeenFall(record.from_v, record.seen.lo / 1e9, latest)
