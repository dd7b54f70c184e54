"""What a bench may require that no log is judged by yet: said before anything else, instead of judging by half."""

from collections.abc import Iterator

from interlock.bench import Bench
from interlock.errors import InterlockError

__all__ = ["refuse_unjudged"]


def refuse_unjudged(bench: Bench) -> None:
    """Raise InterlockError, naming every such entry of the required section."""
    found = list(_unjudged(bench))
    if found:
        raise InterlockError(
            f"bench '{bench.bench.id}': no log of it can be judged yet, since replay does not know {'; '.join(found)}. "
            "Prove these by interlock check, and measure them by hand."
        )


def _unjudged(bench: Bench) -> Iterator[str]:
    required = bench.required
    if required.modes is not None:
        yield "modes (required.modes)"
    if required.effects.torque_off.limits:
        yield "limits of single units (required.effects.torque_off.limits)"
    for name, function in required.functions.items():
        for entry, stated in (
            ("units", function.units is not None),
            ("limits", bool(function.limits)),
            ("reset_by", function.reset_by is not None),
            ("without_reset", function.without_reset is not None),
        ):
            if stated:
                yield f"{entry} of a function (required.functions.{name}.{entry})"
