"""Markov models made for the tests alone: they share no formula with the code that they judge."""

from itertools import product

import numpy as np
from scipy.linalg import expm

HOURS = 8760.0


def mean_loss_frequency(generator: np.ndarray, loss: np.ndarray, hours: float) -> float:
    """Losses an hour, averaged over the time, of a chain that starts in state 0; `loss`: rate of loss by state."""
    size = len(loss)
    larger = np.zeros((size + 1, size + 1))
    larger[:size, :size] = generator.T
    larger[size, :size] = loss
    return float(expm(larger * hours)[size, 0] / hours)


def two_channels(mttfd: float, dc: float, beta: float = 0.02, years: float = 20) -> float:
    """Categories 3 and 4: a fault is found at once with probability dc, else it waits for the second one.

    Three states: sound, one hidden fault, lost; renewal after detection and after loss.
    """
    rate = 1 / (HOURS * mttfd)
    hidden = 2 * (1 - beta) * rate * (1 - dc)
    generator = np.array([[-hidden, hidden], [rate, -rate]])
    return mean_loss_frequency(generator, np.array([beta * rate, rate]), years * HOURS)


def channel_with_tester(mttfd: float, dc: float, beta: float = 0.02, years: float = 20) -> float:
    """Category 2: a channel and a tester of the same MTTFd; without tester every fault is hidden."""
    rate = 1 / (HOURS * mttfd)
    tester = (1 - beta) * rate
    generator = np.array([[-tester, tester], [rate, -rate]])
    return mean_loss_frequency(
        generator, np.array([rate * (1 - dc) * (1 - beta) + beta * rate, rate]), years * HOURS
    )


class Voting:
    """n channels, each working (0), failed undetected (1) or failed detected (2); `needed` of n must work.

    A detected failure is repaired after mttr on average; an undetected one is found at the proof test, and is then
    repaired like a detected one. Common causes hit every channel that works.
    """

    def __init__(self, n, needed, du, dd, interval, mttr, beta=0.0, beta_d=0.0):
        self.states = list(product(range(3), repeat=n))
        self.needed, self.interval = needed, interval
        index = {state: i for i, state in enumerate(self.states)}
        size = len(self.states)
        self.generator, self.by_hidden = np.zeros((size, size)), np.zeros(size)
        for state in self.states:
            for after, rate, hidden in self._moves(state, du, dd, mttr, beta, beta_d):
                self._add(index, state, after, rate, hidden)
        self.test = np.zeros((size, size))
        for state in self.states:
            self.test[index[state], index[tuple(2 if c == 1 else c for c in state)]] = 1

    def _moves(self, state, du, dd, mttr, beta, beta_d):
        for i, channel in enumerate(state):
            if channel == 0:
                yield (*state[:i], 1, *state[i + 1 :]), (1 - beta) * du, True
                yield (*state[:i], 2, *state[i + 1 :]), (1 - beta_d) * dd, False
            elif channel == 2:
                yield (*state[:i], 0, *state[i + 1 :]), 1 / mttr, False
        yield tuple(1 if c == 0 else c for c in state), beta * du, True
        yield tuple(2 if c == 0 else c for c in state), beta_d * dd, False

    def _add(self, index, state, after, rate, hidden):
        if after == state:
            return
        self.generator[index[state], index[after]] += rate
        self.generator[index[state], index[state]] -= rate
        if hidden and self.works(state) and not self.works(after):
            self.by_hidden[index[state]] += rate

    def works(self, state) -> bool:
        return state.count(0) >= self.needed

    def _mean(self, weight: np.ndarray, rounds: int = 6) -> float:
        """Mean of the weight over one proof-test interval, after some rounds to settle."""
        size = len(self.states)
        larger = np.zeros((size + 1, size + 1))
        larger[:size, :size], larger[size, :size] = self.generator.T, weight
        step = expm(larger * self.interval)
        start = np.zeros(size)
        start[0] = 1.0
        for _ in range(rounds):
            end = step @ np.append(start, 0.0)
            start = end[:size] @ self.test
        return float(end[size] / self.interval)

    def pfd(self) -> float:
        """Mean share of the time in which too few channels work."""
        return self._mean(np.array([0.0 if self.works(state) else 1.0 for state in self.states]))

    def pfh(self) -> float:
        """Losses an hour that an undetected failure brings about."""
        return self._mean(self.by_hidden)
