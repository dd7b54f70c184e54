"""By which day each part that wears must be replaced, judged against a given day: ISO 13849-1, C.4.2 and 4.5.4."""

from collections.abc import Mapping
from datetime import date, timedelta

from interlock.rating.counted import CountedUse
from interlock.rating.inputs_bench import WearInput
from interlock.rating.iso13849_clauses import Edition, clause
from interlock.rating.result import BenchRating, Judgement
from interlock.rating.step import Trail
from interlock.rating.wear_due import Due, due_dates
from interlock.verdict import Verdict, worst

__all__ = ["judge_wear"]


def judge_wear(
    parts: Mapping[str, WearInput],
    edition: Edition,
    mission_time_years: float,
    today: date | None,
    counts: Mapping[str, CountedUse],
) -> BenchRating:
    """Fail for a part whose day has come; inconclusive if `today` is not known or the count is too old for it.

    `counts`: by device, what was counted on it beside what the bench description states.
    """
    trail = Trail()
    found = due_dates(parts, edition, mission_time_years, counts, trail)
    judgements = tuple(_judge(one, parts[one.name], edition, today) for one in found)
    verdict = worst(judgement.verdict for judgement in judgements)
    return BenchRating("wear and replacement", verdict, judgements, tuple(trail.steps))


def _judge(due: Due, part: WearInput, edition: Edition, today: date | None) -> Judgement:
    name, found, until = due.name, due.found, due.until
    about, source = "replacement", clause(edition, "mission")
    counts = f"; {due.counts}" if due.counts else ""
    text = (
        f"{name} is to be replaced by {found.due} ({found.decided_by} decides); {100 * found.used:.3g} % of its life "
        f"to T10d was used by {until}{counts}"
    )
    if today is None:
        return Judgement(
            about, Verdict.INCONCLUSIVE, source, f"{text}; the day to judge it on was not given."
        )
    if today < until:
        text = f"{name}: counted, or installed, as late as {until}, which is after {today}: correct the day"
        return Judgement(about, Verdict.INCONCLUSIVE, source, f"{text}.")
    if today >= found.due:
        return Judgement(about, Verdict.FAIL, source, f"{text}; that day has come ({today}): replace it.")
    if today - due.counted_until > timedelta(days=part.count_holds_days):
        old, holds = (today - due.counted_until).days, part.count_holds_days
        why = f"the count ended {old} days before {today}, it holds for {holds:g}"
        return Judgement(about, Verdict.INCONCLUSIVE, source, f"{text}; {why}: count anew.")
    return Judgement(about, Verdict.PASS, source, f"{text}.")
