"""The decision rule, in one place: a limit is met only if the whole interval meets it."""

from interlock.interval import Interval
from interlock.verdict import Verdict

__all__ = ["judge"]


def judge(bound: Interval, limit_ns: int) -> Verdict:
    """Pass if every value of the interval is within the limit, fail if none is, else inconclusive."""
    if bound.hi is not None and bound.hi <= limit_ns:
        return Verdict.PASS
    if bound.lo > limit_ns:
        return Verdict.FAIL
    return Verdict.INCONCLUSIVE
