"""From the description of a part to its MTTFd, coverage and T10d, each step noted."""

from dataclasses import dataclass

from interlock.rating.ends import Ends
from interlock.rating.inputs_part import Operations, Part
from interlock.rating.iso13849 import mttfd_from_b10d, operations_per_year, t10d
from interlock.rating.iso13849_clauses import Edition, clause
from interlock.rating.rate_use import CountedOperations, decided
from interlock.rating.step import Mark, Trail
from interlock.rating.typical import TYPICAL, typical_b10d
from interlock.rating.uncertainty import Range
from interlock.rating.values import needed

__all__ = ["PartFigures", "part_figures"]


@dataclass(frozen=True, slots=True)
class PartFigures:
    """Years to dangerous failure (not capped), coverage as a fraction, and T10d in years if the part wears.

    `mttfd_other`: the MTTFd at the other end of what is known of the part, for the bounds of an average.
    """

    name: str
    mttfd: float
    mttfd_other: float
    dc: float
    t10d: float | None


def part_figures(name: str, part: Part, edition: Edition, ends: Ends, trail: Trail) -> PartFigures | None:
    """The figures of one part, or None if its failure is excluded with a reason."""
    if part.fault_exclusion is not None:
        trail.note(
            f"{name}: fault exclusion",
            part.fault_exclusion,
            {},
            "left out",
            source=part.source,
            mark=Mark.GIVEN,
        )
        return None
    dc = 0.0
    if part.dc is not None:
        source = f"Table E.1, {part.dc_measure}" if part.dc_measure else str(part.dc_source)
        dc = _given(trail, f"{name}: diagnostic coverage", ends.value(f"{name}.dc", part.dc), source)
    if not part.wears:
        years, other = _stated_mttfd(name, part, edition, ends, trail)
        return PartFigures(name, years, other, dc, None)
    (cycles, most), (use, least) = (
        _b10d(name, part, edition, ends, trail),
        _operations(name, part, edition, ends, trail),
    )
    numbers = {"B10d": cycles, "nop": use}
    years, life = mttfd_from_b10d(cycles, use), t10d(cycles, use)
    source = clause(edition, "mttfd")
    trail.note(f"{name}: MTTFd", "B10d / (0.1 * nop)", numbers, years, unit="years", source=source)
    trail.note(f"{name}: T10d", "B10d / nop", numbers, life, unit="years", source=clause(edition, "t10d"))
    return PartFigures(name, years, mttfd_from_b10d(most, least), dc, life)


def _given(
    trail: Trail, title: str, value: float, source: str, unit: str = "", mark: Mark = Mark.GIVEN
) -> float:
    return trail.note(title, "as stated", {}, value, source=source, unit=unit, mark=mark)


def _stated_mttfd(name: str, part: Part, edition: Edition, ends: Ends, trail: Trail) -> tuple[float, float]:
    if part.mttfd_years is not None:
        key = f"{name}.mttfd_years"
        years = _given(trail, f"{name}: MTTFd", ends.value(key, part.mttfd_years), part.source, "years")
        return years, ends.other_end(key, part.mttfd_years)
    row = TYPICAL[needed(f"typical of {name}", part.typical)]
    years = needed(f"MTTFd of {name}", row.mttfd_years)
    _given(trail, f"{name}: MTTFd", years, clause(edition, "typical"), "years", row.mark)
    return years, years


def _b10d(name: str, part: Part, edition: Edition, ends: Ends, trail: Trail) -> tuple[float, float]:
    if part.b10d is not None:
        key = f"{name}.b10d"
        cycles = _given(trail, f"{name}: B10d", ends.value(key, part.b10d), part.source, "cycles")
        return cycles, ends.other_end(key, part.b10d)
    kind = needed(f"typical of {name}", part.typical)
    cycles = needed(f"B10d of {name}", typical_b10d(kind, edition))
    _given(trail, f"{name}: B10d", cycles, clause(edition, "typical"), "cycles", TYPICAL[kind].mark)
    return cycles, cycles


def _operations(name: str, part: Part, edition: Edition, ends: Ends, trail: Trail) -> tuple[float, float]:
    use, title = needed(f"operations of {name}", part.operations), f"{name}: operations"
    if isinstance(use, CountedOperations):
        return decided(name, use, _stated(f"{title} stated", name, use, edition, trail), ends, trail)
    uncounted = use.decides == "counted"
    if use.per_year is not None:
        key, mark = f"{name}.operations", Mark.UNCOUNTED if uncounted else Mark.GIVEN
        count = _given(trail, title, ends.value(key, use.per_year), use.source, "a year", mark)
        return count, ends.other_end(key, use.per_year)
    known = _times(name, use)
    count = operations_per_year(known["dop"], known["hop"], known["tcycle"])
    formula, source = "dop * hop * 3600 / tcycle", clause(edition, "operations")
    mark = Mark.UNCOUNTED if uncounted else Mark.PUBLISHED
    trail.note(title, formula, known, count, unit="a year", source=source, mark=mark)
    return count, count


def _stated(title: str, name: str, use: Operations, edition: Edition, trail: Trail) -> Range:
    """What the bench description says of the use, noted at its pessimistic end."""
    if use.per_year is not None:
        _given(trail, title, use.per_year.worse_end, use.source, "a year")
        return use.per_year
    known = _times(name, use)
    count = operations_per_year(known["dop"], known["hop"], known["tcycle"])
    source = clause(edition, "operations")
    trail.note(title, "dop * hop * 3600 / tcycle", known, count, unit="a year", source=source)
    return Range(count, count, "less")


def _times(name: str, use: Operations) -> dict[str, float]:
    times = {"dop": use.days_per_year, "hop": use.hours_per_day, "tcycle": use.cycle_time_s}
    return {short: needed(f"{short} of {name}", value) for short, value in times.items()}
