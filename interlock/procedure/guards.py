"""Guards that unlock some time after the stop: that time shows in no log, so a person takes it beside the steps."""

from pathlib import Path

from interlock.bench import Bench
from interlock.rating.inputs import read_rating
from interlock.rating.section import rating_of
from interlock.rating.values import needed

__all__ = ["guards_to_time"]


def guards_to_time(bench: Bench, file: Path | None = None) -> tuple[str, ...]:
    """What to do for each guard that is rated by a delay, a sentence each.

    If the section `rating` is wrong: BenchError with the places in `file`, or RatingError where no file is named.
    """
    if bench.rating is None:
        return ()
    if file is not None:
        rating_of(file)  # tells a mistake with its place
    functions = read_rating(bench.rating).functions
    return tuple(
        _sentence(bench, name, needed("unlock_delay_s", one.guard.unlock_delay_s))
        for name, one in functions.items()
        if one.guard is not None and one.guard.unlock == "delay" and name in bench.required.functions
    )


def _sentence(bench: Bench, function: str, delay_s: float) -> str:
    guard = bench.devices[bench.required.functions[function].demand].name
    return (
        f"Time how long the {guard} keeps a person out, three times or more, as fast as it can be opened, with the "
        f"shaft at rest where the lock allows it: from the start of the stop until it can be opened no time may be "
        f"below {delay_s:g} s. Write the times, how exactly, when and how they were taken into the bench file "
        f"(rating, functions, {function}, guard, unlock_timed)."
    )
