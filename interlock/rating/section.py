"""The `rating:` section of a bench file, each mistake with its line and column."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from interlock.bench.yaml_source import Path, YamlSource, read_yaml
from interlock.errors import BenchError, InterlockError, Problem
from interlock.rating.inputs import RatingInputs
from interlock.rating.section_words import HINT, why_and_instead
from interlock.rating.strict import ELSEWHERE

__all__ = ["rating_and_places", "rating_of"]


def rating_of(bench_file: FilePath) -> RatingInputs:
    """The checked section of a bench file that is sound otherwise; BenchError with every mistake in it.

    InterlockError if the file has no such section: nothing is rated out of nothing.
    """
    return rating_and_places(bench_file)[0]


def rating_and_places(bench_file: FilePath) -> tuple[RatingInputs, YamlSource]:
    """As `rating_of`, and where each entry of the file stands."""
    source = read_yaml(str(bench_file), bench_file.read_text(encoding="utf-8"))
    section = source.data.get("rating") if isinstance(source.data, dict) else None
    if section is None:
        raise InterlockError(
            f"{bench_file}: it has no section 'rating'; add the parts and levels to be rated ({HINT})"
        )
    try:
        inputs = RatingInputs.model_validate(section)
    except ValidationError as error:
        raise BenchError(_problems(source, error)) from error
    if absent := list(_unknown(source, inputs)):
        raise BenchError(absent)
    return inputs, source


def _problems(source: YamlSource, error: ValidationError) -> Iterator[Problem]:
    """Each mistake at the entry to blame: its key if it is unknown or lacks something, else its value."""
    for detail in error.errors(include_url=False):
        path = ("rating", *(part for part in detail["loc"] if part != "[key]"))
        if detail["type"] == ELSEWHERE:
            for further, why in detail["ctx"]["found"]:
                word = next(part for part in reversed(further) if isinstance(part, str))
                yield source.problem((*path, *further), f"'{word}'", why, HINT, at_key=True)
            continue
        unknown = detail["type"] in {"extra_forbidden", "missing"}
        yield source.problem(path, f"'{path[-1]}'", *why_and_instead(detail), at_key=unknown)


def _unknown(source: YamlSource, inputs: RatingInputs) -> Iterator[Problem]:
    """Functions, effects and devices that the bench does not have: nothing is known of their structure."""
    data = source.data if isinstance(source.data, dict) else {}
    required, devices = data["required"]["functions"], data["devices"]
    for name, function in inputs.functions.items():
        path: Path = ("rating", "functions", name)
        if name not in required:
            why, instead = "the bench requires no such function", f"name one of {', '.join(required)}"
            yield source.problem(path, f"'{name}'", why, instead, at_key=True)
            continue
        yield from _effects(source, path, function.effects or (), required[name])
        named = {each: one.devices for each, one in function.subsystems.items()}
        yield from _devices(source, path, "subsystems", named, function.not_rated, devices)
    for path, device in _counted(inputs):
        if device not in devices:
            why, instead = "the bench has no such device", f"name one of {', '.join(devices)}"
            yield source.problem(path, f"'{device}'", why, instead)
    for name, given in inputs.low_demand.items():
        path = ("rating", "low_demand", name)
        yield from _effects(source, path, given.effects or (), required.get(name, {"effects": []}))
        named = {each: one.devices for each, one in given.elements.items()}
        yield from _devices(source, path, "elements", named, given.not_rated, devices)


def _counted(inputs: RatingInputs) -> Iterator[tuple[Path, str]]:
    """Each device whose counts in a register are those of a part, and where it is named."""
    for name, part in inputs.parts.items():
        if part.operations is not None and part.operations.device is not None:
            yield ("rating", "parts", name, "operations", "device"), part.operations.device
    for name, worn in (inputs.wear or {}).items():
        if worn.device is not None:
            yield ("rating", "wear", name, "device"), worn.device


def _effects(
    source: YamlSource, path: Path, effects: Sequence[str], stated: Mapping[str, Any]
) -> Iterator[Problem]:
    known = [*stated["effects"], *(["supply_stays_off"] if "supply" in stated else [])]
    for index, effect in enumerate(effects):
        if effect not in known:
            why, instead = f"'{path[-1]}' is not required to do this", f"name one of {', '.join(known)}"
            yield source.problem((*path, "effects", index), f"'{effect}'", why, instead)


def _devices(
    source: YamlSource,
    path: Path,
    kind: str,
    named: Mapping[str, Sequence[str]],
    not_rated: Collection[str],
    devices: Collection[str],
) -> Iterator[Problem]:
    """Devices named that the bench does not have, and those that are named as rated and as not rated."""
    for each, listed in named.items():
        for index, device in enumerate(listed):
            place = (*path, kind, each, "devices", index)
            if device not in devices:
                instead = f"name one of {', '.join(devices)}"
                yield source.problem(place, f"'{device}'", "the bench has no such device", instead)
            elif device in not_rated:
                instead = "name it in one place only"
                yield source.problem(place, f"'{device}'", "it is named under not_rated as well", instead)
    for device in not_rated:
        if device not in devices:
            place, instead = (*path, "not_rated", device), f"name one of {', '.join(devices)}"
            yield source.problem(place, f"'{device}'", "the bench has no such device", instead, at_key=True)
