"""The day by which each part that wears must be replaced, each step from the counts noted: ISO 13849-1, C.4.2."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from interlock.rating.counted import CountedUse, larger
from interlock.rating.inputs_bench import WearInput
from interlock.rating.iso13849_clauses import Edition, clause
from interlock.rating.rate_use import note_counted
from interlock.rating.step import Mark, Trail
from interlock.rating.wear import (
    DAYS_PER_YEAR,
    Replacement,
    Use,
    operations_upper_bound,
    replaced_by,
    t10d_of_mix,
    wear_fraction,
)

__all__ = ["Due", "due_dates"]

Kind = Literal["operations", "load_breaks"]
_KINDS: Final[Mapping[Kind, str]] = {"operations": "operations", "load_breaks": "load-breaking stops"}


_UNCOUNTED: Final = "counts are to decide, and none was given: use as stated ({})"


@dataclass(frozen=True, slots=True)
class Due:
    """When a part is to be replaced, and what that rests on."""

    name: str
    found: Replacement
    installed: date
    until: date  # the last day that is known of: of a count, or of the installation
    counted_until: date  # the last day of the counts that the rate rests on
    counts: str  # what decided the rate, in words


def due_dates(
    parts: Mapping[str, WearInput],
    edition: Edition,
    mission_time_years: float,
    counts: Mapping[str, CountedUse],
    trail: Trail,
) -> tuple[Due, ...]:
    """The day of each part, each step noted."""
    return tuple(
        _due(name, part, edition, mission_time_years, counts.get(part.device or name), trail)
        for name, part in parts.items()
    )


def _due(
    name: str, part: WearInput, edition: Edition, mission: float, counted: CountedUse | None, trail: Trail
) -> Due:
    """Rates a year of both kinds of use, the life at these rates, the share of it that is used, and the day."""
    installed = _installed(name, part, counted, trail)
    rates = {kind: _rate(name, kind, part, counted, trail) for kind in _KINDS}
    lives = part.b10d.worse_end, part.b10d_load_break.worse_end
    life = trail.note(
        f"{name}: T10d with load-breaking stops counted apart",
        "1 / (n1 / B1 + n2 / B2)",
        {"n1": rates["operations"], "B1": lives[0], "n2": rates["load_breaks"], "B2": lives[1]},
        t10d_of_mix(rates["operations"], rates["load_breaks"], *lives),
        unit="years",
        source=f"{clause(edition, 't10d')} for one kind of use; the sum of shares is common practice, no source",
        mark=Mark.PRACTICE,
    )
    until, used = _used(name, part, counted, installed, life, clause(edition, "t10d"), trail)
    found = replaced_by(installed, until, used, life, mission)
    numbers: dict[str, float | str] = {
        "T10d": life,
        "used": used,
        "until": str(until),
        "mission": mission,
        "installed": str(installed),
    }
    formula = "min(until + (1 - used) * T10d, installed + mission)"
    trail.note(f"{name}: replace before", formula, numbers, str(found.due), source=clause(edition, "mission"))
    return Due(name, found, installed, until, _counted_until(part, counted), _words(part, counted))


def _installed(name: str, part: WearInput, counted: CountedUse | None, trail: Trail) -> date:
    if counted is None or counted.installed is None or counted.installed == part.installed:
        return part.installed
    trail.note(
        f"{name}: day of the part in place",
        "the last replacement entered; the bench description says stated_day",
        {"stated_day": str(part.installed)},
        str(counted.installed),
        source=counted.source,
        mark=Mark.COUNTED,
    )
    return counted.installed


def _rate(name: str, kind: Kind, part: WearInput, counted: CountedUse | None, trail: Trail) -> float:
    """Uses a year: as stated with the upper bound of that count, or as counted, or the larger of both."""
    use = Use(part.operations, part.load_breaks, part.since, part.until)
    count, what = (part.operations if kind == "operations" else part.load_breaks), _KINDS[kind]
    stated = trail.note(
        f"{name}: {what} a year, upper bound (95 %)",
        "chi2(0.95; 2 * n + 2) / (2 * years)",
        {"n": count, "years": use.years},
        operations_upper_bound(count, use.years),
        unit="a year",
        source=f"{part.source}; bound by Garwood (1936)",
        mark=Mark.UNCOUNTED if part.decides == "counted" and counted is None else Mark.GIVEN,
    )
    whole = None if counted is None else counted.tally(kind)
    if counted is None or whole is None:
        return stated
    latest = counted.latest(kind)
    numbers = {"n_stated": stated} | note_counted(f"{name}: {what}", counted, whole, latest, trail)
    known = larger(whole, latest) if counted.enough else float(whole.count)
    if part.decides == "stated":
        rule, value = "as stated, by the bench description, of", stated
    elif part.decides == "counted" and counted.enough:
        rule, value = "as counted, by the bench description, of", known
    else:
        rule, value = "the largest of", max(stated, known)
    formula = f"{rule} {', '.join(numbers)}"
    source = counted.source
    return trail.note(
        f"{name}: {what} a year", formula, numbers, value, unit="a year", source=source, mark=Mark.COMPUTED
    )


def _used(
    name: str,
    part: WearInput,
    counted: CountedUse | None,
    installed: date,
    life: float,
    edition_source: str,
    trail: Trail,
) -> tuple[date, float]:
    """The last day that is known of, and the share of the life used by then: at the rate above, and as counted."""
    rated = None if counted is None or part.decides == "stated" else counted.since(installed)
    alone = part.decides == "counted" and rated is not None and rated.enough
    ends = [installed] if alone else [installed, part.until]
    until = max([*ends, *(one.until for one in (rated.periods if rated is not None else ()))])
    if rated is not None and rated.periods and alone:
        return until, _as_counted(name, part, rated, (until - installed).days, life, trail)
    days: dict[str, float | str] = {"days": (until - installed).days, "T10d": life}
    used = trail.note(
        f"{name}: share of the life used, at the rate above since the installation",
        "days / 365 / T10d",
        days,
        (until - installed).days / DAYS_PER_YEAR / life,
        source=edition_source,
        mark=Mark.COMPUTED,
    )
    if rated is None or not rated.periods:
        return until, used
    shares: dict[str, float | str] = {
        "u_rate": used,
        "u_counted": _as_counted(name, part, rated, (until - installed).days, life, trail),
    }
    return until, trail.note(
        f"{name}: share of the life used",
        "the larger of u_rate, u_counted",
        shares,
        max(float(one) for one in shares.values()),
        source=rated.source,
        mark=Mark.COMPUTED,
    )


def _as_counted(name: str, part: WearInput, rated: CountedUse, days: int, life: float, trail: Trail) -> float:
    """What the counts since the installation used, the days without a count at the rate above."""
    between = max(0, days - rated.days)
    light = sum(one.operations for one in rated.periods)
    heavy = sum(one.load_breaks for one in rated.periods)
    lives = part.b10d.worse_end, part.b10d_load_break.worse_end
    numbers: dict[str, float | str] = {"m1": light, "B1": lives[0], "m2": heavy, "B2": lives[1]}
    numbers |= {"rest": between, "T10d": life}
    return trail.note(
        f"{name}: share of the life used as counted, {between} day(s) without a count at the rate above",
        "m1 / B1 + m2 / B2 + rest / 365 / T10d",
        numbers,
        wear_fraction(light, heavy, *lives) + between / DAYS_PER_YEAR / life,
        source=rated.source,
        mark=Mark.COUNTED,
    )


def _counted_until(part: WearInput, counted: CountedUse | None) -> date:
    if counted is None or not counted.enough or part.decides == "stated":
        return part.until
    last = counted.periods[-1].until
    return last if part.decides == "counted" else max(last, part.until)


def _words(part: WearInput, counted: CountedUse | None) -> str:
    if counted is None:
        return _UNCOUNTED.format(part.source) if part.decides == "counted" else ""
    if not counted.periods:
        return f"use as stated ({part.source}); {counted.source} holds no count"
    if part.decides == "stated":
        return f"use as stated ({part.source}), by the bench description"
    if not counted.enough:
        return f"use as stated ({part.source}); {counted.source} counts {counted.days} days only"
    if part.decides == "counted":
        return f"use as counted ({counted.source}), by the bench description"
    return f"use as stated ({part.source}) or as counted ({counted.source}), whichever is more"
