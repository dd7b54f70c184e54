"""From a YAML file to a procedure that can be trusted, or to every mistake in it with its place."""

from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from interlock.bench import Bench, kinds_of
from interlock.bench.refusal import Refusal, advise, quoted
from interlock.bench.text_file import MOST_BYTES, decode
from interlock.bench.yaml_source import Mistake, read_yaml
from interlock.errors import BenchError, InterlockError
from interlock.procedure.models import Procedure, Step

__all__ = ["load_procedure", "parse_procedure", "strays"]


def load_procedure(path: Path, bench: Bench | None = None) -> Procedure:
    """Read and check a procedure file, with `bench` also against that bench.

    Raises InterlockError if it cannot be read, BenchError with every mistake in it.
    """
    try:
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise InterlockError(f"{path}: cannot read: {why}; give the path of a procedure file") from error
    if len(data) > MOST_BYTES:
        raise InterlockError(f"{path}: longer than {MOST_BYTES:,} bytes; give a procedure file, not a log")
    return parse_procedure(str(path), decode(str(path), data), bench)


def parse_procedure(file: str, text: str, bench: Bench | None = None) -> Procedure:
    """Check a procedure given as text; raises BenchError with every mistake."""
    source = read_yaml(file, text)
    try:
        found = Procedure.model_validate(source.data)
    except ValidationError as error:
        mistakes = [_mistake(detail) for detail in error.errors(include_url=False)]
        placed = [source.place(one) for one in mistakes if not source.is_broken(one.path)]
        raise BenchError([*source.problems, *placed]) from error
    problems = [*source.problems, *map(source.place, [] if bench is None else strays(found, bench))]
    if problems:
        raise BenchError(problems)
    return found


def strays(procedure: Procedure, bench: Bench) -> Iterator[Mistake]:
    """What the procedure names and the bench does not have."""
    if procedure.bench.id != bench.bench.id:
        why = f"the bench at hand is {quoted(bench.bench.id)}"
        yield Mistake(("bench", "id"), quoted(procedure.bench.id), why, "take the procedure of that bench")
        return
    for number, step in enumerate(procedure.steps):
        if step.device is not None and step.device not in bench.devices:
            instead = advise(step.device, bench.devices)
            yield Mistake(
                ("steps", number, "device"), quoted(step.device), "the bench has no such device", instead
            )
            continue
        yield from _acts(bench, number, step)
        for place, covered in enumerate(step.covers):
            function = covered.partition(":")[2].partition("@")[0]
            if function not in bench.required.functions:
                instead = advise(function, bench.required.functions)
                path = ("steps", number, "covers", place)
                yield Mistake(path, quoted(function), "the bench has no such function", instead)


def _acts(bench: Bench, number: int, step: Step) -> Iterator[Mistake]:
    known = set[str]()
    if step.device is not None:
        kind = kinds_of(bench)[bench.devices[step.device].kind]
        known = {one.act for one in kind.transitions if one.act is not None}
    for place, act in enumerate(step.does):
        if act not in known:
            why = "the device has no such act" if step.device else "the step names no device"
            yield Mistake(("steps", number, "does", place), quoted(act), why, advise(act, known))


def _mistake(detail: ErrorDetails) -> Mistake:
    path = tuple(part for part in detail["loc"] if part != "[key]")
    name = next((part for part in reversed(path) if isinstance(part, str)), "file")
    match detail["type"]:
        case "extra_forbidden":
            return Mistake(
                path, f"unknown key {quoted(name)}", "a procedure has no such entry here", "remove it", True
            )
        case "missing":
            return Mistake(
                path, f"missing entry {quoted(name)}", "it is needed here", f"add '{name}: ...'", True
            )
        case "value_error" if isinstance(refusal := detail["ctx"]["error"], Refusal):
            return Mistake(path, name, refusal.why, refusal.instead)
    why = f"{quoted(detail['input'])} does not fit: {detail['msg'].lower()}"
    return Mistake(path, name, why, "see the schema: interlock plan --schema")
