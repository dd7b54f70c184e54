"""By which day each part in the channels must be replaced: at its T10d or at the end of the mission time.

Source: ISO 13849-1, C.4.2 and 4.5.4 (replace before the earlier of the two). A planned replacement comes first if it
is sooner. A part that does not wear is replaced at the end of the mission time.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from interlock.rating.counted import CountedUse
from interlock.rating.ends import Ends
from interlock.rating.inputs import RatingInputs
from interlock.rating.inputs_part import Part
from interlock.rating.iso13849_clauses import clause
from interlock.rating.rate_part import part_figures
from interlock.rating.result import BenchRating, Judgement
from interlock.rating.step import Mark, Trail
from interlock.rating.wear import days_after
from interlock.verdict import Verdict, worst

__all__ = ["PartDue", "judge_parts", "parts_due", "undated"]

TITLE = "replacement of the parts in channels"


@dataclass(frozen=True, slots=True)
class PartDue:
    """When a part of a channel is to be replaced, and what decides it."""

    name: str
    installed: date
    due: date
    years: float  # from its installation
    decided_by: str  # "T10d", "mission time" or "planned replacement"


def judge_parts(
    inputs: RatingInputs, today: date | None, counts: Mapping[str, CountedUse]
) -> BenchRating | None:
    """Fail for a part whose day has come; None if no part of a channel has a day of installation."""
    trail = Trail()
    found = parts_due(inputs, counts, trail)
    if not found:
        return None
    judged = tuple(_judge(one, inputs, today) for one in found)
    return BenchRating(TITLE, worst(one.verdict for one in judged), judged, tuple(trail.steps))


def parts_due(inputs: RatingInputs, counts: Mapping[str, CountedUse], trail: Trail) -> tuple[PartDue, ...]:
    """Each part of a channel whose day of installation is known, in the order of the inputs."""
    return tuple(_due(name, day, inputs, trail) for name, day in _installed(inputs, counts, trail))


def undated(inputs: RatingInputs, function: str, counts: Mapping[str, CountedUse]) -> str | None:
    """Which parts in the channels of a function have no day of replacement; None: each has one, or there are none."""
    known = {name for name, _ in _installed(inputs, counts, Trail())}
    missing = [name for name in _used(inputs, function) if name not in known]
    if not missing:
        return None
    listed = ", ".join(missing)
    return f"No day of replacement can be told for {listed}: state the day of installation (installed)."


def _used(inputs: RatingInputs, *functions: str) -> list[str]:
    names = [
        part
        for function in functions
        for subsystem in inputs.functions[function].subsystems.values()
        for channel in subsystem.channels or []
        for part in channel
        if inputs.parts[part].fault_exclusion is None
    ]
    return list(dict.fromkeys(names))


def _installed(
    inputs: RatingInputs, counts: Mapping[str, CountedUse], trail: Trail
) -> Iterator[tuple[str, date]]:
    """By the bench description, or by a later replacement that was entered for the part's device."""
    for name in _used(inputs, *inputs.functions):
        part = inputs.parts[name]
        device = None if part.operations is None else part.operations.device
        counted = None if device is None else counts.get(device)
        entered = None if counted is None else counted.installed
        days = [day for day in (part.installed, entered) if day is not None]
        if not days:
            continue
        if counted is not None and entered == max(days) and entered != part.installed:
            stated = "none" if part.installed is None else str(part.installed)
            trail.note(
                f"{name}: day of the part in place",
                "the last replacement of its device entered; the bench description says stated_day",
                {"stated_day": stated},
                str(entered),
                source=counted.source,
                mark=Mark.COUNTED,
            )
        yield name, max(days)


def _due(name: str, installed: date, inputs: RatingInputs, trail: Trail) -> PartDue:
    part = inputs.parts[name]
    ends = {"T10d": _t10d(name, part, inputs), "planned": part.replaced_every_years}
    known = {
        "mission": inputs.mission_time_years,
        **{key: one for key, one in ends.items() if one is not None},
    }
    first = min(known, key=lambda key: known[key])
    due = days_after(name, installed, known[first])
    names = ", ".join(known)
    numbers: dict[str, float | str] = {"installed": str(installed), **known}
    source = clause(inputs.edition, "mission")
    trail.note(f"{name}: replace before", f"installed + min({names})", numbers, str(due), source=source)
    by = {"mission": "mission time", "planned": "planned replacement"}.get(first, first)
    return PartDue(name, installed, due, known[first], by)


def _t10d(name: str, part: Part, inputs: RatingInputs) -> float | None:
    figures = part_figures(name, part, inputs.edition, Ends(pessimistic=True), Trail())
    return None if figures is None else figures.t10d


def _judge(due: PartDue, inputs: RatingInputs, today: date | None) -> Judgement:
    source = clause(inputs.edition, "mission")
    text = f"{due.name}, installed {due.installed}, is to be replaced by {due.due} ({due.decided_by} decides)"
    if today is None:
        text = f"{text}; the day to judge it on was not given."
        return Judgement("replacement", Verdict.INCONCLUSIVE, source, text)
    if today < due.installed:
        text = f"{due.name}: installed {due.installed}, which is after {today}: correct the day."
        return Judgement("replacement", Verdict.INCONCLUSIVE, source, text)
    if today >= due.due:
        text = f"{text}; that day has come ({today}): replace it."
        return Judgement("replacement", Verdict.FAIL, source, text)
    return Judgement("replacement", Verdict.PASS, source, f"{text}.")
