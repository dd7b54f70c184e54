"""What no log of this bench can show, so that each result says it: a note changes no verdict."""

from collections.abc import Iterator

from interlock.replay.observation import Observation
from interlock.replay.starting import starters

__all__ = ["notes_of"]


def notes_of(seen: Observation) -> Iterator[str]:
    """One sentence for each such limit of this bench."""
    required = seen.bench.required
    for unit in required.effects.torque_off.of:
        if seen.is_bridged(unit) and f"{unit}.enabled" in seen.shows.states:
            yield (
                f"The torque-off inputs of the {seen.device_name(unit)} are bridged, so its enable line is not judged;"
                " its torque is."
            )
    if not any(track is not None for _, track in starters(seen)):
        stated = required.effects.references_zero
        shown = stated is not None and f"{stated.of}.set" in seen.tracks
        anew = ", the references being set anew," if shown else ""
        soonest = f"{required.restart.no_sooner_than / 1e6:g} ms"
        yield (
            f"The bench file shows no start button: torque that comes {soonest} or more after a reset{anew} counts as"
            " started by a person. Watch at the bench that reset starts nothing; if there is a start button, log it"
            " and add it under shows, states."
        )
