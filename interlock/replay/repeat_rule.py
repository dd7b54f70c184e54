"""Repeated stops judged by the rule that the bench file stated: do they speak for the stops that were not made?"""

from collections.abc import Iterable, Iterator
from typing import Final

from interlock.bench.required_models import Repeats
from interlock.replay.finding import Finding
from interlock.timing.repeat import Basis, judge_repeats, summarise
from interlock.verdict import Verdict, worst

__all__ = ["REPEATED", "by_rule"]

REPEATED: Final = "_repeated"
"""Ends the name of the effect that such a finding is about."""

_BASES: Final = {
    Basis.LARGEST: "by the largest of enough stops, whatever their distribution",
    Basis.NORMAL: "by mean + k s of stops that no test shows not to be normal",
}


def by_rule(rule: Repeats | None, findings: Iterable[Finding], chain_ns: int = 0) -> Iterator[Finding]:
    """One finding for each effect with a limit that a demand put to the test; none without a rule.

    No pass unless each of these stops passed for itself: the rule can make a verdict worse, never better. `chain_ns`:
    the stated uncertainty of the measuring chain, by which the bound must lie further within the limit.
    """
    if rule is None:
        return
    groups: dict[tuple[str, str, str, int], list[Finding]] = {}
    for one in findings:
        if one.demand is not None and one.limit_ns is not None:
            groups.setdefault((one.function, one.subject, one.effect, one.limit_ns), []).append(one)
    for (function, subject, effect, limit_ns), stops in groups.items():
        basis = Basis(rule.basis)
        share = f"{100 * rule.share:.4g} % of all such stops with {100 * rule.confidence:.4g} % confidence"
        requirement = f"{effect.replace('_', ' ')} within {limit_ns / 1e6:g} ms in {share}, {_BASES[basis]}"
        verdict, sentence = _judged(stops, rule, basis, limit_ns - chain_ns)
        yield Finding(
            function,
            subject,
            f"{effect}{REPEATED}",
            verdict,
            requirement,
            rule.source,
            sentence,
            limit_ns=limit_ns,
        )


def _judged(stops: list[Finding], rule: Repeats, basis: Basis, limit_ns: int) -> tuple[Verdict, str]:
    timed = [one.latency for one in stops if one.latency is not None]
    own = worst(one.verdict for one in stops)
    if own is Verdict.FAIL:
        return Verdict.FAIL, f"Of {len(stops)} stops at least one failed for itself."
    if own is not Verdict.PASS or len(timed) < len(stops):
        return Verdict.INCONCLUSIVE, f"Not each of {len(stops)} stops passed for itself; make those again."
    verdict, why = judge_repeats(summarise(timed, rule.share, rule.confidence), limit_ns, basis)
    if verdict is Verdict.PASS:
        return verdict, f"{why[0].upper()}{why[1:]}, within the limit."
    return verdict, f"That stops not made are within the limit is not shown: {why}."
