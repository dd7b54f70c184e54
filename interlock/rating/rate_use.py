"""Operations a year where some were counted: beside the number stated, each step noted, and which one decides."""

from collections.abc import Mapping

from interlock.rating.counted import LEAST_DAYS, CountedUse, Decides, Tally, larger
from interlock.rating.ends import Ends
from interlock.rating.inputs import RatingInputs
from interlock.rating.inputs_part import Operations, Part
from interlock.rating.step import Mark, Trail
from interlock.rating.uncertainty import Range

__all__ = ["CountedOperations", "decided", "is_counted", "note_counted", "with_counts"]

_RULE = {
    "larger": "the largest of",
    "counted": "as counted; the bench description lets the counts decide:",
    "stated": "as stated; the bench description lets its own number decide:",
}


class CountedOperations(Operations):
    """What the bench description says of a part's use, and what was counted on its device."""

    counted: CountedUse


def with_counts(inputs: RatingInputs, counts: Mapping[str, CountedUse]) -> RatingInputs:
    """The inputs, each part whose device was counted with its counts beside what is stated."""
    parts = {name: _counted(part, counts) for name, part in inputs.parts.items()}
    return inputs.model_copy(update={"parts": parts})


def is_counted(part: Part) -> bool:
    """Whether counts stand beside what is stated of the part's use."""
    return isinstance(part.operations, CountedOperations)


def _counted(part: Part, counts: Mapping[str, CountedUse]) -> Part:
    use = part.operations
    counted = None if use is None or use.device is None else counts.get(use.device)
    if use is None or counted is None or not counted.periods:
        return part
    return part.model_copy(
        update={"operations": CountedOperations.model_construct(**dict(use), counted=counted)}
    )


def decided(
    name: str, use: CountedOperations, stated: Range, ends: Ends, trail: Trail
) -> tuple[float, float]:
    """Operations a year that this computation uses, and the other end, once the stated number is noted."""
    counted = use.counted
    whole = counted.tally("all")
    assert whole is not None  # noqa: S101 - `with_counts` leaves out a device without any
    numbers = {"n_stated": stated.worse_end}
    numbers |= note_counted(f"{name}: operations", counted, whole, counted.latest("all"), trail)
    found = _range(use.decides, counted, whole, stated)
    key, names = f"{name}.operations", ", ".join(numbers)
    value = ends.value(key, found)
    rule = f"{_RULE[_rule(use.decides, counted)]} {names}"
    trail.note(
        f"{name}: operations", rule, numbers, value, unit="a year", source=counted.source, mark=Mark.COMPUTED
    )
    return value, ends.other_end(key, found)


def note_counted(
    title: str, counted: CountedUse, whole: Tally, latest: Tally | None, trail: Trail
) -> dict[str, float]:
    """The steps from the counts to a year, and the numbers that may decide, by their names in the next step."""
    span = f"{counted.source}; {whole.since} to {whole.until}"
    if not counted.enough:
        rule = f"n as it is: {whole.days} days were counted, a year is reckoned from {LEAST_DAYS} or more"
        numbers: dict[str, float | str] = {"n": whole.count}
        trail.note(
            f"{title} counted", rule, numbers, whole.count, unit="in all", source=span, mark=Mark.COUNTED
        )
        return {"n_counted": float(whole.count)}
    found = {
        "n_counted": trail.note(
            f"{title} a year as counted, upper bound (95 %)",
            "chi2(0.95; 2 * n + 2) / (2 * days / 365)",
            {"n": whole.count, "days": whole.days},
            whole.upper,
            unit="a year",
            source=f"{span}; bound by Garwood (1936)",
            mark=Mark.COUNTED,
        )
    }
    if latest is not None:
        found["n_latest"] = trail.note(
            f"{title} a year by the latest counts",
            "365 * n / days",
            {"n": latest.count, "days": latest.days},
            latest.mean,
            unit="a year",
            source=f"{counted.source}; {latest.since} to {latest.until}",
            mark=Mark.COUNTED,
        )
    return found


def _rule(decides: Decides, counted: CountedUse) -> Decides:
    """Too few days of counts never decide alone."""
    return "larger" if decides == "counted" and not counted.enough else decides


def _range(decides: Decides, counted: CountedUse, whole: Tally, stated: Range) -> Range:
    """From what was counted, or stated, to its pessimistic end."""
    if counted.enough:
        high = larger(whole, counted.latest("all"))
        known = Range(min(whole.mean, high) or high, high, "less")
    else:
        known = Range(whole.count, whole.count, "less")
    match _rule(decides, counted):
        case "counted":
            return known
        case "stated":
            return stated
        case "larger":
            return Range(max(known.low, stated.low), max(known.high, stated.high), "less")
