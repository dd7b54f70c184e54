"""How the DC bus was measured to discharge, and whether that is soon enough from its highest voltage."""

from dataclasses import dataclass
from math import log
from typing import Final

from interlock.rating.step import Mark, Trail
from interlock.rating.values import needed
from interlock.verdict import Verdict

__all__ = [
    "MOST_UNSEEN",
    "Limits",
    "MeasuredFall",
    "SeenFall",
    "chain_words",
    "judge_seen",
    "unseen_share",
]

MOST_UNSEEN: Final = 0.5
"""Share of the discharge, as a logarithm of voltages, that may lie outside what was recorded (common practice)."""


@dataclass(frozen=True, slots=True)
class SeenFall:
    """One discharge as seen: from at least so many volts to the harmless voltage in so many seconds.

    `latest_s` None: the log does not show it harmless for good.
    """

    from_v: float
    soonest_s: float
    latest_s: float | None


@dataclass(frozen=True, slots=True)
class MeasuredFall:
    """The discharges on a log.

    `fitted`: shortest and longest time constant (95 % band), lowest and highest voltage of the fit; None: `unknown`
    says why. `seen`: each discharge without any model; empty if the log does not show them whole.
    """

    fitted: tuple[float, float, float, float] | None
    seen: tuple[SeenFall, ...]
    source: str
    unknown: str = ""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a discharge is held against: volts and seconds; `slow_s`: bounds until no unit feeds the bus.

    `chain_s`: the stated expanded uncertainty (95 %) of measured times.
    """

    supply_v: float
    held_v: float
    emf_v: float
    slow_s: tuple[float, float] | None
    limit_s: float
    safe_v: float
    chain_s: float = 0.0


def unseen_share(asked: Limits, lowest_v: float, highest_v: float) -> float:
    """The share of the way from the highest to the harmless voltage that was not recorded, 0 to 1."""
    whole = log(max(1.0, asked.held_v / asked.safe_v))
    high, low = min(asked.held_v, highest_v), max(asked.safe_v, lowest_v)
    return 0.0 if whole == 0 or high <= 0 else min(1.0, 1 - max(0.0, log(high / low)) / whole)


def judge_seen(
    fall: MeasuredFall, longest_tau_s: float | None, asked: Limits, trail: Trail
) -> tuple[Verdict, str]:
    """Without a time constant from the log: the time seen, and what the stated one adds up to the highest voltage.

    A load beside the bleeder, as of a drive's own electronics, makes the bus fall sooner than by one exponential and is
    fed from the same capacitors, so above the voltage seen the bleeder's time constant is the slow end.
    """
    why = f"The log does not tell the time constant: {fall.unknown}."
    if not fall.seen:
        return Verdict.INCONCLUSIVE, why
    if (soonest := max(one.soonest_s for one in fall.seen)) > asked.limit_s:
        text = f"Seen above {asked.safe_v:g} V for at least {soonest:.3g} s; {asked.limit_s:g} s are allowed."
        return Verdict.FAIL, text
    if any(one.latest_s is None for one in fall.seen):
        return Verdict.INCONCLUSIVE, why
    if longest_tau_s is None:
        return Verdict.INCONCLUSIVE, f"{why} State the bleeder's, to reckon up to {asked.held_v:g} V with it."
    latest = max(
        _reckoned_up(number, one, fall.source, longest_tau_s, asked, trail)
        for number, one in enumerate(fall.seen, 1)
    )
    lowest = min(one.from_v for one in fall.seen)
    text = (
        f"{why} Seen from {lowest:.3g} V or more to {asked.safe_v:g} V, with the bleeder as stated above that: from "
        f"{asked.held_v:g} V after {soonest:.3g} to {latest:.3g} s; {asked.limit_s:g} s are allowed."
    )
    if (share := unseen_share(asked, asked.safe_v, lowest)) > MOST_UNSEEN:
        return (
            Verdict.INCONCLUSIVE,
            f"{text} But {100 * share:.0f} % of that was not seen: record it from nearer.",
        )
    if latest <= asked.limit_s < latest + asked.chain_s:
        return Verdict.INCONCLUSIVE, f"{text} {chain_words(asked.chain_s)}"
    return Verdict.PASS if latest <= asked.limit_s else Verdict.INCONCLUSIVE, text


def chain_words(chain_s: float) -> str:
    """Why a time within its limit is no pass: the decision rule that the bench file states."""
    return f"But with the stated uncertainty of the measuring chain ({chain_s:g} s) it may be longer."


def _reckoned_up(number: int, one: SeenFall, source: str, tau_s: float, asked: Limits, trail: Trail) -> float:
    start, seen_s = max(one.from_v, asked.safe_v), needed("end of the discharge", one.latest_s)
    numbers = {"t": seen_s, "tau": tau_s, "V": max(asked.held_v, start), "V1": start}
    formula, result = "t + tau * ln(V / V1)", seen_s + tau_s * log(max(asked.held_v, start) / start)
    if asked.emf_v > asked.safe_v and asked.slow_s is not None:
        formula = f"max({formula}, slow + tau * ln(E / U))"
        numbers |= {"slow": asked.slow_s[1], "E": asked.emf_v, "U": asked.safe_v}
        result = max(result, asked.slow_s[1] + tau_s * log(asked.emf_v / asked.safe_v))
    return trail.note(
        f"bus as measured: longest time until it is harmless, discharge {number}",
        formula,
        numbers,
        result,
        unit="s",
        source=f"{source}; above what was seen the time constant stated",
        mark=Mark.COMPUTED,
    )
