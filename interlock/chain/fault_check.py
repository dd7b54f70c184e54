"""Every fault of a bench judged: the search, the table of faults, the categories."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from interlock.bench import Bench
from interlock.chain.bent import Faulty, compile_faulty
from interlock.chain.category import categories
from interlock.chain.fault_list import considered, excluded
from interlock.chain.fault_result import FaultReport, FaultResult, FaultSearch
from interlock.chain.fault_table import Explored, explore_faults
from interlock.chain.fault_telling import FaultTeller
from interlock.chain.layout import TooWide

__all__ = ["MOST_FAULTS", "judge_faults"]

MOST_FAULTS: Final = 3
MOST_BYTES: Final = 2 << 30


def judge_faults(bench: Bench, most: int, *, most_bytes: int = MOST_BYTES) -> FaultReport:
    """The bench under at most `most` faults (1 to 3) that arrive at any moments, or are there from the start.

    Where memory or the work allowed do not suffice, smaller sets are searched, down to single faults; what was not seen
    is told as not verified. ValueError for another `most`;
    WiringLoop if the sound bench never comes to rest.
    """
    if not 1 <= most <= MOST_FAULTS:
        raise ValueError(f"{most} faults at a time: from 1 to {MOST_FAULTS} can be judged")
    faulty = compile_faulty(bench, considered(bench))
    try:
        report = _explored(bench, faulty, most, most_bytes)
        for less in range(most - 1, 0, -1):
            if not report.search.proved:
                report = _with_smaller(report, _explored(bench, faulty, less, most_bytes))
    except TooWide as wide:
        return _unverified(bench, most, str(wide))
    return report


def _explored(bench: Bench, faulty: Faulty, most: int, most_bytes: int) -> FaultReport:
    explored = explore_faults(faulty, most, most_bytes)
    teller = FaultTeller(faulty, explored)
    return FaultReport(
        _search(most, explored), teller.results(), categories(explored, teller), excluded(bench)
    )


def _with_smaller(report: FaultReport, smaller: FaultReport) -> FaultReport:
    """A search that fell short, with what the search of smaller sets has proved of them."""
    if not (proved := smaller.search.proved):
        return report
    short = report.search
    alone = _many(proved)
    said = (
        f"Up to {alone} at a time. {smaller.search.sentence} Up to {_many(short.most)} at a time. {short.sentence} "
        f"Sets of more than {alone} are told only as far as they were met."
    )
    larger = (one for one in report.faults if len(one.set) > proved and _does_more(one, smaller.faults))
    unseen = f"That is told of up to {alone} at a time; whether more of them lose it is not verified."
    return FaultReport(
        replace(short, sentence=said, smaller=proved),
        (*smaller.faults, *larger),
        tuple(
            replace(one, sentences=(*one.sentences[:-1], unseen, one.sentences[-1]))
            for one in smaller.categories
        ),
        report.exclusions,
    )


def _does_more(one: FaultResult, smaller: Iterable[FaultResult]) -> bool:
    """It loses, starts or breaks something that no smaller set does by itself."""
    less = [other for other in smaller if set(other.set) < set(one.set)]
    done = {what for other in less for what in (*other.effects, *other.restarts, *other.rules)}
    return not done.issuperset((*one.effects, *one.restarts, *one.rules))


def _many(faults: int) -> str:
    return "one fault" if faults == 1 else f"{faults} faults"


def _search(most: int, explored: Explored) -> FaultSearch:
    states = sum(one.states for one in explored.search.parts)
    count, faults = len(explored.sets.sets) - 1, len(explored.faults)
    kinds = f"{faults} kinds of faults (faults that act alike count as one kind)"
    many = kinds if most == 1 else f"{kinds}, in all {count:,} sets of up to {most}"
    if explored.shortfall:
        seen = (
            f"of {many}, {states:,} situations were seen so far. Where no loss is told, that proves nothing."
        )
        said = f"Not verified: {explored.shortfall}; {seen}"
    else:
        said = (
            f"All was searched: {many}, each present from power-up or arriving at any moment; "
            f"{states:,} situations{_in_parts(explored)}."
        )
    if explored.unshown and not explored.shortfall:
        said += f" Whether faults are noticed is not verified: {explored.unshown}."
    proved = 0 if explored.shortfall else most
    return FaultSearch(most, count, states, not explored.unshown, said, proved)


def _in_parts(explored: Explored) -> str:
    if not explored.search.in_parts:
        return ""
    return (
        f" (the bench was searched in {len(explored.search.parts)} parts, each with all that can help or hinder what "
        "is sought in it)"
    )


def _unverified(bench: Bench, most: int, why: str) -> FaultReport:
    said = f"Not verified: {why}."
    found = tuple(
        FaultResult((one.id,), (one.words,), (), (), (), False, None, (), False, False, (), False, (), said)
        for one in considered(bench)
    )
    return FaultReport(FaultSearch(most, 0, 0, False, said), found, (), excluded(bench))
