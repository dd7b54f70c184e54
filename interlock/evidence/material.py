"""What a report is made of: the results' own JSON, read into typed rows and checked against itself."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from interlock.chain import Story
from interlock.errors import EvidenceError
from interlock.evidence.fields import Fields
from interlock.evidence.rating_rows import Rating, no_better, read_rating_part
from interlock.evidence.story_rows import Step, read_steps, read_story
from interlock.interval import Interval
from interlock.verdict import Verdict, worst

__all__ = ["Demand", "Finding", "Material", "Picture", "Property", "Quality", "ReportMaterial", "read"]


@dataclass(frozen=True, slots=True)
class ReportMaterial:
    """Everything that a report may say; the report adds nothing to it and leaves nothing out.

    `check`, `replay` and `rating` are the documents that the verbs of these names (`rate`) print with `--json`; None
    where that work was not done. Without check or replay the report says so, and its verdict is no pass, unless it
    is a report of the rating alone.
    """

    bench: Mapping[str, Any]  # id, name, place, fingerprint, ratings, functions
    check: Mapping[str, Any] | None
    replay: Mapping[str, Any] | None
    inputs: Sequence[Mapping[str, Any]]  # path, sha256, role
    software: str
    demo: bool = False  # marks each page; only a demo key may sign such a report
    remarks: str = ""
    rating: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """One judged effect of one demand."""

    number: int
    function: str
    subject: str
    effect: str
    verdict: Verdict
    demand: Interval | None
    latency: Interval | None
    limit_ns: int | None
    requirement: str
    source: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A sampled signal around a demand; None marks a missing value."""

    label: str
    unit: str
    times_ns: tuple[int, ...]
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Demand:
    """One demand seen in the log."""

    number: int
    function: str
    device: str
    onset: Interval | None
    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True)
class Quality:
    """A place where the data are missing, stale, frozen, torn or out of order."""

    kind: str
    about: str
    span: Interval | None
    place: str
    blinds: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Property:
    """One property of the chain as built, with the acts that break it."""

    id: str
    function: str
    title: str
    verdict: Verdict
    sentence: str
    requirement: str
    source: str
    steps: tuple[Step, ...]
    story: Story | None


@dataclass(frozen=True, slots=True)
class Material:
    """The material read and found consistent."""

    raw: ReportMaterial
    bench: Fields
    check: Fields | None
    replay: Fields | None
    properties: tuple[Property, ...]
    demands: tuple[Demand, ...]
    findings: tuple[Finding, ...]
    quality: tuple[Quality, ...]
    rating: Rating | None

    @property
    def chain_verdict(self) -> Verdict:
        """Verdict on the chain as built; not observed if it was not checked."""
        return Verdict.NOT_OBSERVED if self.check is None else self.check.verdict()

    @property
    def trace_verdict(self) -> Verdict:
        """Verdict on the recorded traces; not observed if none was judged."""
        return Verdict.NOT_OBSERVED if self.replay is None else self.replay.verdict()

    @property
    def is_rating_alone(self) -> bool:
        """Whether the report is of a rating and nothing else."""
        return self.rating is not None and self.check is None and self.replay is None

    @property
    def verdict(self) -> Verdict:
        """The worst of chain, traces and, where there is one, rating; of a rating alone the rating's."""
        rated = [] if self.rating is None else [self.rating.verdict]
        return worst(rated if self.is_rating_alone else [self.chain_verdict, self.trace_verdict, *rated])


def read(raw: ReportMaterial) -> Material:
    """The material as typed rows.

    Raises EvidenceError for an entry that is missing or of a wrong kind, for results of another bench than
    the one named, and for an overall verdict that is better than the worst of its parts.
    """
    bench = Fields.of(raw.bench, "bench")
    for key in ("id", "name", "fingerprint"):
        bench.need(key)
    check = None if raw.check is None else Fields.of(raw.check, "check")
    replay = None if raw.replay is None else Fields.of(raw.replay, "replay")
    rating = None if raw.rating is None else Fields.of(raw.rating, "rating")
    if rating is not None:
        _same_bench(bench, rating)
    properties = () if check is None else tuple(map(_property, check.objects("properties")))
    findings = () if replay is None else tuple(map(_finding, enumerate(replay.objects("findings"), 1)))
    for part, rows in ((check, properties), (replay, findings)):
        if part is not None:
            _same_bench(bench, part)
            no_better(part.where, part.verdict(), [row.verdict for row in rows])
    if replay is not None:
        _listed(replay, raw.inputs)
    return Material(
        raw=raw,
        bench=bench,
        check=check,
        replay=replay,
        properties=properties,
        demands=() if replay is None else tuple(map(_demand, enumerate(replay.objects("demands"), 1))),
        findings=findings,
        quality=() if replay is None else tuple(map(_quality, replay.objects("quality"))),
        rating=None if rating is None else read_rating_part(rating),
    )


def _same_bench(bench: Fields, part: Fields) -> None:
    said = part.text("fingerprint")
    if "bench" in part:
        said = said or Fields.of(part.get("bench"), f"{part.where}.bench").text("fingerprint")
    if said and said != bench.text("fingerprint"):
        raise EvidenceError(
            f"{part.where}: its bench has the fingerprint {said}, the report's has "
            f"{bench.text('fingerprint')}; make the result anew from the same bench description"
        )


def _listed(replay: Fields, inputs: Sequence[Mapping[str, Any]]) -> None:
    """Every log that was judged is among the inputs, by its digest."""
    known = {item.get("sha256") for item in inputs}
    for source in replay.objects("sources"):
        if source.need("sha256") not in known:
            raise EvidenceError(
                f"{source.where}: the log {source.text('path')} was judged but is not among the inputs with "
                "that SHA-256; was it changed meanwhile? Make the results anew"
            )


def _property(row: Fields) -> Property:
    return Property(
        id=row.need("id"),
        function=row.text("function"),
        title=row.text("title") or row.need("id").replace("_", " "),
        verdict=row.verdict(),
        sentence=row.text("sentence"),
        requirement=row.text("requirement"),
        source=row.text("source"),
        steps=read_steps(row),
        story=read_story(row),
    )


def _finding(numbered: tuple[int, Fields]) -> Finding:
    number, row = numbered
    return Finding(
        number=number,
        function=row.need("function"),
        subject=row.text("subject"),
        effect=row.need("effect"),
        verdict=row.verdict(),
        demand=row.span("demand_ns"),
        latency=row.span("latency_ns"),
        limit_ns=row.number("limit_ns"),
        requirement=row.text("requirement"),
        source=row.text("source"),
        sentence=row.text("sentence"),
    )


def _demand(numbered: tuple[int, Fields]) -> Demand:
    number, row = numbered
    return Demand(
        number=number,
        function=row.need("function"),
        device=row.text("device"),
        onset=row.span("onset_ns"),
        pictures=tuple(map(_picture, row.objects("pictures"))),
    )


def _picture(row: Fields) -> Picture:
    times, values = row.items("times_ns"), row.items("values")
    if len(times) != len(values):
        raise EvidenceError(f"{row.where}: {len(times)} times but {len(values)} values; make the result anew")
    try:
        return Picture(
            label=row.text("label"),
            unit=row.text("unit"),
            times_ns=tuple(map(int, times)),
            values=tuple(map(_value, values)),
        )
    except (TypeError, ValueError) as error:
        raise EvidenceError(
            f"{row.where}: not a series of numbers ({error}); make the result anew"
        ) from error


def _value(value: Any) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _quality(row: Fields) -> Quality:
    return Quality(
        kind=row.text("kind"),
        about=".".join(filter(None, (row.loose("message"), row.loose("signal")))),
        span=row.span("span_ns"),
        place=row.loose("place"),
        blinds=row.loose("blinds"),
        sentence=row.text("sentence"),
    )
