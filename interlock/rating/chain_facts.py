"""What is known of the chain as built, as plain data: the rating itself looks into no chain."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from interlock.verdict import Verdict

__all__ = ["ChainFacts", "Lock"]


class Lock(NamedTuple):
    """Whether a guard stays locked until standstill, why, and the single faults, in words, by which it may not.

    `takes_s`: the shortest time that a person needs to free it, as its kind states; None: nothing is stated.
    """

    verdict: Verdict
    why: str
    freed_by: tuple[str, ...] = ()
    takes_s: float | None = None


@dataclass(frozen=True, slots=True)
class ChainFacts:
    """What chain and derived proof test have shown; an entry that is absent was not shown.

    `unrated`, `unrated_low_demand`: by function why what is rated does not cover the whole way from demand to effect;
    an empty tuple: it does. `locked`: by function whether its guard stays locked until standstill.
    `revealed`: by fault whether the derived proof test shows it; None: no test was derived, `not_derived` says why.
    `masked`: by guard in series with others the best class of coverage of its contacts, and why. `emergency`: the
    functions that an emergency stop device demands.
    """

    unrated: Mapping[str, tuple[str, ...]]
    unrated_low_demand: Mapping[str, tuple[str, ...]]
    locked: Mapping[str, Lock]
    revealed: Mapping[str, bool] | None
    not_derived: str = "no proof test was derived"
    masked: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    emergency: Collection[str] = ()
