"""Whether what is said of guards in series fits the wiring and the cables of the bench."""

from collections.abc import Iterator

from interlock.bench.expr import names as mentioned
from interlock.bench.models import Bench
from interlock.bench.names import Names
from interlock.bench.refusal import quoted
from interlock.bench.series import Cabling, Series, cabling_in, series_at, series_in
from interlock.bench.series_models import SeriesLayout
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_series"]


def check_series(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Every entry `series` of a device with no guards in series, or that the cables or it itself contradict."""
    for device, one in bench.devices.items():
        if one.series is None:
            continue
        at: Path = ("devices", device, "series")
        yield from _incomplete(one.series, at)
        if _readable(bench, names):
            found = series_at(bench, device, names.devices)
            yield from (
                _none(bench, names, at) if found is None else _against(bench, names, one.series, found, at)
            )


def _readable(bench: Bench, names: Names) -> bool:
    """Whether the wiring names nothing but devices of which all is known; else other mistakes come first."""
    ports = {*bench.wiring, *(port for expr in bench.wiring.values() for port in mentioned(expr))}
    known = all(port.partition(".")[0] in names.devices for port in ports)
    return known and set(bench.devices) <= set(names.devices) and not names.source.holds_broken(("wiring",))


def _none(bench: Bench, names: Names, at: Path) -> Iterator[Mistake]:
    others = [one.logic for one in series_in(bench, names.devices)]
    instead = (
        f"write it at {' and '.join(others)}, where guards are in series"
        if others
        else "remove it: no guards are in series on this bench"
    )
    why = f"no two guards are in series at the inputs of {quoted(str(at[1]))}"
    yield Mistake(at, "series", why, instead, at_key=True)


def _against(bench: Bench, names: Names, layout: SeriesLayout, found: Series, at: Path) -> Iterator[Mistake]:
    """Cabling that is not what the cables of the file tell."""
    told = cabling_in(bench, found.guards, names.devices)
    if layout.cabling == "star" and told is Cabling.COMMON:
        why = "under 'cables' lines of several of these guards run in one cable"
        yield Mistake((*at, "cabling"), "cabling", why, "write branch or loop, or mend the cables")
    elif layout.cabling in ("branch", "loop") and told is Cabling.OWN:
        why = "under 'cables' each of these guards has a cable of its own"
        yield Mistake((*at, "cabling"), "cabling", why, "write star, or mend the cables")


def _incomplete(layout: SeriesLayout, at: Path) -> Iterator[Mistake]:
    """A class read from the regular method's tables, without the layout that it was read for."""
    if layout.regular is not None and (missing := layout.unsaid()):
        why = f"the tables of the regular method ask for more: {', '.join(missing)}"
        yield Mistake((*at, "regular"), "regular", why, f"say {', '.join(missing)} beside it", at_key=True)
