"""The logs of one run, of however many recorders, as one trace: read, chained, brought to one clock and joined."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from interlock.bench import Bench, dbc_path, described_messages
from interlock.bench.shows_models import Shows
from interlock.bench.sources import reference_of, sources_of
from interlock.errors import LogError
from interlock.interval import Interval
from interlock.replay.aligned import NotAligned, aligned
from interlock.replay.assigned import assigned
from interlock.replay.chained import Link, chained, go_on
from interlock.replay.expecting import expected_messages
from interlock.replay.joining import Part, cut_to, join
from interlock.replay.observation import Observation
from interlock.replay.stamps import late_stamps, silences
from interlock.trace import Expected, LogFile, Quality, QualityKind, Trace, load
from interlock.trace.gather import UndatedError
from interlock.trace.layout import layout_of

__all__ = ["gathered"]

_CLOCK_BROKEN: Final = frozenset({QualityKind.TIME_BACKWARDS, QualityKind.TIME_RELATIVE})
_WHOLE: Final = Interval(0, None)


@dataclass(frozen=True)
class _Run:
    """What reading needs to know of the bench."""

    bench_file: Path
    bench: Bench
    shows: Shows

    def expected(self, source: str) -> list[Expected]:
        return expected_messages(self.shows, source)

    def load(self, source: str, files: Sequence[LogFile], *, one_zero: bool = False) -> Trace:
        """The trace of files that share a clock, of that source."""
        described = [layout_of(message) for message in described_messages(self.bench_file, self.bench)]
        dbc, messages = dbc_path(self.bench_file, self.bench), self.expected(source)
        return load(
            list(files), dbc, messages=messages, one_zero=one_zero, described=described, keep=self.named
        )

    @property
    def named(self) -> set[str]:
        """The signals that the bench speaks of, as MESSAGE.SIGNAL: what is judged, and what tells the clocks."""
        clocks = [one.clock for one in self.shows.sources.values() if one.clock is not None]
        edges = [part for clock in clocks for edge in clock.edges for part in (edge.here, edge.there)]
        conditions = [*self.shows.states.values(), *edges]
        named = [one.name for condition in conditions for one in condition.comparisons]
        return {str(one) for one in (*named, *self.shows.values.values())}

    def doubts(self, source: str, place: str, sentence: str, kind: QualityKind) -> Iterator[Quality]:
        """One about each message of the source that is evidence, over the whole run."""
        for one in self.expected(source):
            yield Quality(kind, one.message, None, _WHOLE, place, blinds=True, sentence=sentence)


def gathered(bench_file: Path, bench: Bench, logs: Sequence[Path]) -> Trace:
    """The trace of one run from its logs, each of a source of the bench, with every doubt about it.

    Raises LogError if a file cannot be read, or is of no source or of several. A clock that cannot be told leaves
    its source out, and what that source should have shown in doubt.
    """
    shows = bench.shows
    if shows is None:
        dbc_path(bench_file, bench)  # raises
        raise LogError(f"{bench_file}: nothing is said of its logs")
    run = _Run(bench_file, bench, shows)
    traces = {name: _of_source(run, name, files) for name, files in assigned(shows, logs).items()}
    traces = _own_messages(run, traces)
    reference = _reference(shows, traces)
    if len(sources_of(shows)) == 1:
        return traces[reference]
    parts, lost = _parts(run, traces, reference)
    absent = [name for name in shows.sources if name not in traces]
    for name in absent:
        sentence = (
            f"No log of the source {name} is given: add its file, as {name}=FILE if it is not recognised."
        )
        lost += run.doubts(name, "the whole run", sentence, QualityKind.MISSING)
    held = {name for name, source in shows.sources.items() if source.changes_only}
    joined = cut_to(traces[reference], join(parts, expected_messages(shows)), held)
    return replace(joined, quality=(*joined.quality, *lost))


def _reference(shows: Shows, traces: Mapping[str, Trace]) -> str:
    """The source by whose clock all is told; if only one has logs, that one."""
    reference = reference_of(shows)
    if reference in traces:
        return reference
    if len(traces) == 1:
        return next(iter(traces))
    raise LogError(
        f"no log of the source {reference} is given, by whose clock the others are told: add its file, "
        f"as {reference}=FILE if it is not recognised"
    )


def _parts(run: _Run, traces: Mapping[str, Trace], reference: str) -> tuple[list[Part], list[Quality]]:
    """The traces with their clocks, the reference first; and what those without a clock leave in doubt."""
    seen = {name: _seen(run, trace) for name, trace in traces.items()}
    parts, lost = [Part(traces[reference])], list[Quality]()
    for name, trace in traces.items():
        stated = run.shows.sources[name].clock
        if name == reference or stated is None:
            continue
        try:
            for one in (reference, name):
                _refuse_broken(run, one, traces[one])
            parts.append(Part(trace, aligned(stated, seen[name], seen[reference])))
        except NotAligned as error:
            sentence = (
                f"How the clock of the source {name} compares with that of {reference} is not known: {error}."
            )
            lost += run.doubts(name, trace.sources[0].path, sentence, QualityKind.TIME_RELATIVE)
            parts[0] = Part(_beside(parts[0].trace, trace))
    return parts, lost


def _seen(run: _Run, trace: Trace) -> Observation:
    """The trace with the doubts about late stamps: an edge stamped late must not tell the clock."""
    quality = (*trace.quality, *late_stamps(trace, run.shows))
    return Observation(run.bench, run.shows, replace(trace, quality=quality))


def _refuse_broken(run: _Run, name: str, trace: Trace) -> None:
    """NotAligned if the clock of a source may have been set while it recorded: then no one offset holds."""
    for doubt in trace.quality:
        if doubt.blinds and doubt.message is None and doubt.kind in _CLOCK_BROKEN:
            raise NotAligned(f"the clock of {name} is in doubt, {doubt.place}: {doubt.sentence.rstrip('.')}")
    for silence in silences(trace, run.shows):
        at, most = silence.lo / 1e9, ((silence.hi or 0) - silence.lo) / 1e6
        raise NotAligned(
            f"{name} recorded nothing for {most:.1f} ms at {at:.3f} s of its record, so its clock may have been set"
        )


def _beside(reference: Trace, left_out: Trace) -> Trace:
    """The reference, with the files of a source that is left out listed among its own."""
    return replace(reference, sources=(*reference.sources, *left_out.sources))


def _own_messages(run: _Run, traces: Mapping[str, Trace]) -> dict[str, Trace]:
    """Of each source the messages that it is the source of; of those that the bench does not name, the first."""
    taken: set[str] = set()
    kept: dict[str, Trace] = {}
    for name, trace in traces.items():
        named = {one.message for one in run.expected(name)}
        others = {one.message for one in expected_messages(run.shows)} - named
        messages = {key: times for key, times in trace.messages.items() if key not in others | taken}
        taken |= set(messages)
        signals = {key: one for key, one in trace.signals.items() if one.message in messages}
        quality = tuple(
            one for one in trace.quality if one.message is None or one.message in {*messages, *named}
        )
        kept[name] = replace(trace, messages=messages, signals=signals, quality=quality)
    return kept


def _of_source(run: _Run, name: str, files: Sequence[LogFile]) -> Trace:
    """The trace of one recorder from its files."""
    source = sources_of(run.shows)[name]
    stated = source.parts
    pause = None if stated is None else stated.pause
    if len(files) == 1:
        return run.load(name, files)
    if pause is None and not source.sampled:
        try:
            return run.load(name, files, one_zero=stated is not None)
        except UndatedError:
            pass  # not an error yet: file by file it may show how they go on
    traces = [run.load(name, [file]) for file in files]
    if pause is not None:
        return _after_pauses(run, name, traces, Interval(pause.least, pause.most))
    return _by_stamps(run, name, traces, told=stated is not None)


def _by_stamps(run: _Run, name: str, traces: Sequence[Trace], *, told: bool) -> Trace:
    """Parts that bear dates, or whose stamps go on as it is `told` or as they show themselves."""
    ordered = sorted(traces, key=lambda trace: trace.start_ns)
    dated = all(trace.absolute for trace in traces)
    alike = dated or not any(trace.absolute for trace in traces)
    gap_ns = min((one.max_gap_ns for one in run.expected(name)), default=0)
    if not alike or not _follow(ordered) or not (dated or told or go_on(ordered, gap_ns)):
        return _first_only(run, name, traces)
    offsets = [trace.start_ns - ordered[0].start_ns for trace in ordered]
    links = [Link(trace, Interval(offset, offset)) for trace, offset in zip(ordered, offsets, strict=True)]
    whole = chained(links, _by_name(run, name))
    if dated or told:
        return whole
    note = f"the stamps of {len(traces)} files without a date go on from file to file: read as one record"
    return replace(whole, notes=(*whole.notes, note))


def _follow(traces: Sequence[Trace]) -> bool:
    """Whether no part begins before the one before it ended."""
    ends = [trace.start_ns + trace.end_ns for trace in traces]
    return all(end <= later.start_ns for end, later in zip(ends, traces[1:], strict=False))


def _by_name(run: _Run, name: str) -> dict[str, Expected]:
    return {one.message: one for one in run.expected(name)}


def _after_pauses(run: _Run, name: str, traces: Sequence[Trace], pause: Interval) -> Trace:
    """Parts in the order in which they are given, each beginning a pause after the end of the one before."""
    links, offset = [], Interval(0, 0)
    for trace in traces:
        links.append(Link(trace, offset))
        offset = offset.shift(Interval(trace.end_ns, trace.end_ns)).shift(pause)
    order = ", then ".join(trace.sources[0].path for trace in traces)
    whole = chained(links, _by_name(run, name))
    return replace(
        whole, notes=(*whole.notes, f"parts in the order given, each a stated pause later: {order}")
    )


def _first_only(run: _Run, name: str, traces: Sequence[Trace]) -> Trace:
    """The first file; how the others lie beside it nobody says, so nothing of the source proves anything."""
    first, others = traces[0], traces[1:]
    entry = (
        f"under shows, sources, {name}"
        if run.shows.sources
        else "under shows, sources (a source of 'kind: can')"
    )
    sentence = (
        f"How its stamps continue those of {first.sources[0].path} is not known: state in the bench file, {entry}, "
        "'parts: {stamps: go_on}' if they count on, or 'begin_anew' with the pause between the files; two recorders of "
        "one run are two sources, one of them with a 'clock'."
    )
    place = others[0].sources[0].path
    doubts = run.doubts(name, place, sentence, QualityKind.TIME_RELATIVE)
    sources = tuple(source for trace in traces for source in trace.sources)
    return replace(first, sources=sources, quality=(*first.quality, *doubts))
