"""What is due when: proof tests by their last pass, parts by their wear, guards that unlock by time by their timing."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import floor
from typing import Final, Literal

from interlock.bench import Bench
from interlock.rating.counted import CountedUse
from interlock.rating.inputs import Function, RatingInputs
from interlock.rating.inputs_guard import UnlockTimed
from interlock.rating.iso14119 import INTERVAL_SOURCE, months_later, proof_test_interval_months
from interlock.rating.rate_parts import judge_parts, parts_due
from interlock.rating.rate_use import with_counts
from interlock.rating.rate_wear import judge_wear
from interlock.rating.step import Trail
from interlock.rating.wear_due import due_dates
from interlock.register.book import Register
from interlock.register.entries import Changed, Entry, ProofTest, Replaced
from interlock.register.uses import uses
from interlock.verdict import Verdict

__all__ = ["Due", "due_of"]

_DAYS_OF_A_MONTH: Final = 28  # of a part of a month: rather too early than too late
_NO_INTERVAL: Final = "no interval is stated: add proof_test_months to its entry under rating.functions"


@dataclass(frozen=True, slots=True)
class Due:
    """One thing that is due on a day: pass, not yet; fail, now; inconclusive, it cannot be said."""

    bench: str
    kind: Literal["proof_test", "replacement", "timing"]
    subject: str  # function, part, or guard
    due: date | None  # None: at once, or not known
    verdict: Verdict
    sentence: str
    source: str


def due_of(
    register: Register, bench: Bench, fingerprint: str, rating: RatingInputs | None, today: date
) -> Iterator[Due]:
    """Every proof test, replacement and timing of one bench, functions first, in the order of its description.

    `rating`: its section of that name, if it has one: intervals and lives come from there. A part of a channel is
    listed if its day of installation is known.
    """
    entries = list(register.counting(bench.bench.id))
    for name in bench.required.functions:
        given = None if rating is None else rating.functions.get(name)
        months, source = (None, "") if given is None or rating is None else _interval(given, rating)
        yield _test(bench.bench.id, name, fingerprint, entries, months, source, today)
    if rating is not None and rating.wear is not None:
        counts = uses(register, bench.bench.id)
        dates = due_dates(rating.wear, rating.edition, rating.mission_time_years, counts, Trail())
        judged = judge_wear(rating.wear, rating.edition, rating.mission_time_years, today, counts).judgements
        for one, said in zip(dates, judged, strict=True):
            found = one.found.due
            yield Due(
                bench.bench.id, "replacement", one.name, found, said.verdict, said.sentence, said.clause
            )
    if rating is not None:
        yield from _parts(bench.bench.id, rating, uses(register, bench.bench.id), today)
        for name, given in rating.functions.items():
            if given.guard is not None and given.guard.unlock == "delay":
                guard = bench.required.functions[name].demand
                yield _timing(bench.bench.id, guard, given.guard.unlock_timed, entries, today)


def _parts(bench: str, rating: RatingInputs, counts: Mapping[str, CountedUse], today: date) -> Iterator[Due]:
    """The parts in channels whose day of installation is known."""
    inputs = with_counts(rating, counts)
    found = judge_parts(inputs, today, counts)
    for one, said in zip(
        parts_due(inputs, counts, Trail()), () if found is None else found.judgements, strict=True
    ):
        yield Due(bench, "replacement", one.name, one.due, said.verdict, said.sentence, said.clause)


def _interval(function: Function, rating: RatingInputs) -> tuple[float | None, str]:
    """Months between proof tests, the shorter of what is stated and what the standard names; and who says so."""
    categories = [one.category for one in function.subsystems.values() if one.category in ("3", "4")]
    contacts = any(
        rating.parts[part].wears
        for one in function.subsystems.values()
        if one.category in ("3", "4")
        for channel in one.channels or []
        for part in channel
    )
    named = proof_test_interval_months(function.required.level, categories[0]) if contacts else None
    stated = function.proof_test_months
    if named is not None and (stated is None or named < stated):
        return float(named), INTERVAL_SOURCE
    return stated, "" if stated is None else "bench description, proof_test_months"


def _test(
    bench: str,
    name: str,
    fingerprint: str,
    entries: Sequence[Entry],
    months: float | None,
    source: str,
    today: date,
) -> Due:
    def said(verdict: Verdict, text: str, day: date | None = None) -> Due:
        return Due(bench, "proof_test", name, day, verdict, f"{name}: {text}.", source)

    tests = sorted(_tests(entries, name), key=lambda one: one[0])
    passed = [one for one in tests if one[2] is Verdict.PASS]
    if not passed:
        return said(Verdict.FAIL, _never(tests))
    same = [one for one in passed if one[1].bench.fingerprint == fingerprint]
    day, test = (same or passed)[-1][:2]
    last = f"passed on {day} (entry {test.entry})"
    failed = [one for one in tests if one[2] is Verdict.FAIL and (one[0], one[1].entry) > (day, test.entry)]
    if failed:
        return said(
            Verdict.FAIL, f"{last}, but failed on {failed[-1][0]} (entry {failed[-1][1].entry}): test anew"
        )
    changes = [text for when, entry, text in _changes(entries) if (when, entry) > (day, test.entry)]
    if changes:
        return said(Verdict.FAIL, f"{last}; {changes[-1]} since, so the test is due now")
    if today < day:
        return said(Verdict.INCONCLUSIVE, f"{last}, which is after {today}: correct the day")
    if months is None:
        return said(Verdict.INCONCLUSIVE, f"{last}; {_NO_INTERVAL}")
    due = _later(day, months)
    text = f"{last}; the next test is due by {due}, {months:g} month(s) later"
    if today >= due:
        return said(Verdict.FAIL, f"{text}: that day has come ({today})", due)
    if not same:
        why = f"that was for another description of the bench ({test.bench.fingerprint[:12]}…), and whether it covers"
        return said(
            Verdict.INCONCLUSIVE, f"{text}, but {why} this one is not known: test it as it is now", due
        )
    return said(Verdict.PASS, text, due)


def _timing(bench: str, guard: str, timed: UnlockTimed | None, entries: Sequence[Entry], today: date) -> Due:
    """Until when the times taken of a guard's unlocking count; a change of the bench or of the guard ends it."""

    def said(verdict: Verdict, text: str, due: date | None = None) -> Due:
        return Due(
            bench, "timing", guard, due, verdict, f"{guard}: {text}.", "bench description, unlock_timed"
        )

    if timed is None:
        return said(Verdict.FAIL, "how long it takes to unlock was never timed: time it now")
    last = f"its unlocking was timed on {timed.day}"
    if today < timed.day:
        return said(Verdict.INCONCLUSIVE, f"{last}, which is after {today}: correct the day")
    own = [one for one in entries if not isinstance(one.content, Replaced) or one.content.device == guard]
    if changes := [text for day, _, text in _changes(own) if day > timed.day]:
        return said(Verdict.FAIL, f"{last}; {changes[-1]} since, so it is to be timed now")
    due = timed.day + timedelta(days=floor(timed.holds_days))
    text = f"{last}, which counts until {due}"
    if today >= due:
        return said(Verdict.FAIL, f"{text}: that day has come ({today})", due)
    return said(Verdict.PASS, text, due)


def _tests(entries: Sequence[Entry], name: str) -> Iterator[tuple[date, Entry, Verdict]]:
    """Each test with its day and what it says of the function; a doubtful recording passes nothing."""
    for entry in entries:
        if isinstance(entry.content, ProofTest) and name in entry.content.functions:
            verdict = entry.content.functions[name].verdict
            if verdict is Verdict.PASS and entry.content.rest is not Verdict.PASS:
                verdict = Verdict.INCONCLUSIVE
            yield entry.content.date, entry, verdict


def _never(tests: Sequence[tuple[date, Entry, Verdict]]) -> str:
    if not tests:
        return "never tested by this register: the test is due now"
    day, entry, verdict = tests[-1]
    found = str(verdict).replace("_", " ")
    return f"never passed; the last test, of {day} (entry {entry.entry}), is {found}: test anew"


def _changes(entries: Sequence[Entry]) -> Iterator[tuple[date, int, str]]:
    for entry in entries:
        match entry.content:
            case Changed() as one:
                yield one.date, entry.entry, f"changed on {one.date} (entry {entry.entry}: {one.what})"
            case Replaced() as one:
                yield one.date, entry.entry, f"{one.device} replaced on {one.date} (entry {entry.entry})"


def _later(day: date, months: float) -> date:
    whole = floor(months)
    start = day if whole == 0 else months_later(day, whole)
    return start + timedelta(days=floor((months - whole) * _DAYS_OF_A_MONTH))
