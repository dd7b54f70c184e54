"""Performance levels: bands, combination of subsystems, simplified table and risk graph of ISO 13849-1."""

from collections.abc import Iterable
from fractions import Fraction
from typing import Final, NamedTuple

from interlock.errors import RatingError
from interlock.rating.iso13849_mttfd import category_name, mttfd_capped, mttfd_class
from interlock.rating.iso13849_pfhd import column_class
from interlock.rating.values import as_written, choice, filled, positive

__all__ = [
    "BANDS",
    "PLS",
    "SIL_OF_PL",
    "Combined",
    "combine",
    "performance_level",
    "pl_by_bars",
    "reaches",
    "required_pl",
]

PLS: Final = ("a", "b", "c", "d", "e")
SIL_OF_PL: Final = {"a": 0, "b": 1, "c": 1, "d": 2, "e": 3}
"""SIL that corresponds in high demand; 0: none (2006 and 2015 Table 4, 2023 6.1.2)."""

_BELOW: Final = (("e", 1e-7), ("d", 1e-6), ("c", 3e-6), ("b", 1e-5), ("a", 1e-4))  # first band that holds it
BANDS: Final = ", ".join(f"{level} below {limit:.0e}".replace("e-0", "e-") for level, limit in _BELOW)
"""The bands in words, for a reader to follow."""

_MOST_OF_LOWEST: Final = {"a": 3, "b": 2, "c": 2, "d": 3, "e": 3}
_RISK_GRAPH: Final = dict(
    zip(
        ["S1F1P1", "S1F1P2", "S1F2P1", "S1F2P2", "S2F1P1", "S2F1P2", "S2F2P1", "S2F2P2"],
        "abbccdde",
        strict=True,
    )
)
_BARS: Final = {  # low, medium, high MTTFd of each channel
    ("B", "none"): "ab-",
    ("1", "none"): "--c",
    ("2", "low"): "abc",
    ("2", "medium"): "bcd",
    ("3", "low"): "bcd",
    ("3", "medium"): "cdd",
    ("4", "high"): "--e",
}


class Combined(NamedTuple):
    """What subsystems in series reach together: the level, and their PFHd in 1/h if each one is known."""

    pl: str
    pfhd: float | None


def performance_level(pfhd: float) -> str:
    """The performance level 'a' to 'e' of PFHd in 1/h; a border belongs to the worse level (1e-7 is 'd').

    Below 1e-8 the level stays 'e'. 1e-4 and more reaches no level: RatingError. Not rounded before comparing.
    Source: ISO 13849-1:2006 and 2015, Table 3; 2023 without lower limit of PL e (from memory).
    """
    rate = positive("pfhd", pfhd, "give dangerous failures an hour, above 0")
    for level, limit in _BELOW:
        if rate < limit:
            return level
    raise RatingError(f"pfhd is {rate!r} an hour: no performance level reaches 1e-4 or more; redesign needed")


def reaches(achieved: str, required: str) -> bool:
    """True if the achieved level is at least the required one."""
    return PLS.index(choice("achieved", achieved, PLS)) >= PLS.index(choice("required", required, PLS))


def combine(subsystems: Iterable[tuple[str, float | None]]) -> Combined:
    """The level of subsystems in series, [(pl, pfhd in 1/h or None), ...], all of which must work.

    With every PFHd known: the band of their sum, and never above the lowest level. With any unknown: by
    number of lowest levels (Table 11), and never above the band of the part of the sum that is known. A level
    is never turned back into a PFHd. RatingError if no level is left.
    Source: ISO 13849-1:2015, 6.3 and Table 11 (2023: 6.2; its table from memory); the limit by the lowest
    level of any subsystem from memory.
    """
    items = [_subsystem(i, item) for i, item in enumerate(filled("subsystems", subsystems, _PAIR), 1)]
    known = [rate for _, rate in items if rate is not None]
    total = float(sum((as_written(rate) for rate in known), Fraction(0)))
    letters = [pl if rate is None else min(pl, performance_level(rate)) for pl, rate in items]
    limits = [min(letters)] if len(known) == len(items) else [_by_count(letters)]
    if known:
        limits.append(performance_level(total))
    return Combined(min(limits), total if len(known) == len(items) else None)


_PAIR: Final = "give (pl, pfhd in 1/h or None) of at least one subsystem"


def _subsystem(i: int, item: object) -> tuple[str, float | None]:
    if not isinstance(item, tuple | list) or len(item) != 2:
        raise RatingError(f"subsystem {i} is {item!r}: {_PAIR}")
    pl = choice(f"pl of subsystem {i}", item[0], PLS)
    return pl, None if item[1] is None else positive(f"pfhd of subsystem {i}", item[1], _PAIR)


def _by_count(letters: list[str]) -> str:
    lowest = min(letters)
    if letters.count(lowest) <= _MOST_OF_LOWEST[lowest]:
        return lowest
    if lowest == "a":
        raise RatingError("more than three subsystems of PL a in series: none allowed (2015 Table 11)")
    return PLS[PLS.index(lowest) - 1]


def pl_by_bars(category: object, mttfd: float, dc_class: str) -> str:
    """The level by the simplified table, without a PFHd; the cautious reading of the overlapping bars.

    `mttfd` in years of each channel. Source: ISO 13849-1:2006, 4.5.4, Table 7; 2015 Table 6.
    """
    name = category_name(category)
    years = mttfd_class(mttfd_capped(mttfd, name))
    years = "medium" if name == "B" and years == "high" else years  # category B counts at most as medium
    level = _BARS[name, column_class(name, dc_class)][("low", "medium", "high").index(years)]
    if level == "-":
        raise RatingError(f"mttfd is {years}: category {name} needs a high one, 30 years or more (Table 5)")
    return level


def required_pl(severity: str, frequency: str, avoidance: str) -> str:
    """The required level by the risk graph from 'S1'/'S2', 'F1'/'F2', 'P1'/'P2'.

    It only estimates; a type-C standard or the risk assessment of the machine goes first. The lowering for a
    low probability of occurrence (2015) is not applied. Source: ISO 13849-1:2006, Figure A.1 (informative).
    """
    s = choice("severity", severity, ("S1", "S2"))
    f = choice("frequency", frequency, ("F1", "F2"))
    return _RISK_GRAPH[s + f + choice("avoidance", avoidance, ("P1", "P2"))]
