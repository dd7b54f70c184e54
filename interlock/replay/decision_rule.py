"""The decision rule that the bench file states, applied to each finding: it makes none milder."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from interlock.bench.required_models import Decision
from interlock.interval import Interval
from interlock.replay.finding import Finding
from interlock.timing.rule import GUARDED, SIMPLE, Measured, accepts
from interlock.verdict import Verdict

__all__ = ["RULES", "by_decision", "within"]

RULES: Final = {rule.name: rule for rule in (SIMPLE, GUARDED)}
"""As the bench file names them."""


def by_decision(stated: Decision | None, findings: Iterable[Finding]) -> list[Finding]:
    """The findings, each pass that the stated rule does not accept made inconclusive; nothing else is changed.

    A value must also lie within its limit with its whole interval, widened by the stated uncertainty of the measuring
    chain: so simple acceptance, which asks for less, can never turn a finding into a pass.
    """
    return [one if stated is None else _by(stated, one) for one in findings]


def _by(stated: Decision, one: Finding) -> Finding:
    if one.verdict is not Verdict.PASS or one.latency is None or one.limit_ns is None:
        return one
    got = Measured.bounded(one.latency, stated.measuring_chain)
    if got is None:
        return one
    rule = RULES[stated.rule]
    chain, limit = stated.measuring_chain, f"{one.limit_ns / 1e6:g} ms"
    if not accepts(rule, got, one.limit_ns):
        up_to = (one.limit_ns - rule.band(got.uncertainty)) / 1e6
        why = f"the stated guard band accepts {got.value / 1e6:.4g} ms up to {up_to:.4g} ms only (U {_up(got)} ms)"
    elif not within(one.latency, one.limit_ns, chain):
        why = (
            f"with the stated uncertainty of the measuring chain ({chain / 1e6:g} ms) it may be above {limit}"
        )
    else:
        return one
    more = "a finer record or a better measuring chain would decide it"
    return replace(
        one, verdict=Verdict.INCONCLUSIVE, sentence=f"{one.sentence} But {why}; {more} [{stated.source}]."
    )


def _up(got: Measured) -> str:
    return f"{2 * got.uncertainty / 1e6:.3g}"


def within(span: Interval, limit_ns: int, chain_ns: int) -> bool:
    """Whether the whole interval is, widened by the uncertainty of the measuring chain."""
    return span.hi is not None and span.hi + chain_ns <= limit_ns
