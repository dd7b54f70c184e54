"""From parts and a claimed category to the level of one subsystem; a claim that does not hold gives no level."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from interlock.errors import RatingError
from interlock.rating.category import CategoryTest, check_claim
from interlock.rating.ccf import ENOUGH, MEASURES, ccf_score
from interlock.rating.ends import Ends
from interlock.rating.inputs import RatingInputs
from interlock.rating.inputs_part import Part
from interlock.rating.inputs_subsystem import SeriesGuards, Subsystem
from interlock.rating.iso13849 import (
    BANDS,
    DC_FLOOR,
    dc_average,
    dc_class,
    extreme_mttfds,
    mttfd_cap,
    mttfd_capped,
    mttfd_series,
    mttfd_symmetrised,
    performance_level,
    pfhd_cell,
)
from interlock.rating.iso13849_clauses import Edition, clause
from interlock.rating.iso14119 import masking_dc_class
from interlock.rating.rate_part import PartFigures, part_figures
from interlock.rating.rate_use import is_counted
from interlock.rating.result import SubsystemRating
from interlock.rating.step import Mark, Trail
from interlock.rating.typical import COVERAGE, TYPICAL
from interlock.rating.values import needed

__all__ = ["channel_figures", "rate_subsystem"]


@dataclass(frozen=True, slots=True)
class _Figures:
    mttfd: float
    dc: float
    ccf: int


def rate_subsystem(
    name: str,
    subsystem: Subsystem,
    inputs: RatingInputs,
    ends: Ends,
    trail: Trail,
    supported: Collection[object] | None,
) -> SubsystemRating:
    """The subsystem as its category, parts, tests and structure allow, or as its maker rated it."""
    if subsystem.pl is not None:
        return _as_rated(name, subsystem, ends, trail)
    category = needed(f"category of {name}", subsystem.category)
    channels = channel_figures(name, subsystem, inputs, ends, trail)
    figures = _Figures(
        _mttfd(name, category, channels, inputs.edition, trail),
        _coverage(name, [part for channel in channels for part in channel], inputs.edition, ends, trail),
        _ccf(name, subsystem, inputs.edition, trail),
    )
    claim = check_claim(
        category,
        supported=supported,
        channels=len(channels),
        mttfd=figures.mttfd,
        dc_average=figures.dc,
        ccf_score=figures.ccf,
        test=_test(subsystem),
        mttfd_at_most=max(_best_mttfd(channel, category) for channel in channels),
    )
    rate, level = None, None
    if claim.stands:
        rate, level = _level(name, category, figures, inputs.edition, trail)
    else:
        trail.note(
            f"{name}: category",
            "; ".join(claim.refused_because),
            {},
            "refused",
            source=clause(inputs.edition, "category"),
        )
    used = {part: inputs.parts[part] for channel in subsystem.channels or [] for part in channel}
    return SubsystemRating(
        name,
        category,
        figures.mttfd,
        figures.dc,
        figures.ccf,
        level,
        rate,
        claim.refused_because,
        claim.proven,
        _cautions(used),
        any(part.wears for part in used.values()),
    )


def channel_figures(
    name: str, subsystem: Subsystem, inputs: RatingInputs, ends: Ends, trail: Trail
) -> list[list[PartFigures]]:
    """The figures of the parts of each channel, coverage lowered where series wiring hides faults."""
    found: list[list[PartFigures]] = []
    for channel in needed(f"channels of {name}", subsystem.channels):
        parts = [part_figures(part, inputs.parts[part], inputs.edition, ends, trail) for part in channel]
        kept = [part for part in parts if part is not None]
        if not kept:
            raise RatingError(
                f"{name}: every part of channel {len(found) + 1} is left out by fault exclusion; "
                "at least one part with an MTTFd is needed"
            )
        masked = [_masked(part, subsystem.series_guards, trail) for part in kept]
        found.append([_limited(part, subsystem.coverage_at_most, trail) for part in masked])
    return found


def _masked(part: PartFigures, series: SeriesGuards | None, trail: Trail) -> PartFigures:
    if series is None or part.name not in series.switches:
        return part
    allowed = masking_dc_class(series.frequent, series.others)
    if allowed == "high":
        return part
    floor = trail.note(
        f"{part.name}: coverage with {series.frequent} + {series.others} guards in series",
        f"class {allowed} at most",
        {},
        min(part.dc, DC_FLOOR[allowed]),
        source="ISO/TR 24119:2015, Table 1",
        mark=Mark.FROM_MEMORY,
    )
    return replace(part, dc=floor)


def _limited(part: PartFigures, at_most: str | None, trail: Trail) -> PartFigures:
    if at_most is None:
        return part
    floor = trail.note(
        f"{part.name}: coverage, class {at_most} at most by the layout of the guards",
        "min(dc, least)",
        {"dc": part.dc, "least": DC_FLOOR[at_most]},
        min(part.dc, DC_FLOOR[at_most]),
        source="ISO/TR 24119:2015, Table 1",
        mark=Mark.FROM_MEMORY,
    )
    return replace(part, dc=floor)


def _mttfd(
    name: str, category: str, channels: list[list[PartFigures]], edition: Edition, trail: Trail
) -> float:
    capped = [
        _channel(f"{name} channel {i}", category, parts, edition, trail)
        for i, parts in enumerate(channels, 1)
    ]
    if len(capped) == 1:
        return capped[0]
    return trail.note(
        f"{name}: MTTFd of each channel, symmetrised",
        "2 / 3 * (M1 + M2 - 1 / (1 / M1 + 1 / M2))",
        {"M1": capped[0], "M2": capped[1]},
        mttfd_symmetrised(capped[0], capped[1], category=category),
        unit="years",
        source=clause(edition, "symmetrised"),
    )


def _channel(title: str, category: str, parts: list[PartFigures], edition: Edition, trail: Trail) -> float:
    numbers = {f"M{i}": part.mttfd for i, part in enumerate(parts, 1)}
    years = trail.note(
        f"{title}: MTTFd",
        f"1 / ({' + '.join(f'1 / {short}' for short in numbers)})",
        numbers,
        mttfd_series(part.mttfd for part in parts),
        unit="years",
        source=clause(edition, "series"),
    )
    return trail.note(
        f"{title}: MTTFd with the cap of category {category}",
        "min(M, cap)",
        {"M": years, "cap": mttfd_cap(category)},
        mttfd_capped(years, category),
        unit="years",
        source=clause(edition, "cap"),
    )


def _best_mttfd(parts: list[PartFigures], category: str) -> float:
    return mttfd_capped(mttfd_series(max(part.mttfd, part.mttfd_other) for part in parts), category)


def _coverage(name: str, parts: list[PartFigures], edition: Edition, ends: Ends, trail: Trail) -> float:
    known = [(part.dc, part.mttfd, part.mttfd_other) for part in parts]
    lives = extreme_mttfds(known, lowest=ends.pessimistic)
    numbers: dict[str, float] = {}
    for i, (part, years) in enumerate(zip(parts, lives, strict=True), 1):
        numbers |= {f"D{i}": part.dc, f"M{i}": years}
        if years != part.mttfd:
            title = f"{part.name}: MTTFd at the end of its range that makes the average coverage "
            title += "least" if ends.pessimistic else "greatest"
            source = f"{clause(edition, 'dc')}; a well-tested part weighs less the longer it lives"
            trail.note(
                title,
                "as its MTTFd, from the other ends of its range",
                {},
                years,
                unit="years",
                source=source,
            )
    tops = " + ".join(f"D{i} / M{i}" for i in range(1, len(parts) + 1))
    bottoms = " + ".join(f"1 / M{i}" for i in range(1, len(parts) + 1))
    average = trail.note(
        f"{name}: average diagnostic coverage",
        f"({tops}) / ({bottoms})",
        numbers,
        dc_average([(part.dc, years) for part, years in zip(parts, lives, strict=True)]),
        source=clause(edition, "dc"),
    )
    shown = {"DCavg": average}
    trail.note(
        f"{name}: class of coverage",
        "class of DCavg: from 0.60 low, 0.90 medium, 0.99 high",
        shown,
        dc_class(average),
        source=clause(edition, "dc_class"),
    )
    return average


def _ccf(name: str, subsystem: Subsystem, edition: Edition, trail: Trail) -> int:
    score = ccf_score(subsystem.ccf)
    if subsystem.category in ("2", "3", "4"):
        points = {measure: float(MEASURES[measure].points) for measure in subsystem.ccf}
        title = f"{name}: points against common cause, {ENOUGH} needed"
        trail.note(title, " + ".join(points) or "0", points, score, source=clause(edition, "ccf"))
    return score


def _test(subsystem: Subsystem) -> CategoryTest | None:
    if subsystem.test is None:
        return None
    test = subsystem.test
    return CategoryTest(test.on_demand_in_time, test.tests_per_demand, test.test_channel_mttfd_years)


def _level(name: str, category: str, figures: _Figures, edition: Edition, trail: Trail) -> tuple[float, str]:
    cell = pfhd_cell(category, figures.mttfd, dc_class(figures.dc))
    trail.note(
        f"{name}: PFHd of category {category}",
        f"row {cell.mttfd:g} years, at or below M",
        {"M": figures.mttfd},
        cell.pfhd,
        unit="1/h",
        source=clause(edition, "table"),
        mark=cell.mark,
    )
    level = performance_level(cell.pfhd)
    return cell.pfhd, trail.note(
        f"{name}: level",
        f"band of PFHd: {BANDS}",
        {"PFHd": cell.pfhd},
        level,
        source=clause(edition, "level"),
    )


def _as_rated(name: str, subsystem: Subsystem, ends: Ends, trail: Trail) -> SubsystemRating:
    source = needed(f"source of {name}", subsystem.source)
    level = trail.note(
        f"{name}: level", "as rated", {}, needed("pl", subsystem.pl), source=source, mark=Mark.GIVEN
    )
    rate = None
    if subsystem.pfhd_per_h is not None:
        stated = ends.value(f"{name}.pfhd_per_h", subsystem.pfhd_per_h)
        rate = trail.note(f"{name}: PFHd", "as rated", {}, stated, unit="1/h", source=source, mark=Mark.GIVEN)
    return SubsystemRating(name, None, None, None, None, level, rate, (), True, ())


def _cautions(parts: Mapping[str, Part]) -> tuple[str, ...]:
    found = []
    for name, part in parts.items():
        if part.dc_measure is not None and COVERAGE[part.dc_measure].caution:
            measure = part.dc_measure.replace("_", " ")
            found.append(f"{name}, coverage by {measure}: {COVERAGE[part.dc_measure].caution}.")
        if part.typical is not None and TYPICAL[part.typical].only_if:
            kind = part.typical.replace("_", " ")
            found.append(f"{name}, typical value ({kind}): only if {TYPICAL[part.typical].only_if}.")
        if part.operations is not None and part.operations.decides == "counted" and not is_counted(part):
            found.append(
                f"{name}: the counts of its device are to decide how often it is used, and none was given; the number "
                f"stated was used ({part.operations.source})."
            )
        if part.fault_exclusion is not None:
            found.append(
                f"{name}: fault exclusion to be justified in the fault list; not for wear at level e."
            )
    return tuple(found)
