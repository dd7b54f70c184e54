"""The same function by IEC 62061: dangerous failures an hour of each subsystem, and the SIL they may claim."""

from collections.abc import Collection, Mapping, Sequence
from math import fsum
from typing import NamedTuple

from interlock.errors import RatingError
from interlock.rating.ends import Ends
from interlock.rating.iec62061 import (
    beta_from_score,
    lambda_from_mttfd,
    pfh_a,
    pfh_b,
    pfh_c,
    pfh_d,
    sil_limit,
    sil_of_pfh,
)
from interlock.rating.iec62061_ccf import MEASURES_62061, ccf_points
from interlock.rating.inputs import Function, RatingInputs
from interlock.rating.inputs_subsystem import Iec62061, Subsystem
from interlock.rating.iso13849 import category_name, dc_average, extreme_mttfds
from interlock.rating.rate_part import PartFigures
from interlock.rating.rate_subsystem import channel_figures
from interlock.rating.result import Judgement
from interlock.rating.step import Mark, Trail
from interlock.rating.values import HOURS_PER_YEAR, needed
from interlock.verdict import Verdict

__all__ = ["judge_sil", "sil_of_function"]

_STANDARD = "IEC 62061:2021"
_ABOUT = "safety integrity level"
_LIMITS = {1: "none, 1, 2, 3", 2: "1, 2, 3, 3"}  # by channels
_CHANNELS = {"A": 1, "B": 2, "C": 1, "D": 2}


class _Claim(NamedTuple):
    pfh: float
    limit: int


def sil_of_function(function: Function, inputs: RatingInputs, ends: Ends, trail: Trail) -> int:
    """The SIL that the function reaches: band of the summed PFH, at most the lowest limit of any subsystem.

    RatingError says which subsystem may claim nothing, and why.
    """
    claims = [
        _subsystem(name, subsystem, needed(f"iec62061 of {name}", subsystem.iec62061), inputs, ends, trail)
        for name, subsystem in function.subsystems.items()
    ]
    numbers = {f"P{i}": claim.pfh for i, claim in enumerate(claims, 1)}
    total = trail.note(
        "function: PFH",
        " + ".join(numbers),
        numbers,
        fsum(numbers.values()),
        unit="1/h",
        source=_STANDARD,
        mark=Mark.FROM_MEMORY,
    )
    level = min([sil_of_pfh(total), *(claim.limit for claim in claims)])
    limits = {"PFH": total, "limit": float(min(claim.limit for claim in claims))}
    trail.note(
        "function: SIL",
        "band of PFH (SIL 3 below 1e-7, 2 below 1e-6, 1 below 1e-5), at most the limit",
        limits,
        level,
        source=_STANDARD,
        mark=Mark.FROM_MEMORY,
    )
    return level


def judge_sil(
    function: Function,
    inputs: RatingInputs,
    carried: Mapping[str, Collection[object] | None],
    unrated: Sequence[str] | None,
    worse: Ends,
    better: Ends,
    trail: Trail,
) -> Judgement:
    """The required SIL against what is reached at the pessimistic and at the optimistic end of the inputs.

    `carried`: by subsystem the categories that its structure was shown to support (None: not examined). Two
    channels are believed only where that is category 3 or 4. `unrated`: why the subsystems do not cover the chain;
    None: nobody has examined it.
    """
    required = needed("required_sil", function.required_sil)
    if unrated:
        text = f"SIL {required} required; the claim is refused: {'; '.join(unrated)}."
        return Judgement(_ABOUT, Verdict.FAIL, _STANDARD, text)
    bridged, unseen = _doubtful(function, carried)
    if bridged:
        text = f"the structure as wired does not carry two channels in {', '.join(bridged)}: the claim is refused"
        return Judgement(_ABOUT, Verdict.FAIL, _STANDARD, f"SIL {required} required; {text}.")
    low, why = _attempt(function, inputs, worse, trail)
    high, _ = _attempt(function, inputs, better, Trail())
    verdict = Verdict.PASS if low >= required else Verdict.INCONCLUSIVE if high >= required else Verdict.FAIL
    reached = f"SIL {low} reached" if low else f"no SIL reached: {why}"
    doubts = [f"the two channels of {', '.join(unseen)} were not shown"] if unseen else []
    if unrated is None:
        doubts.append("that the subsystems cover the whole chain was not shown")
    if verdict is Verdict.PASS and doubts:
        verdict, reached = Verdict.INCONCLUSIVE, f"{reached}, but {' and '.join(doubts)}"
    return Judgement(_ABOUT, verdict, _STANDARD, f"SIL {required} required, {reached}.")


def _doubtful(
    function: Function, carried: Mapping[str, Collection[object] | None]
) -> tuple[list[str], list[str]]:
    """Subsystems that claim two channels although the structure has not, and those nobody has examined."""
    bridged, unseen = [], []
    for name, subsystem in function.subsystems.items():
        if subsystem.iec62061 is None or subsystem.iec62061.architecture not in ("B", "D"):
            continue
        support = carried.get(name)
        if support is None:
            unseen.append(name)
        elif not {"3", "4"} & set(map(category_name, support)):
            bridged.append(name)
    return bridged, unseen


def _attempt(function: Function, inputs: RatingInputs, ends: Ends, trail: Trail) -> tuple[int, str]:
    try:
        return sil_of_function(function, inputs, ends, trail), ""
    except RatingError as error:
        return 0, str(error)


def _subsystem(
    name: str, subsystem: Subsystem, how: Iec62061, inputs: RatingInputs, ends: Ends, trail: Trail
) -> _Claim:
    if how.architecture is None:
        stated = ends.value(f"{name}.pfh_per_h", needed(f"pfh_per_h of {name}", how.pfh_per_h))
        source = subsystem.source or "as rated by the maker"
        trail.note(f"{name}: PFH", "as rated", {}, stated, unit="1/h", source=source, mark=Mark.GIVEN)
        return _Claim(stated, needed(f"sil of {name}", how.sil))
    channels = channel_figures(name, subsystem, inputs, ends, Trail())
    wanted = _CHANNELS[how.architecture]
    if len(channels) != wanted:
        raise RatingError(
            f"{name}: architecture {how.architecture} has {wanted} channel(s), {len(channels)} given"
        )
    rate = _pfh(name, how, channels, inputs.mission_time_years * HOURS_PER_YEAR, ends, trail)
    fraction = trail.note(
        f"{name}: safe failure fraction",
        "as stated" if how.safe_failure_fraction else "no safe failures counted: least coverage of a channel",
        {},
        _safe_fraction(name, how, channels, ends),
        source="bench description" if how.safe_failure_fraction else _STANDARD,
        mark=Mark.GIVEN if how.safe_failure_fraction else Mark.FROM_MEMORY,
    )
    limit = sil_limit(fraction, wanted - 1)
    trail.note(
        f"{name}: SIL limit of the structure",
        f"for F from 0, 0.60, 0.90, 0.99 at hardware fault tolerance {wanted - 1}: {_LIMITS[wanted]}",
        {"F": fraction},
        limit,
        source=f"{_STANDARD}, Table 6",
        mark=Mark.FROM_MEMORY,
    )
    return _Claim(rate, limit)


def _pfh(
    name: str, how: Iec62061, channels: list[list[PartFigures]], lifetime_h: float, ends: Ends, trail: Trail
) -> float:
    if how.architecture in ("A", "C"):
        return _single(name, how, channels[0], trail)
    lives = [part.t10d * HOURS_PER_YEAR for channel in channels for part in channel if part.t10d is not None]
    times = {"T": needed(f"proof_test_h of {name}", how.proof_test_h), "mission": lifetime_h}
    times |= {f"T10d{i}": life for i, life in enumerate(lives, 1)}
    t1 = trail.note(
        f"{name}: T1, the shorter of proof-test interval and useful life",
        f"min({', '.join(times)})",
        times,
        min(times.values()),
        unit="h",
        source="IEC 62061:2005, 6.7.8.2; 2021, Annex H",
        mark=Mark.FROM_MEMORY,
    )
    return _double(name, how, channels, t1, ends, trail)


def _single(name: str, how: Iec62061, parts: list[PartFigures], trail: Trail) -> float:
    rates = {f"L{i}": _rate(part.name, [part], trail) for i, part in enumerate(parts, 1)}
    if how.architecture == "A":
        return _noted(trail, name, how, " + ".join(rates), rates, pfh_a(rates.values()))
    covers = {f"D{i}": part.dc for i, part in enumerate(parts, 1)}
    terms = " + ".join(f"{rate} * (1 - {dc})" for rate, dc in zip(rates, covers, strict=True))
    result = pfh_c(zip(rates.values(), covers.values(), strict=True))
    return _noted(trail, name, how, terms, rates | covers, result)


def _double(
    name: str, how: Iec62061, channels: list[list[PartFigures]], t1: float, ends: Ends, trail: Trail
) -> float:
    l1, l2 = (_rate(f"{name} channel {i}", channel, trail) for i, channel in enumerate(channels, 1))
    beta = _beta(name, how, ends, trail)
    numbers = {"L1": l1, "L2": l2, "beta": beta, "T1": t1}
    common = "beta * (L1 + L2) / 2"
    if how.architecture == "B":
        formula = f"(1 - beta) ** 2 * L1 * L2 * T1 + {common}"
        return _noted(trail, name, how, formula, numbers, pfh_b(l1, l2, beta, t1))
    d1, d2 = (
        _weighed_coverage(f"{name} channel {i}", channel, trail) for i, channel in enumerate(channels, 1)
    )
    t2 = needed(f"diagnostic_test_h of {name}", how.diagnostic_test_h)
    numbers |= {"D1": d1, "D2": d2, "T2": t2}
    formula = f"(1 - beta) ** 2 * L1 * L2 * ((D1 + D2) * T2 / 2 + (2 - D1 - D2) * T1 / 2) + {common}"
    return _noted(trail, name, how, formula, numbers, pfh_d(l1, l2, d1, d2, beta, t1, t2))


def _rate(title: str, parts: list[PartFigures], trail: Trail) -> float:
    """Dangerous failures an hour of parts in series."""
    years = {f"M{i}": part.mttfd for i, part in enumerate(parts, 1)}
    return trail.note(
        f"{title}: dangerous failures an hour",
        " + ".join(f"1 / (8760 * {short})" for short in years),
        years,
        fsum(lambda_from_mttfd(part.mttfd) for part in parts),
        unit="1/h",
        source="constant rates, 8760 hours a year",
        mark=Mark.COMPUTED,
    )


def _beta(name: str, how: Iec62061, ends: Ends, trail: Trail) -> float:
    """As stated, or by the measures taken."""
    if how.ccf is None:
        return ends.value(f"{name}.beta", needed(f"beta of {name}", how.beta))
    points = {measure: float(MEASURES_62061[measure].points) for measure in how.ccf}
    score = trail.note(
        f"{name}: points against common cause by IEC 62061",
        " + ".join(points) if sum(points.values()) <= 100 else f"min(100, {' + '.join(points)})",
        points,
        ccf_points(how.ccf, how.ccf_without),
        source=f"{_STANDARD}, Table E.1",
        mark=Mark.FROM_MEMORY,
    )
    return trail.note(
        f"{name}: common-cause factor",
        "factor for P points: below 35 0.10, to 65 0.05, to 85 0.02, above 0.01",
        {"P": score},
        beta_from_score(score),
        source=f"{_STANDARD}, Table E.2",
        mark=Mark.FROM_MEMORY,
    )


def _weighed_coverage(title: str, parts: list[PartFigures], trail: Trail) -> float:
    """Coverage of a channel; the PFH rises with each rate, so here the coverage at the same rates is right."""
    rates = [lambda_from_mttfd(part.mttfd) for part in parts]
    numbers: dict[str, float] = {}
    for i, part in enumerate(parts, 1):
        numbers |= {f"D{i}": part.dc, f"M{i}": part.mttfd}
    places = range(1, len(parts) + 1)
    tops, bottoms = " + ".join(f"D{i} / M{i}" for i in places), " + ".join(f"1 / M{i}" for i in places)
    return trail.note(
        f"{title}: coverage, weighed by failures",
        f"({tops}) / ({bottoms})",
        numbers,
        fsum(rate * part.dc for rate, part in zip(rates, parts, strict=True)) / fsum(rates),
        source="share of the failures that are detected, elementary",
        mark=Mark.COMPUTED,
    )


def _noted(
    trail: Trail, name: str, how: Iec62061, formula: str, numbers: dict[str, float], result: float
) -> float:
    title = f"{name}: PFH of architecture {how.architecture}"
    return trail.note(
        title,
        formula,
        numbers,
        result,
        unit="1/h",
        source="IEC 62061:2005, 6.7.8.2; 2021, Annex H",
        mark=Mark.FROM_MEMORY,
    )


def _safe_fraction(name: str, how: Iec62061, channels: list[list[PartFigures]], ends: Ends) -> float:
    """As stated, else the least it can be: without safe failures it is the coverage of the worst channel."""
    if how.safe_failure_fraction is not None:
        return ends.value(f"{name}.safe_failure_fraction", how.safe_failure_fraction)
    return min(_channel_coverage(channel, ends) for channel in channels)


def _channel_coverage(channel: list[PartFigures], ends: Ends) -> float:
    known = [(part.dc, part.mttfd, part.mttfd_other) for part in channel]
    lives = extreme_mttfds(known, lowest=ends.pessimistic)
    return dc_average([(part.dc, years) for part, years in zip(channel, lives, strict=True)])
