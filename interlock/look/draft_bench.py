"""The sections of a drafted bench description that no log tells: which kinds there are, and how each section looks."""

from collections.abc import Iterator
from typing import Final

from interlock.bench.load import builtin_kinds

__all__ = ["EXAMPLE", "bench_lines"]

EXAMPLE: Final = {
    "devices": """\
hood: {kind: guard_switch, name: hood}
reset: {kind: push_button, name: reset button}
relay: {kind: safety_relay, name: safety relay}
drive: {kind: drive_unit, name: drive unit}
""",
    "wiring": """\
relay.channel_a: hood.a
relay.channel_b: hood.b
relay.reset: reset.pressed
drive.sto_a: relay.out_a
drive.sto_b: relay.out_b
drive.supply: always
""",
    "required": """\
reset: {by: reset, acts_on: release, source: [undecided]}
restart: {no_sooner_than: undecided, source: [undecided]}
effects:
  torque_off: {of: [drive], within: undecided, source: [undecided]}
functions:
  hood_stop:
    title: opening the hood takes the torque away
    demand: hood
    stop_category: 0
    effects: [torque_off]
    source: [undecided]
""",
}
"""A small bench, as it would stand in the file; what it needs besides is a limit and a source of each."""
_MEANT: Final = {
    "devices": "what is built; below it, indented, one line a device, such as these (take the # away):",
    "wiring": "as built; below it one line an input: what reaches it, such as:",
    "required": "what the bench must do, whatever the wiring: limits and their sources, such as:",
}


def bench_lines() -> Iterator[str]:
    """The undecided sections devices, wiring and required, each with an example in comments."""
    for section, meant in _MEANT.items():
        yield f"{section}: undecided  # {meant}"
        yield from (f"#  {line}" for line in EXAMPLE[section].splitlines())
        if section == "devices":
            yield from _kinds()
        yield ""


def _kinds() -> Iterator[str]:
    yield "#"
    yield "# Kinds of devices, and what a log may show of each (device.output; values are marked by their unit):"
    for name, kind in builtin_kinds().items():
        shown = [*kind.outputs, *(f"{value} ({unit})" for value, unit in kind.values.items())]
        yield f"#   {name}: {', '.join(shown)}"
