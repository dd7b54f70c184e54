"""Wiring loops without a delay in them, each reported at its place in the bench file, beside its other mistakes."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Final

from interlock.bench import Bench, Kind, Parsed, kinds_of, read_far
from interlock.bench.expr import Expr, evaluate, names
from interlock.bench.refusal import near_words
from interlock.bench.yaml_source import YamlSource, read_yaml
from interlock.chain import ir
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.layout import TooWide
from interlock.chain.reference import WiringLoop
from interlock.chain.upstream import fields_of, reached, upstream
from interlock.errors import BenchError, Problem

__all__ = ["as_bench_error", "load_without_loops", "loops_in"]

_Reads = Mapping[str, set[str]]
_LIMIT: Final = (
    1 << 16
)  # states of a ring and of what moves it; a check looks at all states of the bench in any case
_MOST_INPUTS: Final = 10


def load_without_loops(path: Path) -> Bench:
    """Read and check a bench file; raises BenchError with every mistake, loops without a delay among them."""
    parsed = read_far(path)
    if loops := loops_in(parsed):
        raise BenchError([*parsed.problems, *loops])
    return parsed.sound()


def loops_in(parsed: Parsed) -> list[Problem]:
    """Every loop among devices of which, as of all that moves them, nothing else is wrong.

    Such devices do the same whatever the rest of the bench will be once it is mended.
    """
    bench = None if parsed.bench is None else _sound_part(parsed, parsed.bench)
    if bench is None or not bench.devices:
        return []
    chain, found, told = compile_bench(bench).chain, list[Problem](), list[frozenset[str]]()
    rings = [(ring, upstream(chain, ring)) for ring in _rings(bench, chain)]
    for ring, moving in sorted(rings, key=lambda one: (len(one[1]), sorted(one[0]))):
        if any(other <= moving for other in told):
            continue  # what only follows a loop is not told
        if (loop := _loop(chain, moving)) is not None:
            told.append(ring)
            found += _told(bench, parsed.source, loop)
    return found


def as_bench_error(bench: Bench, loop: WiringLoop, file: Path | None) -> BenchError:
    """The loop that a search has met, as `loops_in` would tell it."""
    source = YamlSource(bench.bench.id) if file is None else read_yaml(str(file), file.read_text("utf-8"))
    return BenchError(_told(bench, source, loop))


def _sound_part(parsed: Parsed, bench: Bench) -> Bench:
    """The devices with nothing wrong in their entries, kinds and wires, nor in those of what reaches them."""
    kinds = kinds_of(bench)
    known = {name: kinds[device.kind] for name, device in bench.devices.items() if device.kind in kinds}
    inputs = {
        f"{name}.{one}": default for name, kind in known.items() for one, default in kind.inputs.items()
    }
    strays = {str(path[1]) for path in parsed.source.keys if path[:1] == ("wiring",) and path[1:]} - set(
        inputs
    )
    lost = {
        port.partition(".")[0]
        for port, default in inputs.items()
        if port not in bench.wiring and (default is None or near_words(port, strays, 0.8))
    }
    sound = {name for name in known if name not in lost and not _is_doubtful(parsed, bench, name)}
    while astray := {
        name for name in sound if any(_devices(expr) - sound for _, expr in _wired(bench, name))
    }:
        sound -= astray
    devices = {name: device for name, device in bench.devices.items() if name in sound}
    wiring = {port: expr for port, expr in bench.wiring.items() if port.partition(".")[0] in sound}
    return bench.model_copy(update={"devices": devices, "wiring": wiring})


def _is_doubtful(parsed: Parsed, bench: Bench, device: str) -> bool:
    at, kind = ("devices", device), ("kinds", bench.devices[device].kind)
    wires = (("wiring", port) for port, _ in _wired(bench, device))
    return any(map(parsed.doubtful, ((*at, "kind"), (*at, "delays"), kind, *wires)))


def _rings(bench: Bench, chain: ir.Chain) -> set[frozenset[str]]:
    """Devices that move each other at once, and single ones whose kind may lead to and fro by itself."""
    kinds, reads = kinds_of(bench), {one.device: fields_of(one.steps) for one in chain.reactions}
    flips = {name for name in {bench.devices[one].kind for one in reads} if _flips(kinds[name])}
    alone = {frozenset({device}) for device in reads if bench.devices[device].kind in flips}
    return alone | _around({device: read & reads.keys() for device, read in reads.items()})


def _flips(kind: Kind) -> bool:
    """Whether the kind can go from state to state for ever while its inputs stay the same."""
    steps = [
        one for one in kind.transitions if one.act is None and one.after is None and one.when is not None
    ]
    read = sorted({name for one in steps if one.when is not None for name in names(one.when)})
    if len(read) > _MOST_INPUTS:
        return True  # whether it does is then seen from the bench
    for values in product((False, True), repeat=len(read)):
        at = dict(zip(read, values, strict=True))
        ready = [one for one in steps if one.when is not None and evaluate(one.when, at.__getitem__)]
        leads = {
            state: next((one.to for one in ready if state in one.source), state) for state in kind.states
        }
        after = set(leads)
        for _ in leads:
            after = {leads[state] for state in after}
        if any(leads[state] != state for state in after):
            return True
    return False


def _loop(chain: ir.Chain, devices: frozenset[str]) -> WiringLoop | None:
    """The loop that is met first in what these devices do by themselves."""
    part = replace(
        chain,
        fields=tuple(one for one in chain.fields if one.name in devices),
        reactions=tuple(one for one in chain.reactions if one.device in devices),
        events=tuple(one for one in chain.events if one.device in devices),
    )
    try:
        explore(part, _LIMIT)
    except TooWide:
        return None
    except WiringLoop as loop:
        return loop
    return None


def _told(bench: Bench, source: YamlSource, loop: WiringLoop) -> list[Problem]:
    """One problem for each wired input through which devices keep each other moving; what only follows is not told.

    Where no wiring leads back to where it came from, a kind leads to and fro by itself.
    """
    reads = {
        device: {one for _, expr in _wired(bench, device) for one in _devices(expr)} & loop.devices
        for device in sorted(loop.devices)
    }
    told = [one for ring in sorted(_around(reads), key=sorted) for one in _at_wires(bench, source, ring)]
    return told or [_to_and_fro(bench, source, device) for device, read in reads.items() if not read]


def _wired(bench: Bench, device: str) -> Iterator[tuple[str, Expr]]:
    return ((port, expr) for port, expr in bench.wiring.items() if port.partition(".")[0] == device)


def _devices(expr: Expr) -> set[str]:
    return {name.partition(".")[0] for name in names(expr)}


def _around(reads: _Reads) -> set[frozenset[str]]:
    """The largest sets of devices in which each moves each, itself among them."""
    moved_by = {one: reached(one, reads) for one in reads}
    rings = ({one for one in by if device in moved_by[one]} for device, by in moved_by.items())
    return {frozenset(ring) for ring in rings if ring}


def _at_wires(bench: Bench, source: YamlSource, ring: frozenset[str]) -> Iterator[Problem]:
    called = ", ".join(bench.devices[device].name for device in sorted(ring))
    keep = "keep changing each other" if len(ring) > 1 else "keeps changing itself"
    why = f"{called} {keep} at once and for ever: a wiring loop without a delay"
    instead = "break the loop, or put a device with a delay into it"
    for device in sorted(ring):
        for port, expr in _wired(bench, device):
            if _devices(expr) & ring:
                yield source.problem(("wiring", port), f"'{port}'", why, instead, at_key=True)


def _to_and_fro(bench: Bench, source: YamlSource, device: str) -> Problem:
    kind = bench.devices[device].kind
    why = f"{bench.devices[device].name} goes from state to state at once and for ever, while its inputs stay the same"
    instead = "give its transitions such conditions that no two of them lead to and fro"
    path = ("kinds", kind, "transitions") if kind in bench.kinds else ("devices", device)
    return source.problem(path, f"kind '{kind}'", why, instead, at_key=True)
