"""Small changes to a bench as built: in its wiring, and in what one of its devices does.

Requirements are never touched: a mutant is a bench that was built differently from what is required.
"""

from collections.abc import Iterator

from interlock.bench import Bench, kinds_of
from interlock.bench.expr import And, Const, Expr, Name, Not, Or, names, rename, render
from interlock.bench.kind import Kind, Transition

__all__ = ["Mutant", "mutants"]

Mutant = tuple[str, Bench]


def mutants(bench: Bench) -> Iterator[Mutant]:
    """Every mutant with a name that says what was changed; no name comes twice."""
    yield from _wirings(bench)
    yield from _contacts(bench)
    for device, described in bench.devices.items():
        for name, kind in kind_mutants(kinds_of(bench)[described.kind]):
            one = described.model_copy(update={"kind": "mutant"})
            devices, kinds = {**bench.devices, device: one}, {**bench.kinds, "mutant": kind}
            yield f"{device}: {name}", bench.model_copy(update={"devices": devices, "kinds": kinds})


def _wirings(bench: Bench) -> Iterator[Mutant]:
    contacts = _wired(bench)
    for port, expr in bench.wiring.items():
        seen = {expr}
        for changed in (*changes(expr), *_swaps(expr, contacts)):
            if changed not in seen:
                seen.add(changed)
                wiring = {**bench.wiring, port: changed}
                yield f"{port}: {render(changed)}", bench.model_copy(update={"wiring": wiring})


def changes(expr: Expr) -> Iterator[Expr]:
    """One contact bridged, cut or inverted; series made parallel or the other way round."""
    match expr:
        case Const(truth):
            yield Const(not truth)
        case Name():
            yield from (Const(True), Const(False), Not(expr))
        case Not(part):
            yield part
            yield from (Not(changed) for changed in changes(part) if changed != Not(part))
        case And(parts) | Or(parts):
            yield Or(parts) if isinstance(expr, And) else And(parts)
            for at, part in enumerate(parts):
                for changed in changes(part):
                    yield type(expr)((*parts[:at], changed, *parts[at + 1 :]))


def _swaps(expr: Expr, contacts: list[str]) -> Iterator[Expr]:
    """One contact taken for another that the bench has: wires landed on the wrong terminal."""
    for old in sorted(names(expr)):
        for new in contacts:
            if new != old:
                yield rename(expr, lambda name, old=old, new=new: Name(new if name == old else name))


def _contacts(bench: Bench) -> Iterator[Mutant]:
    """One contact inverted or stuck wherever it is wired; what the requirements say of the device stays true."""
    for contact in _wired(bench):
        for said, other in (
            ("inverted", Not(Name(contact))),
            ("always", Const(True)),
            ("never", Const(False)),
        ):
            wiring = {
                port: rename(
                    expr, lambda name, contact=contact, other=other: other if name == contact else Name(name)
                )
                for port, expr in bench.wiring.items()
            }
            if sum(wiring[port] != expr for port, expr in bench.wiring.items()) > 1:  # else met in one wire
                yield f"{contact} {said} wherever it is wired", bench.model_copy(update={"wiring": wiring})


def _wired(bench: Bench) -> list[str]:
    return sorted(set[str]().union(*(names(expr) for expr in bench.wiring.values())))


def kind_mutants(kind: Kind) -> Iterator[tuple[str, Kind]]:
    """One transition left out, led elsewhere, freed of its guard or given another."""
    for at, step in enumerate(kind.transitions):
        for name, changed in _steps(kind, step):
            steps = [*kind.transitions[:at], *changed, *kind.transitions[at + 1 :]]
            yield f"{name} (transition {at + 1})", kind.model_copy(update={"transitions": steps})


def _steps(kind: Kind, step: Transition) -> Iterator[tuple[str, list[Transition]]]:
    said = f"{'+'.join(step.source)} to {step.to}"
    if len(kind.transitions) > 1:
        yield f"no step from {said}", []
    for state in kind.states:
        if state != step.to and [state] != step.source:
            yield f"{said} leads to {state}", [step.model_copy(update={"to": state})]
    if step.takes:
        yield f"{said} takes no time", [step.model_copy(update={"takes": 0})]
    if step.when is None:
        return
    if step.act is not None or step.after is not None:
        yield f"{said} without guard", [step.model_copy(update={"when": None})]
    for changed in changes(step.when):
        yield f"{said} when {render(changed)}", [step.model_copy(update={"when": changed})]
