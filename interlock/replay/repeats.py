"""What the stops of one log show together: worst, mean, spread, and how far they bound stops that were not made."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from interlock.interval import Interval
from interlock.replay.finding import Finding
from interlock.timing.repeat import Basis, Repeats, judge_repeats, summarise, worth
from interlock.trace.as_json import interval_json
from interlock.verdict import Verdict

__all__ = ["Repeated", "repeated"]


@dataclass(frozen=True, slots=True)
class Repeated:
    """All latencies of one effect of one function in a log; none is left out, whatever it looks like."""

    function: str
    subject: str
    effect: str
    limit_ns: int
    figures: Repeats
    worth: str  # what so many stops can say at most

    @property
    def sentence(self) -> str:
        """What the stops say about stops that were not made, and by which of the two bounds."""
        by_size = judge_repeats(self.figures, self.limit_ns, Basis.LARGEST)
        by_normal = judge_repeats(self.figures, self.limit_ns, Basis.NORMAL)
        if by_size[0] is Verdict.FAIL:
            return f"Of {len(self.figures.stops)} stops one took longer than the limit."
        held = [
            name
            for name, (verdict, _) in (("their largest", by_size), ("their normal bound", by_normal))
            if verdict is Verdict.PASS
        ]
        share = f"{self.figures.proportion:.0%} of such stops with {self.figures.confidence:.0%} confidence"
        if held:
            return f"By {' and '.join(held)}, {share} are within the limit."
        return f"That {share} are within the limit is not shown: {by_normal[1]}; {by_size[1]}."

    def as_json(self) -> dict[str, Any]:
        """The figures as plain data (see replay.schema.json)."""
        normal = self.figures.normality
        return {
            "function": self.function,
            "subject": self.subject,
            "effect": self.effect,
            "limit_ns": self.limit_ns,
            "count": len(self.figures.stops),
            "worst_ns": interval_json(self.figures.worst),
            "mean_ns": interval_json(self.figures.mean),
            "spread_ns": interval_json(self.figures.spread),
            "normality": None
            if normal is None
            else {"test": normal.test, "statistic": normal.statistic, "p_value": normal.p_value},
            "proportion": self.figures.proportion,
            "confidence": self.figures.confidence,
            "normal_bound_ns": self.figures.normal_bound_ns,
            "needed": self.figures.needed,
            "sentence": self.sentence,
            "worth": self.worth,
        }


def repeated(findings: Iterable[Finding]) -> tuple[Repeated, ...]:
    """For each effect with a limit that was timed at two demands or more, in the order of the findings.

    A stop whose end the log does not show counts too: then there is no upper bound. It never changes a verdict: each
    stop was judged for itself, and a rule for stops that were not made must be stated before the data are seen.
    """
    groups: dict[tuple[str, str, str, int], list[Interval]] = {}
    for one in findings:
        if one.demand is not None and one.latency is not None and one.limit_ns is not None:
            key = (one.function, one.subject, one.effect, one.limit_ns)
            groups.setdefault(key, []).append(one.latency)
    return tuple(
        Repeated(*key, summarise(stops), worth(len(stops))) for key, stops in groups.items() if len(stops) > 1
    )
