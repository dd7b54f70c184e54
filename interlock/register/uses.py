"""What a register holds of the use of each device of a bench, as plain counts and days for the rating."""

from pathlib import PurePath

from interlock.rating.counted import CountedUse
from interlock.rating.wear import Use
from interlock.register.book import Register
from interlock.register.entries import Entry, Operations, Replaced

__all__ = ["uses"]


def uses(register: Register, bench_id: str) -> dict[str, CountedUse]:
    """By device: every count that was not withdrawn, in order of days, and the last replacement.

    RatingError if counts of one device overlap, as no register made here lets them.
    """
    entries = list(register.counting(bench_id))
    devices = {one.content.device: None for one in entries if isinstance(one.content, Operations | Replaced)}
    return {device: _use(register, device, entries) for device in devices}


def _use(register: Register, device: str, entries: list[Entry]) -> CountedUse:
    periods, replaced, numbers = list[Use](), [], list[int]()
    for entry in entries:
        match entry.content:
            case Operations() as one if one.device == device:
                periods.append(Use(one.operations, one.load_breaks, one.since, one.until))
                numbers.append(entry.entry)
            case Replaced() as one if one.device == device:
                replaced.append(one.date)
                numbers.append(entry.entry)
    word = "entry" if len(numbers) == 1 else "entries"
    source = f"register {PurePath(register.path).name}, {word} {', '.join(map(str, numbers))}"
    ordered = tuple(sorted(periods, key=lambda one: one.since))
    return CountedUse(device, ordered, source, max(replaced, default=None))
