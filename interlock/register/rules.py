"""What a new entry must fit to: no day to come, nothing counted twice, no withdrawal of what is not there."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from interlock.errors import RegisterError
from interlock.register.book import Register
from interlock.register.entries import Changed, Entry, Operations, ProofTest, Replaced, Withdrawn

__all__ = ["refuse_unfit"]

_ZONES: Final = timedelta(days=1)
"""At one instant the day differs by one at most around the world."""
_CLOCKS: Final = timedelta(minutes=10)
"""Clocks of two computers differ, and a writer may have waited for another (common practice, no source)."""


def refuse_unfit(register: Register, entry: Entry) -> None:
    """RegisterError if the entry may not follow those that the register holds; says what to do instead."""
    why = next(_wrong(register, entry), None)
    if why is not None:
        raise RegisterError(f"{register.path}: {why}")


def _wrong(register: Register, entry: Entry) -> Iterator[str]:
    before = register.entries[-1].made if register.entries else register.head.made
    if entry.made < before - _CLOCKS:
        yield f"the clock says {entry.made:%Y-%m-%d %H:%M:%S}Z, the line before was written later: set the clock"
    for what, day in _days(entry):
        if day > entry.made.date() + _ZONES:
            yield f"{what} {day} is still to come: enter it when it has been"
    others = list(register.counting(entry.bench.id))
    match entry.content:
        case ProofTest() as test:
            yield from _same_logs(test, others)
        case Operations() as counted:
            yield from _counted_twice(counted, others)
            yield from _fewer_than_logs(counted, others)
        case Replaced() as replaced:
            yield from _within_a_count(replaced, others)
        case Withdrawn() as withdrawn:
            yield from _nothing_there(register, entry, withdrawn)


def _days(entry: Entry) -> list[tuple[str, date]]:
    match entry.content:
        case ProofTest(date=day):
            return [("the test's day", day)]
        case Operations(until=day):
            return [("the last day of the count", day)]
        case Replaced(date=day) | Changed(date=day):
            return [("the day", day)]
        case Withdrawn():
            return []


def _same_logs(test: ProofTest, others: list[Entry]) -> Iterator[str]:
    new = {log.sha256: log.name for log in test.logs}
    if len(new) < len(test.logs):
        yield "the same log is given twice: give each file once"
    for other in others:
        if isinstance(other.content, ProofTest):
            for log in other.content.logs:
                if log.sha256 in new:
                    yield (
                        f"{new[log.sha256]} was entered before, as {log.name} in entry {other.entry}: one run is "
                        "one test"
                    )


def _counted_twice(counted: Operations, others: list[Entry]) -> Iterator[str]:
    span = f"{counted.since} to {counted.until}"
    for other in others:
        match other.content:
            case Operations(device=counted.device) as old if (
                counted.since < old.until and old.since < counted.until
            ):
                yield (
                    f"{counted.device} was counted from {old.since} to {old.until} in entry {other.entry}, so {span} "
                    f"would count days twice: begin where a count ended, or withdraw entry {other.entry} first"
                )
            case Replaced(device=counted.device, date=day) if counted.since < day < counted.until:
                yield (
                    f"{counted.device} was replaced on {day} (entry {other.entry}), within {span}: enter one count "
                    "until that day and one from it, so that the new part is not charged with the old one's wear"
                )


def _fewer_than_logs(counted: Operations, others: list[Entry]) -> Iterator[str]:
    """The logs of tests within the period show more than was counted: then the count is wrong."""
    inside = [
        (one.entry, one.content.counts)
        for one in others
        if isinstance(one.content, ProofTest) and counted.since < one.content.date < counted.until
    ]
    numbers = ", ".join(str(number) for number, _ in inside)
    logs = [counts for _, counts in inside if counts is not None]
    opened = [one.contactors[counted.device] for one in logs if counted.device in one.contactors]
    loads = sum(one.under_load for one in opened)
    seen = sum(one.openings for one in opened) + sum(one.demands.get(counted.device, 0) for one in logs)
    where = f"the logs of tests between {counted.since} and {counted.until} (entries {numbers})"
    if loads > counted.load_breaks:
        yield f"{where} alone show {counted.device} break its load {loads} time(s), more than {counted.load_breaks}"
    elif seen > counted.operations + counted.load_breaks:
        total = counted.operations + counted.load_breaks
        yield f"{where} alone show {seen} operation(s) of {counted.device}, more than {total} in all"


def _within_a_count(replaced: Replaced, others: list[Entry]) -> Iterator[str]:
    for other in others:
        match other.content:
            case Operations(device=replaced.device) as old if old.since < replaced.date < old.until:
                yield (
                    f"{replaced.device} was counted from {old.since} to {old.until} in entry {other.entry}, across "
                    f"{replaced.date}: withdraw that entry, then enter one count until that day and one from it"
                )
            case Replaced(device=replaced.device, date=replaced.date):
                yield f"{replaced.device} was replaced on that day already, by entry {other.entry}"


def _nothing_there(register: Register, entry: Entry, withdrawn: Withdrawn) -> Iterator[str]:
    number = withdrawn.withdraws
    if number >= entry.entry:
        yield f"there is no entry {number} to withdraw; the last one is {len(register.entries)}"
        return
    old = register.entries[number - 1]
    if old.bench.id != entry.bench.id:
        yield f"entry {number} is of bench {old.bench.id}, not of {entry.bench.id}"
    if isinstance(old.content, Withdrawn):
        yield f"entry {number} is a withdrawal itself; enter the withdrawn line anew instead"
    if number in register.withdrawn:
        yield f"entry {number} was withdrawn before, by entry {register.withdrawn[number].entry}"
