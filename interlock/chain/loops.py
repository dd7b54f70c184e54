"""A wiring loop without a delay in it, reported at its place in the bench file."""

from collections.abc import Iterator
from pathlib import Path

from interlock.bench import Bench
from interlock.bench.expr import Expr, names
from interlock.bench.yaml_source import YamlSource, read_yaml
from interlock.chain.reference import WiringLoop
from interlock.errors import BenchError, Problem

__all__ = ["as_bench_error"]


def as_bench_error(bench: Bench, loop: WiringLoop, file: Path | None) -> BenchError:
    """One problem for each wired input through which devices keep each other moving; what only follows is not told.

    Where no wiring leads back to where it came from, a kind leads to and fro by itself.
    """
    source = YamlSource(bench.bench.id) if file is None else read_yaml(str(file), file.read_text("utf-8"))
    reads = {
        device: {one for _, expr in _wired(bench, device) for one in _devices(expr)} & loop.devices
        for device in sorted(loop.devices)
    }
    rings = {frozenset(ring) for device in reads if (ring := _ring(device, reads))}
    told = [problem for ring in sorted(rings, key=sorted) for problem in _around(bench, source, ring)]
    return BenchError(
        told or [_to_and_fro(bench, source, device) for device, read in reads.items() if not read]
    )


def _wired(bench: Bench, device: str) -> Iterator[tuple[str, Expr]]:
    return ((port, expr) for port, expr in bench.wiring.items() if port.partition(".")[0] == device)


def _devices(expr: Expr) -> set[str]:
    return {name.partition(".")[0] for name in names(expr)}


def _ring(device: str, reads: dict[str, set[str]]) -> set[str]:
    """All devices that the device moves and that move it, itself among them; none if it does not move itself."""
    moved_by = {one: _reached(one, reads) for one in reads}
    return {one for one in moved_by[device] if device in moved_by[one]}


def _reached(device: str, reads: dict[str, set[str]]) -> set[str]:
    reached, todo = set[str](), [device]
    while todo:
        new = reads[todo.pop()] - reached
        reached |= new
        todo.extend(new)
    return reached


def _around(bench: Bench, source: YamlSource, ring: frozenset[str]) -> Iterator[Problem]:
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
