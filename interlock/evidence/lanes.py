"""What a timing picture shows: lanes on a common axis of time, grouped so that each axis can be read."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from interlock.evidence.material import Demand, Finding, Picture
from interlock.interval import Interval

__all__ = ["Panel", "Series", "complete", "panels", "reach_ns", "settled_ns", "within"]

_LONGEST_TO_SHORTEST: Final = 10  # in one panel; beyond it the short lanes could not be read
_SETTLED: Final = 0.05  # of the whole swing


@dataclass(frozen=True, slots=True)
class Series:
    """A sampled signal cut to a panel; gaps (None) split it into pieces."""

    label: str
    unit: str
    is_state: bool  # only the values 0 and 1
    pieces: tuple[tuple[tuple[int, float], ...], ...]  # (ns from the panel's zero, value)


@dataclass(frozen=True, slots=True)
class Panel:
    """Lanes over one stretch of time, from zero (earliest onset) to `end_ns`."""

    end_ns: int
    findings: tuple[Finding, ...]
    series: tuple[Series, ...]


def complete(demands: Sequence[Demand], findings: Sequence[Finding]) -> list[tuple[Demand, list[Finding]]]:
    """Each demand with its findings; findings of a demand that is not listed get one made for them."""
    sorted_out = [(demand, [f for f in findings if _belongs(f, demand)]) for demand in demands]
    placed = {finding.number for _, group in sorted_out for finding in group}
    left: dict[tuple[str, Interval], list[Finding]] = {}
    for finding in findings:
        if finding.number not in placed and finding.demand is not None:
            left.setdefault((finding.function, finding.demand), []).append(finding)
    for (function, onset), group in left.items():
        sorted_out.append((Demand(len(sorted_out) + 1, function, "", onset, ()), group))
    return sorted_out


def _belongs(finding: Finding, demand: Demand) -> bool:
    return (
        finding.function == demand.function and finding.demand is not None and finding.demand == demand.onset
    )


def reach_ns(finding: Finding) -> int | None:
    """How far the lane of a finding must reach; None if it has nothing to draw."""
    if finding.latency is None:
        return finding.limit_ns
    top = finding.latency.lo if finding.latency.hi is None else finding.latency.hi
    return max(1, top, finding.limit_ns or 0)


def panels(onset: Interval, findings: Sequence[Finding], pictures: Sequence[Picture]) -> Iterator[Panel]:
    """The panels of one demand, shortest first; each signal goes to the first one in which it settles."""
    groups = list(_groups(findings))
    if not groups and pictures:
        groups = [((), _last_ns(onset, pictures))]
    waiting = list(pictures)
    for index, (group, end_ns) in enumerate(groups):
        is_last = index == len(groups) - 1
        here = [p for p in waiting if is_last or settled_ns(p, onset.lo) <= end_ns]
        waiting = [p for p in waiting if p not in here]
        yield Panel(end_ns, group, tuple(within(p, onset.lo, end_ns) for p in here))


def _groups(findings: Sequence[Finding]) -> Iterator[tuple[tuple[Finding, ...], int]]:
    drawn = sorted((reach, f.number, f) for f in findings if (reach := reach_ns(f)))
    group: list[Finding] = []
    shortest = longest = 0
    for reach, _, finding in drawn:
        if group and reach > shortest * _LONGEST_TO_SHORTEST:
            yield tuple(sorted(group, key=lambda f: f.number)), longest + longest // 12
            group = []
        shortest = shortest if group else reach
        group, longest = [*group, finding], reach
    if group:
        yield tuple(sorted(group, key=lambda f: f.number)), longest + longest // 12


def _last_ns(onset: Interval, pictures: Sequence[Picture]) -> int:
    return max([1, *(p.times_ns[-1] - onset.lo for p in pictures if p.times_ns)])


def settled_ns(picture: Picture, zero_ns: int) -> int:
    """When the signal is last seen away from its final value, counted from `zero_ns`."""
    samples = [(t, v) for t, v in zip(picture.times_ns, picture.values, strict=True) if v is not None]
    if not samples:
        return 0
    values = [value for _, value in samples]
    band = (max(values) - min(values)) * _SETTLED
    moving = [time for time, value in samples if abs(value - values[-1]) > band]
    return (moving[-1] - zero_ns) if moving else 0


def within(picture: Picture, zero_ns: int, end_ns: int) -> Series:
    """The part of a signal from a tenth of the panel before its zero to its end."""
    present = {value for value in picture.values if value is not None}
    parts: list[list[tuple[int, float]]] = [[]]
    for time_ns, value in zip(picture.times_ns, picture.values, strict=True):
        at = time_ns - zero_ns
        if value is None:
            parts.append([])
        elif -end_ns // 10 <= at <= end_ns:
            parts[-1].append((at, value))
    return Series(
        label=picture.label,
        unit=picture.unit,
        is_state=present <= {0.0, 1.0},
        pieces=tuple(tuple(part) for part in parts if part),
    )
