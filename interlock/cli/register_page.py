"""A register as text: a line an entry, what was withdrawn, and the hash to note."""

from collections.abc import Iterable, Iterator

from rich.console import Console
from rich.text import Text

from interlock.cli.common import said
from interlock.interval import ms_up
from interlock.register import Changed, Entry, Operations, ProofTest, Register, Replaced, Withdrawn
from interlock.register.entries import ContactorCount, Timing
from interlock.register.shown import Held

__all__ = ["added", "show", "verified"]


def show(page: Console, register: Register, entries: Iterable[Entry]) -> None:
    """Every entry in full, withdrawn ones marked."""
    for entry in entries:
        _entry(page, entry, register.withdrawn.get(entry.entry))
    _head(page, register)


def added(page: Console, register: Register, entry: Entry | None) -> None:
    """The new entry, if there is one."""
    if entry is not None:
        _entry(page, entry, None)
    _head(page, register)


def verified(page: Console, path: str, register: Register | None, held: Held) -> None:
    """What the chain shows, and what it cannot show."""
    page.print(Text.assemble(f"{path}: ", said(held[0])), soft_wrap=True)
    for reason in held[1]:
        page.print(Text(f"  {reason}"), soft_wrap=True)
    if register is not None:
        _head(page, register)


def _head(page: Console, register: Register) -> None:
    text = f"{register.path}: {len(register.entries)} line(s) below the head; hash of the last line {register.sha256}"
    page.print(Text(text), soft_wrap=True)
    page.print(
        Text("Note this hash in the signed report: it shows later that no line was cut off."), soft_wrap=True
    )


def _entry(page: Console, entry: Entry, by: Entry | None) -> None:
    what, *more = _content(entry)
    withdrawn = (f" WITHDRAWN by entry {by.entry}", "bold") if by is not None else ""
    line = Text.assemble(f"{entry.entry}. {entry.bench.id}: ", what, withdrawn)
    page.print(line, soft_wrap=True)
    for text in (*more, *_said(entry)):
        page.print(Text("   ") + text, soft_wrap=True)


def _content(entry: Entry) -> Iterator[Text]:
    match entry.content:
        case ProofTest() as test:
            yield from _test(test)
        case Operations() as counted:
            yield Text(
                f"{counted.device} from {counted.since} to {counted.until}: {counted.operations} operations without "
                f"load, {counted.load_breaks} load breaks ({counted.source})"
            )
        case Replaced() as replaced:
            yield Text(f"{replaced.device} was replaced on {replaced.date} by {replaced.part}")
        case Changed() as changed:
            touched = f" ({', '.join(changed.devices)})" if changed.devices else ""
            yield Text(f"changed on {changed.date}: {changed.what}{touched}")
        case Withdrawn() as withdrawn:
            yield Text(f"entry {withdrawn.withdraws} is withdrawn: {withdrawn.reason}")


def _test(test: ProofTest) -> Iterator[Text]:
    yield Text.assemble(f"proof test of {test.date}: ", said(test.verdict))
    for name, function in test.functions.items():
        times = "; ".join(_longest(function.timings))
        yield Text.assemble(f"{name}: ", said(function.verdict), f" ({times})" if times else "")
    yield Text.assemble("recording and all else: ", said(test.rest))
    if test.counts is not None:
        demands = ", ".join(f"{name} {count}" for name, count in test.counts.demands.items())
        more = "" if test.counts.whole else "; evidence is missing, there may have been more"
        yield Text(f"counted in this log alone: demands: {demands}{more}")
        for name, one in test.counts.contactors.items():
            yield Text(f"counted in this log alone: {name} {_openings(one)}")
    for log in test.logs:
        yield Text(f"log {log.name}, SHA-256 {log.sha256[:16]}…")


def _openings(one: ContactorCount) -> str:
    more = "" if one.whole else "; evidence is missing, there may have been more"
    doubt = f", {one.doubtful} perhaps" if one.doubtful else ""
    return f"openings {one.openings}, of these under load {one.under_load}{doubt}{more}"


def _longest(timings: Iterable[Timing]) -> Iterator[str]:
    """The longest latency of each effect that the evidence allows, in milliseconds rounded up."""
    by_effect: dict[str, list[Timing]] = {}
    for one in timings:
        by_effect.setdefault(one.effect, []).append(one)
    for effect, group in by_effect.items():
        ends = [None if one.latency_ns is None else one.latency_ns[1] for one in group]
        known = [end for end in ends if end is not None]
        most = f"at most {ms_up(max(known))} ms" if len(known) == len(ends) else "without bound"
        limits = [one.limit_ns for one in group if one.limit_ns is not None]
        limit = f" of {min(limits) / 1e6:g} ms" if limits else ""
        yield f"{effect.replace('_', ' ')} {most}{limit}"


def _said(entry: Entry) -> Iterator[Text]:
    who = "" if entry.by is None else f" by {', '.join(filter(None, (entry.by.name, entry.by.role)))}"
    yield Text(f"entered {entry.made:%Y-%m-%d %H:%M}Z{who}, bench {entry.bench.fingerprint[:16]}…")
    if entry.note:
        yield Text(f"note: {entry.note}")
