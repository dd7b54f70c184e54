"""Is the recording evidence at all: was every message there, fresh and in order, and stamped as late as stated?"""

from collections.abc import Iterator
from itertools import groupby
from typing import Final

from interlock.replay.advice import BY_DOUBT
from interlock.replay.finding import Finding
from interlock.replay.limits import uncounted
from interlock.replay.observation import Observation
from interlock.trace.model import Quality, QualityKind
from interlock.verdict import Verdict

__all__ = ["recording_of"]

_COMPLETE: Final = "every message came in time, fresh and in order, from the first frame to the last"
_SOURCE: Final = "the bench description, section shows"


def recording_of(seen: Observation) -> Iterator[Finding]:
    """One finding for each message in doubt, or one that none is."""
    doubts = sorted((one for one in seen.trace.quality if one.blinds), key=_subject)
    for subject, group in groupby(doubts, key=_subject):
        yield _in_doubt(subject, list(group))
    if not doubts:
        shorter = [one for one in seen.trace.quality if one.kind is QualityKind.NOT_RECORDED]
        told = [
            "Every message came in time, fresh and in order.",
            *map(_not_judged, shorter),
            *uncounted(seen),
        ]
        sentence = " ".join(told)
        yield Finding("recording", "all", "data_complete", Verdict.PASS, _COMPLETE, _SOURCE, sentence)


def _not_judged(doubt: Quality) -> str:
    lo, hi = doubt.span.lo, doubt.span.hi
    when = f"from {lo / 1e9:.3f} s on" if hi is None else f"before {hi / 1e9:.3f} s"
    return f"What {doubt.message} shows is not judged {when}: its source did not record, and nothing was demanded."


def _subject(doubt: Quality) -> str:
    return doubt.message or "all"


def _in_doubt(subject: str, doubts: list[Quality]) -> Finding:
    more = f" (and {len(doubts) - 1} more such)" if len(doubts) > 1 else ""
    sentence = f"{doubts[0].place}: {doubts[0].sentence.rstrip('.')}{more}. {BY_DOUBT[doubts[0].kind]}"
    return Finding("recording", subject, "data_complete", Verdict.INCONCLUSIVE, _COMPLETE, _SOURCE, sentence)
