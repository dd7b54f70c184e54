"""Small changes to a bench: one contact bridged, cut or swapped, one transition dropped or freed of its guard."""

from collections.abc import Iterator

from interlock.bench import Bench, kinds_of
from interlock.bench.expr import And, Const, Expr, Name, Not, Or, render
from interlock.bench.kind import Kind

Mutant = tuple[str, Bench]


def mutants(bench: Bench) -> Iterator[Mutant]:
    """Every mutant with a name that says what was changed."""
    for port, expr in bench.wiring.items():
        for changed in _expressions(expr):
            name = f"{port}: {render(changed)}"
            yield name, bench.model_copy(update={"wiring": {**bench.wiring, port: changed}})
    for device, described in bench.devices.items():
        for name, kind in _kinds(kinds_of(bench)[described.kind]):
            one = described.model_copy(update={"kind": "mutant"})
            devices, kinds = {**bench.devices, device: one}, {**bench.kinds, "mutant": kind}
            yield f"{device}: {name}", bench.model_copy(update={"devices": devices, "kinds": kinds})


def _expressions(expr: Expr) -> Iterator[Expr]:
    match expr:
        case Const(truth):
            yield Const(not truth)
        case Name():
            yield Const(True)
            yield Const(False)
            yield Not(expr)
        case Not(part):
            yield part
            yield from (Not(changed) for changed in _expressions(part) if changed != Not(part))
        case And(parts) | Or(parts):
            yield Or(parts) if isinstance(expr, And) else And(parts)
            for at, part in enumerate(parts):
                for changed in _expressions(part):
                    yield type(expr)((*parts[:at], changed, *parts[at + 1 :]))


def _kinds(kind: Kind) -> Iterator[tuple[str, Kind]]:
    steps = kind.transitions
    for at, step in enumerate(steps):
        said = f"{'+'.join(step.source)} to {step.to}"
        yield f"no step from {said}", kind.model_copy(update={"transitions": [*steps[:at], *steps[at + 1 :]]})
        if step.when is not None and (step.act is not None or step.after is not None):
            free = step.model_copy(update={"when": None})
            yield (
                f"no guard from {said}",
                kind.model_copy(update={"transitions": [*steps[:at], free, *steps[at + 1 :]]}),
            )
        elif step.when is not None:
            for changed in _expressions(step.when):
                one = step.model_copy(update={"when": changed})
                new = kind.model_copy(update={"transitions": [*steps[:at], one, *steps[at + 1 :]]})
                yield f"from {said} when {render(changed)}", new
