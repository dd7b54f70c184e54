"""What each decision rule says of the times that were measured, of each kind the one that fares worst."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from interlock.bench.required_models import Decision
from interlock.interval import Interval
from interlock.replay.coasting import CoastDown
from interlock.replay.decision_rule import RULES, within
from interlock.replay.discharging import Discharge
from interlock.replay.finding import Finding
from interlock.timing.rule import GUARDED, Measured, Rule, accepts, largest_false_acceptance
from interlock.trace.as_json import interval_json
from interlock.verdict import Verdict

__all__ = ["Decided", "decided", "decision_json"]


@dataclass(frozen=True, slots=True)
class Decided:
    """Of all times measured against one limit the one that fares worst, and what each rule says of it."""

    function: str  # of that one
    subject: str
    what: str  # the effect, or "standstill_from_maximum_speed", "discharge_from_highest_voltage"
    count: int  # times measured against this limit
    measured: Interval  # ns; holds the time, with 95 % if `predicted`; hi None: no upper bound
    predicted: bool
    limit_ns: int
    chain_ns: int  # expanded uncertainty of the measuring chain, as stated
    stated: str  # the rule; empty: none

    @property
    def figures(self) -> Measured | None:
        """Value and uncertainty; None if no upper bound is known."""
        if self.predicted:
            return Measured.banded(self.measured)
        return Measured.bounded(self.measured, self.chain_ns)

    @property
    def whole(self) -> bool:
        """Whether the whole interval is within the limit, the measuring chain included."""
        return within(self.measured, self.limit_ns, 0 if self.predicted else self.chain_ns)

    def accepted(self, rule: Rule) -> bool | None:
        """Whether the rule accepts the value; None if there is none."""
        return None if self.figures is None else accepts(rule, self.figures, self.limit_ns)

    @property
    def by(self) -> str:
        """Which rule decides: the one that is stated, or "whole interval" where none is, or where that is stricter."""
        return self.stated if self.stated and self.whole else "whole interval"

    def as_json(self) -> dict[str, Any]:
        """As plain data (see replay.schema.json)."""
        got = self.figures
        return {
            "function": self.function,
            "subject": self.subject,
            "what": self.what,
            "count": self.count,
            "interval_ns": interval_json(self.measured),
            "measured_ns": None if got is None else round(got.value),
            "expanded_uncertainty_ns": None if got is None else -round(-2 * got.uncertainty // 1),
            "limit_ns": self.limit_ns,
            "false_acceptance": None if got is None else got.above(self.limit_ns),
            "accepted": {name: self.accepted(rule) for name, rule in RULES.items()},
            "largest_false_acceptance": {
                name: largest_false_acceptance(rule) for name, rule in RULES.items()
            },
            "whole_interval_within": self.whole,
            "decided_by": self.by,
        }


def decided(
    stated: Decision | None,
    findings: Iterable[Finding],
    coasts: Sequence[CoastDown] = (),
    falls: Sequence[Discharge] = (),
) -> tuple[Decided, ...]:
    """One for each subject, effect and limit that was timed: of its times the one that fares worst by any rule.

    Predictions come last: standstill from maximum speed, discharge from the highest voltage.
    """
    chain, rule = (0, "") if stated is None else (stated.measuring_chain, stated.rule)
    times: dict[tuple[str, str, int], list[Decided]] = {}

    def note(
        one: Finding | CoastDown | Discharge, what: str, span: Interval, limit_ns: int, *, predicted: bool
    ) -> None:
        found = Decided(one.function, one.subject, what, 1, span, predicted, limit_ns, chain, rule)
        times.setdefault((one.subject, what, limit_ns), []).append(found)

    for one in findings:
        if one.latency is not None and one.limit_ns is not None and one.verdict is not Verdict.NOT_OBSERVED:
            note(one, one.effect, one.latency, one.limit_ns, predicted=False)
    for coast in coasts:
        if coast.taken is not None:
            note(coast, "standstill_from_maximum_speed", coast.taken, coast.limit_ns, predicted=True)
    for fall in falls:
        if fall.taken is not None:
            note(fall, "discharge_from_highest_voltage", fall.taken, fall.limit_ns, predicted=True)
    return tuple(replace(max(same, key=_severity), count=len(same)) for same in times.values())


def _severity(one: Decided) -> tuple[bool, bool, bool, int]:
    end = one.measured.hi
    return end is None, not one.whole, not one.accepted(GUARDED), end or 0


def decision_json(stated: Decision) -> dict[str, Any]:
    """The stated rule as plain data."""
    return {"rule": stated.rule, "measuring_chain_ns": stated.measuring_chain, "source": stated.source}
