"""What no log of this bench can show, so that each result says it: a note changes no verdict."""

from collections.abc import Iterator

from interlock.bench.bridged import is_bridged
from interlock.bench.sources import sources_of
from interlock.replay.expecting import expected_messages
from interlock.replay.observation import Observation
from interlock.replay.starting import starters

__all__ = ["notes_of", "uncounted"]


def notes_of(seen: Observation) -> Iterator[str]:
    """One sentence for each such limit of this bench."""
    required = seen.bench.required
    for unit in required.effects.torque_off.of:
        if is_bridged(seen.bench, unit) and f"{unit}.enabled" in seen.shows.states:
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
    braking = [function.title for function in required.functions.values() if function.stop_category == 1]
    if braking:
        yield (
            "That a unit is braked before its torque goes, as stop category 1 asks, is not judged on logs, which show"
            f" only that torque is off in time ({'; '.join(braking)}): look at its speed in the log, and prove the"
            " wiring by 'interlock check'."
        )
    yield from uncounted(seen)


def uncounted(seen: Observation) -> Iterator[str]:
    """Recorders of which no message counts its frames: of those a cut need not show."""
    for source, one in sources_of(seen.shows).items():
        expected = expected_messages(seen.shows, source)
        if expected and not one.sampled and not one.changes_only and not any(each.alive for each in expected):
            whose = "" if len(sources_of(seen.shows)) == 1 else f" of source '{source}'"
            yield (
                f"No message{whose} counts its frames (alive): a piece cut out of the log that is as long as a whole"
                " number of all periods, to within what the stamps stray, would not show, whatever the verdict, unless"
                " the speed or the bus voltage leaps there. Let a message count its frames, and state it in the bench"
                " file."
            )
