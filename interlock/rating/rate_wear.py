"""By which day each part that wears must be replaced, judged against a given day: ISO 13849-1, C.4.2 and 4.5.4."""

from collections.abc import Mapping
from datetime import date, timedelta

from interlock.rating.inputs_bench import WearInput
from interlock.rating.iso13849_clauses import Edition, clause
from interlock.rating.result import BenchRating, Judgement
from interlock.rating.step import Mark, Trail
from interlock.rating.wear import Replacement, Use, operations_upper_bound, replacement
from interlock.verdict import Verdict, worst

__all__ = ["judge_wear"]


def judge_wear(
    parts: Mapping[str, WearInput], edition: Edition, mission_time_years: float, today: date | None
) -> BenchRating:
    """Fail for a part whose day has come; inconclusive if `today` is not known or the count is too old for it."""
    trail = Trail()
    judgements = tuple(
        _judge(name, part, edition, _replacement(name, part, edition, mission_time_years, trail), today)
        for name, part in parts.items()
    )
    verdict = worst(judgement.verdict for judgement in judgements)
    return BenchRating("wear and replacement", verdict, judgements, tuple(trail.steps))


def _replacement(name: str, part: WearInput, edition: Edition, mission: float, trail: Trail) -> Replacement:
    use = Use(part.operations, part.load_breaks, part.since, part.until)
    lives = part.b10d.worse_end, part.b10d_load_break.worse_end
    found = replacement(
        use, installed=part.installed, b10d=lives[0], b10d_load_break=lives[1], mission_time_years=mission
    )
    rates = [
        trail.note(
            f"{name}: {what} a year, upper bound (95 %)",
            "chi2(0.95; 2 * n + 2) / (2 * years)",
            {"n": count, "years": use.years},
            operations_upper_bound(count, use.years),
            unit="a year",
            source=f"{part.source}; bound by Garwood (1936)",
            mark=Mark.GIVEN,
        )
        for what, count in (("operations", part.operations), ("load-breaking stops", part.load_breaks))
    ]
    trail.note(
        f"{name}: T10d with load-breaking stops counted apart",
        "1 / (n1 / B1 + n2 / B2)",
        {"n1": rates[0], "B1": lives[0], "n2": rates[1], "B2": lives[1]},
        found.t10d_years,
        unit="years",
        source=f"{clause(edition, 't10d')} for one kind of use; the sum of shares is common practice, no source",
        mark=Mark.PRACTICE,
    )
    numbers: dict[str, float | str] = {
        "T10d": found.t10d_years,
        "mission": mission,
        "installed": str(part.installed),
    }
    trail.say(
        f"{name}: replace before",
        "installed + min(T10d, mission)",
        numbers,
        str(found.due),
        source=clause(edition, "mission"),
    )
    return found


def _judge(name: str, part: WearInput, edition: Edition, found: Replacement, today: date | None) -> Judgement:
    about, source = "replacement", clause(edition, "mission")
    text = (
        f"{name} is to be replaced by {found.due} ({found.decided_by} decides); {100 * found.used:.3g} % of its life "
        f"to T10d was used by {part.until}"
    )
    if today is None:
        return Judgement(
            about, Verdict.INCONCLUSIVE, source, f"{text}; the day to judge it on was not given."
        )
    if today < part.until:
        text = f"{name}: counted until {part.until}, which is after {today}: correct the day of the count"
        return Judgement(about, Verdict.INCONCLUSIVE, source, f"{text}.")
    if today >= found.due:
        return Judgement(about, Verdict.FAIL, source, f"{text}; that day has come ({today}): replace it.")
    if today - part.until > timedelta(days=part.count_holds_days):
        why = f"the count ended {(today - part.until).days} days before {today}, it holds for {part.count_holds_days:g}"
        return Judgement(about, Verdict.INCONCLUSIVE, source, f"{text}; {why}: count anew.")
    return Judgement(about, Verdict.PASS, source, f"{text}.")
