"""What a log must show of a bench with modes or several reset buttons: said before anything else, if it is missing."""

from collections.abc import Iterator

from interlock.bench import Bench
from interlock.bench.expr import names
from interlock.bench.shows_models import Shows
from interlock.errors import InterlockError
from interlock.replay.modes import MODE_CHANGE
from interlock.replay.resets import button_of, needs_reset

__all__ = ["refuse_unshown"]


def refuse_unshown(bench: Bench, shows: Shows) -> None:
    """Raise InterlockError that names every entry to add under `shows`."""
    _reserved(bench)
    missing = {port: why for port, why in _needed(bench) if port not in shows.states}
    if missing:
        told = "; ".join(f"{port} ({why})" for port, why in missing.items())
        raise InterlockError(
            f"bench '{bench.bench.id}': no log of it can be judged, since the bench file does not say how these show: "
            f"{told}. Add each under shows.states, such as '{next(iter(missing))}: MESSAGE.SIGNAL is 1'."
        )


def _reserved(bench: Bench) -> None:
    if bench.required.modes is not None and MODE_CHANGE in bench.required.functions:
        raise InterlockError(
            f"bench '{bench.bench.id}': a function is called '{MODE_CHANGE}', by which findings name the change of the"
            " mode; give the function another id"
        )


def _needed(bench: Bench) -> Iterator[tuple[str, str]]:
    required = bench.required
    if required.modes is not None:
        for name, mode in required.modes.each.items():
            for port in sorted(names(mode.selected)):
                yield port, f"required.modes.each.{name}"
    for name, function in required.functions.items():
        if function.reset_by is not None:
            yield f"{function.reset_by}.pressed", f"required.functions.{name}.reset_by"
    others = (
        any(one.reset_by is not None for one in required.functions.values()) or required.modes is not None
    )
    if others and any(
        button_of(required, name) == required.reset.by and needs_reset(required, name)
        for name in required.functions
    ):
        yield f"{required.reset.by}.pressed", "required.reset.by"
