"""A wiring loop without a delay in it, reported at its place in the bench file."""

from pathlib import Path

from interlock.bench import Bench
from interlock.bench.expr import names
from interlock.bench.yaml_source import YamlSource, read_yaml
from interlock.chain.reference import WiringLoop
from interlock.errors import BenchError

__all__ = ["as_bench_error"]


def as_bench_error(bench: Bench, loop: WiringLoop, file: Path | None) -> BenchError:
    """One problem for each wired input of the devices that never come to rest."""
    source = YamlSource(bench.bench.id) if file is None else read_yaml(str(file), file.read_text("utf-8"))
    if flipping := _flips_by_itself(bench, loop):
        return BenchError([source.problem(*flipping, at_key=True)])
    called = ", ".join(bench.devices[device].name for device in sorted(loop.devices))
    keep = "keep changing each other" if len(loop.devices) > 1 else "keeps changing itself"
    why = f"{called} {keep} at once and for ever: a wiring loop without a delay"
    instead = "break the loop, or put a device with a delay into it"
    ports = [port for port in bench.wiring if port.split(".")[0] in loop.devices]
    paths = [("wiring", port) for port in ports] or [("devices", device) for device in sorted(loop.devices)]
    return BenchError(source.problem(path, f"'{path[1]}'", why, instead, at_key=True) for path in paths)


def _flips_by_itself(bench: Bench, loop: WiringLoop) -> tuple[tuple[str, ...], str, str, str] | None:
    """Where a single device is at fault that reads none of its own outputs: its kind leads to and fro."""
    if len(loop.devices) != 1:
        return None
    [device] = loop.devices
    wired = [expr for port, expr in bench.wiring.items() if port.partition(".")[0] == device]
    if any(name.partition(".")[0] == device for expr in wired for name in names(expr)):
        return None
    kind = bench.devices[device].kind
    why = f"{bench.devices[device].name} goes from state to state at once and for ever, while its inputs stay the same"
    instead = "give its transitions such conditions that no two of them lead to and fro"
    path = ("kinds", kind, "transitions") if kind in bench.kinds else ("devices", device)
    return path, f"kind '{kind}'", why, instead
