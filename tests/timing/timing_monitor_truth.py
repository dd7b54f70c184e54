"""Two conditions with a known truth, however they were sampled, and a naive monitor that sees that truth."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock, Track


def naive_latencies(rises, answer_spans, end) -> list[float | None]:
    """O(n · m): for each rise the first later instant inside any span of the answer; None: none before the end."""
    found: list[float | None] = []
    for rise in rises:
        waits = [max(0.0, start - rise) for start, stop in answer_spans if stop > rise and start < end]
        found.append(min(waits) if waits else None)
    return found


@dataclass(frozen=True)
class Truth:
    """Two conditions that change at instants, and how both were sampled: no phase without a known sample."""

    rises: list
    spans: list  # of the answer, start and stop
    trigger: Track
    answer: Track
    end: float


def phases(random, count):
    """Instants of change of one condition; its first state."""
    return np.sort(random.uniform(0, 1000, size=count)), bool(random.integers(2))


def state_at(changes, first, instant) -> bool:
    return bool(first ^ (int(np.searchsorted(changes, instant, side="right")) % 2 == 1))


def sampled(random, changes, first, clock) -> Track:
    """Any instants, one in every phase at least; some of the others lost, some without evidence."""
    edges = np.concatenate([[0.0], changes, [1000.0]])
    needed = [random.uniform(low, high) for low, high in pairwise(edges)]
    instants = np.sort(np.concatenate([needed, random.uniform(0, 1000, size=random.integers(0, 25))]))
    states = np.array([YES if state_at(changes, first, at) else NO for at in instants], dtype=np.int8)
    doubt = random.random(len(states)) < random.choice([0, 0.15])
    states[doubt] = random.choice([UNKNOWN, BLIND], size=int(doubt.sum()))
    true = np.round(instants * 1000).astype(np.int64)
    delays = random.integers(clock.least_ns, clock.most_ns + 1, size=len(true))
    return Track("m", "m", np.maximum.accumulate(true + delays), states, clock)


def truth(seed) -> Truth:
    random = np.random.default_rng(seed)
    clock = Clock(0, int(random.choice([0, 5000])), 1)
    a, first_a = phases(random, random.integers(0, 7))
    b, first_b = phases(random, random.integers(0, 7))
    rises = [at for i, at in enumerate(a) if (i % 2 == 0) != first_a]
    edges = [0.0, *b, 1000.0]
    spans = [(low, high) for i, (low, high) in enumerate(pairwise(edges)) if (i % 2 == 0) == first_b]
    trigger, answer = sampled(random, a, first_a, clock), sampled(random, b, first_b, clock)
    return Truth(
        [at * 1000 for at in rises], [(s * 1000, e * 1000) for s, e in spans], trigger, answer, 10**6
    )
