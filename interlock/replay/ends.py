"""Sources that began later than the run, or ended earlier: where that takes nothing away from what is judged."""

from collections.abc import Sequence

from interlock.interval import Interval
from interlock.replay.attempts import Attempt
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.trace.model import Quality, QualityKind

__all__ = ["idle_ends"]


def idle_ends(seen: Observation, stops: Sequence[Stop], resets: Sequence[Attempt]) -> list[Quality]:
    """The doubts about ends of the run that a source did not record, and that count as if its record were shorter.

    The source shows no demand and no button. At the beginning no stop began meanwhile (one that is older than the run
    may have lasted) and reset was not used; at the end no stop lasted into the stretch.
    """
    return [
        doubt
        for doubt in seen.trace.quality
        if doubt.blinds
        and doubt.kind is QualityKind.NOT_RECORDED
        and not _decides(seen, doubt.message)
        and (_idle_begin if doubt.span.lo == 0 else _idle_end)(doubt.span, stops, resets)
    ]


def _decides(seen: Observation, message: str | None) -> bool:
    """Whether the message shows a demand or a button, or a demand is not shown at all."""
    required = seen.bench.required
    functions = required.functions.values()
    if any(one.demand not in seen.demands for one in functions):
        return True
    buttons = [required.reset.by, *(one.reset_by for one in functions)]
    buttons += [one.supply.on_by for one in functions if one.supply is not None]
    deciding = [
        *seen.demands.values(),
        *seen.selected.values(),
        *(seen.tracks.get(f"{button}.pressed") for button in buttons),
    ]
    return any(track is not None and track.message == message for track in deciding)


def _idle_begin(span: Interval, stops: Sequence[Stop], resets: Sequence[Attempt]) -> bool:
    used = (one.release.when.lo if one.press is None else one.press.when.lo for one in resets)
    begun = (one.onset.lo for one in stops if one.demand is not None)
    return span.hi is not None and all(instant > span.hi for instant in (*used, *begun))


def _idle_end(span: Interval, stops: Sequence[Stop], resets: Sequence[Attempt]) -> bool:
    ends = [one.window.end for one in stops]
    later = [one for one in resets if one.release.when.hi is None or one.release.when.hi >= span.lo]
    return not later and all(end is not None and end.hi is not None and end.hi < span.lo for end in ends)
