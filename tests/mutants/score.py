"""What became of each mutant: broken, refused, not proved, weaker, the same, or alive; and why that harms nobody."""

import re
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import Any

import yaml
from mutants.mutate import mutants

from interlock.bench import Bench
from interlock.chain import check, judge_faults
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.errors import BenchError
from interlock.verdict import Verdict

__all__ = ["Fate", "Mutated", "behaviour", "fates", "reasons", "unexplained"]

HARMLESS = Path(__file__).with_name("harmless.yaml")
LIMIT = 1_000_000


class Fate(StrEnum):
    """What became of a mutant."""

    BROKEN = "breaks a property"
    REFUSED = "is refused: its wiring loops"
    NOT_PROVED = "is not proved: something is never put to the test"
    WEAKER = "lets more faults defeat a function, or hides them"
    SAME = "behaves as before"
    ALIVE = "behaves differently and passes"


@dataclass(frozen=True, slots=True)
class Mutated:
    """One mutant, its fate, and the first property that it breaks."""

    name: str
    fate: Fate
    by: str = ""


def behaviour(bench: Bench) -> frozenset[tuple[int, int, int]]:
    """Every state, event and state after it."""
    graph = explore(compile_bench(bench).chain, LIMIT)
    states = graph.states.tolist()
    steps = zip(graph.source.tolist(), graph.event.tolist(), graph.target.tolist(), strict=True)
    return frozenset((states[source], event, states[target]) for source, event, target in steps)


Hurts = Mapping[tuple[frozenset[str], str], bool]
"""What sets of faults defeat: faults and function, and whether it shows before harm is done."""


def hurts(bench: Bench) -> Hurts:
    """Every set of one or two faults that loses a function or lets a unit start unasked."""
    return {
        (frozenset(one.set), what): one.detected
        for one in judge_faults(bench, 2).faults
        for what in (*one.lost, *one.restarts)
    }


def weaker(right: Hurts, mutant: Hurts) -> str:
    """A set of faults that hurts more than in the right bench, or less visibly; empty: there is none."""
    for (faults, what), shows in sorted(
        mutant.items(), key=lambda one: (len(one[0][0]), sorted(one[0][0]), one[0][1])
    ):
        before = [seen for (fewer, lost), seen in right.items() if lost == what and fewer <= faults]
        if not before or (all(before) and not shows):
            return f"{', '.join(sorted(faults))}: {what}"
    return ""


@dataclass(frozen=True, slots=True)
class Right:
    """What the bench is known by that the mutants were made from."""

    behaviour: frozenset[tuple[int, int, int]]
    hurts: Hurts | None  # None: faults are left out


def fate(right: Right, mutant: tuple[str, Bench]) -> Mutated:
    """Judge one mutant against the bench that it was made from."""
    name, bench = mutant
    try:
        found = check(bench)
    except BenchError:
        return Mutated(name, Fate.REFUSED)
    broken = [one.id for one in found.properties if one.verdict is Verdict.FAIL]
    if broken:
        return Mutated(name, Fate.BROKEN, broken[0])
    if found.verdict is not Verdict.PASS:
        return Mutated(name, Fate.NOT_PROVED)
    if behaviour(bench) == right.behaviour:
        return Mutated(name, Fate.SAME)
    if right.hurts is not None and (more := weaker(right.hurts, hurts(bench))):
        return Mutated(name, Fate.WEAKER, more)
    return Mutated(name, Fate.ALIVE)


def fates(bench: Bench, *, workers: int = 1, only: Iterable[str] = (), faults: bool = True) -> list[Mutated]:
    """The fate of every mutant, or of those whose names begin so; the bench itself must pass."""
    if check(bench).verdict is not Verdict.PASS:
        raise ValueError(f"bench '{bench.bench.id}' does not pass: its mutants would show nothing")
    begins = tuple(only)
    chosen = [one for one in mutants(bench) if not begins or one[0].startswith(begins)]
    judged = partial(fate, Right(behaviour(bench), hurts(bench) if faults else None))
    if workers == 1:
        return list(map(judged, chosen))
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(judged, chosen, chunksize=8))


def reasons(bench: str) -> Mapping[str, str]:
    """Why living mutants of a bench are harmless: pattern of their names, reason."""
    every: Mapping[str, Any] = yaml.safe_load(HARMLESS.read_text("utf-8"))
    known: Mapping[str, str] = every["reasons"]
    return {pattern: known[reason] for reason, patterns in every[bench].items() for pattern in patterns}


def unexplained(found: Iterable[Mutated], why: Mapping[str, str]) -> Iterator[str]:
    """Living mutants without a reason or with two, and reasons without a living mutant."""
    alive = [one.name for one in found if one.fate is Fate.ALIVE]
    for name in alive:
        fitting = [pattern for pattern in why if re.fullmatch(pattern, name)]
        if len(fitting) != 1:
            yield f"{name}: {len(fitting)} reasons"
    for pattern in why:
        if not any(re.fullmatch(pattern, name) for name in alive):
            yield f"{pattern}: no mutant is alive that it speaks of"
