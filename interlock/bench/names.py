"""What the entries of a bench may refer to."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from interlock.bench.kind import Kind
from interlock.bench.models import Bench
from interlock.bench.refusal import advise, near_words, quoted
from interlock.bench.yaml_source import Mistake, Path, YamlSource

__all__ = ["Names", "names_of", "unknown"]


@dataclass(frozen=True, slots=True)
class Names:
    """Devices with their kinds; nothing is said against one whose own entry is broken."""

    kinds: Mapping[str, Kind]
    devices: Mapping[str, Kind]  # those whose kind is known
    vague: frozenset[str]  # devices of which nothing more is known
    source: YamlSource  # which knows the entries that are broken

    def knows(self, device: str) -> bool:
        """Whether there is, or may be, a device of this name."""
        return device in self.devices or device in self.vague or self.source.is_broken(("devices",))

    def ports(self, of: Callable[[Kind], Iterable[str]]) -> set[str]:
        """`device.name` for each name that `of` gives for the device's kind."""
        return {f"{device}.{name}" for device, kind in self.devices.items() for name in of(kind)}

    def strange(self, used: Iterable[str], known: set[str]) -> set[str]:
        """The used ports that are not known, and whose device does not excuse them."""
        return {port for port in set(used) - known if not self._excused(port.partition(".")[0])}

    def strays(
        self, at: Path, what: str, used: Iterable[str], known: set[str], *, at_key: bool = False
    ) -> Iterator[Mistake]:
        """One mistake for each used port that is not known: its device is not there, or has nothing of this name."""
        for port in sorted(self.strange(used, known)):
            device, dot, name = port.partition(".")
            if not dot or device in self.devices:
                yield from unknown(at, what, {port}, known, at_key=at_key)
                continue
            near = near_words(device, [one for one in self.devices if f"{one}.{name}" in known])
            meant = " or ".join(f"{one}.{name}" for one in near)
            instead = (
                f"did you mean {meant}?" if near else "describe it under devices, or name one that is there"
            )
            why = f"there is no device {quoted(device)}"
            yield Mistake(at, quoted(port), why, instead, at_key, word=port)

    def _excused(self, device: str) -> bool:
        return self.knows(device) and device not in self.devices


def names_of(source: YamlSource, bench: Bench, kinds: Mapping[str, Kind]) -> Names:
    """The names of a bench; those whose entries are broken in `source` count as there, but vague."""
    sound = {name: kind for name, kind in kinds.items() if not source.holds_broken(("kinds", name))}
    devices = {
        name: sound[device.kind]
        for name, device in bench.devices.items()
        if device.kind in sound and not source.is_broken(("devices", name, "kind"))
    }
    broken = {str(path[1]) for path in source.broken if path[:1] == ("devices",) and len(path) > 1}
    meant = {re.sub(r"\W", "_", name.casefold()) for name in broken}
    return Names(kinds, devices, frozenset({*bench.devices, *broken, *meant} - set(devices)), source)


def unknown(
    path: Path,
    what: str,
    used: Iterable[str],
    known: Iterable[str],
    *,
    at_key: bool = False,
    also: tuple[Path, ...] = (),
) -> Iterator[Mistake]:
    """One mistake for each used name that is not known; `also`: where the known names stand."""
    choices = set(known)
    for name in sorted(set(used) - choices):
        same = {choice for choice in choices if choice.startswith(f"{name.partition('.')[0]}.")}
        instead = advise(name, same or choices) if choices else f"remove it: there is no {what} to name here"
        why = f"there is no {what} of this name"
        yield Mistake(path, quoted(name), why, instead, at_key, word=name, also=also)
