"""A wiring loop without a delay in it, reported at its place in the bench file."""

from pathlib import Path

from interlock.bench import Bench
from interlock.bench.yaml_source import YamlSource, read_yaml
from interlock.chain.reference import WiringLoop
from interlock.errors import BenchError

__all__ = ["as_bench_error"]


def as_bench_error(bench: Bench, loop: WiringLoop, file: Path | None) -> BenchError:
    """One problem for each wired input of the devices that never come to rest."""
    source = YamlSource(bench.bench.id) if file is None else read_yaml(str(file), file.read_text("utf-8"))
    names = ", ".join(bench.devices[device].name for device in sorted(loop.devices))
    why = f"{names} keep changing each other at once and for ever: a wiring loop without a delay"
    instead = "break the loop, or put a device with a delay into it"
    ports = [port for port in bench.wiring if port.split(".")[0] in loop.devices]
    paths = [("wiring", port) for port in ports] or [("devices", device) for device in sorted(loop.devices)]
    return BenchError(source.problem(path, f"'{path[1]}'", why, instead, at_key=True) for path in paths)
