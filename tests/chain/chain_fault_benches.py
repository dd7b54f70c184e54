"""Benches for tests of faults: a small one, and random ones whose kinds have random faults."""

from functools import cache
from typing import Any

from chain_benches import SAMPLE, expressions, patched, random_benches, sample
from hypothesis import strategies as st

from interlock.bench import Bench
from interlock.bench.kind import Fault, Kind
from interlock.chain import CheckResult, check
from interlock.chain.fault_list import faults_of

SMALL: dict[str, Any] = {
    "bench": {
        "id": "small",
        "name": "small bench",
        "place": "nowhere",
        "ratings": {"bus_voltage": "24 V", "max_speed": "100 1/min"},
    },
    "devices": {
        "stop": {"kind": "stop_button", "name": "stop button"},
        "reset": {"kind": "push_button", "name": "reset button"},
        "relay": {"kind": "safety_relay", "name": "relay"},
        "unit": {"kind": "drive_unit", "name": "unit"},
    },
    "wiring": {
        "relay.channel_a": "stop.a",
        "relay.channel_b": "stop.b",
        "relay.reset": "reset.pressed",
        "unit.sto_a": "relay.out_a",
        "unit.sto_b": "relay.out_b",
        "unit.supply": "always",
    },
    "required": {
        "reset": {"by": "reset", "acts_on": "release", "source": "invented"},
        "restart": {"no_sooner_than": "0 ms", "source": "invented"},
        "effects": {"torque_off": {"of": ["unit"], "within": "100 ms", "source": "invented"}},
        "functions": {
            "halt": {
                "title": "the stop button takes the torque away",
                "demand": "stop",
                "stop_category": 0,
                "effects": ["torque_off"],
                "source": "invented",
            }
        },
    },
}


def small(**changes: Any) -> Bench:
    """The small bench; `wiring`, `devices` and `exclusions` may be changed."""
    data = {**SMALL, **{name: {**SMALL[name], **new} for name, new in changes.items() if name in SMALL}}
    return Bench.model_validate({**data, "exclusions": changes.get("exclusions", [])})


@cache
def checked_sample(faults: int) -> CheckResult:
    """The sample checked, searched once for all who ask."""
    return check(sample(), faults=faults)


def only(bench: Bench, *kept: str) -> Bench:
    """The bench with every fault excluded but these."""
    out = [one.id for one in faults_of(bench) if one.id not in kept]
    assert len(out) + len(kept) == len(faults_of(bench)), "a fault of this name is not there"
    return without(bench, *out)


def without(bench: Bench, *out: str) -> Bench:
    """The bench with these faults excluded."""
    exclusions = [{"fault": one, "reason": "invented", "source": "invented"} for one in out]
    return bench.model_copy(
        update={"exclusions": Bench.model_validate({**SMALL, "exclusions": exclusions}).exclusions}
    )


def sample_with(patch: Any) -> Bench:
    """The sample bench after a merge patch."""
    return patched(SAMPLE, patch)


@st.composite
def faulty_benches(draw: st.DrawFn) -> Bench:
    """A random bench whose random kinds have faults; at most four faults are considered."""
    bench = draw(random_benches())
    kinds = {name: _with_faults(draw, kind) for name, kind in bench.kinds.items()}
    bench = bench.model_copy(update={"kinds": kinds})
    names = [one.id for one in faults_of(bench)]
    return only(bench, *draw(st.lists(st.sampled_from(names), min_size=1, max_size=4, unique=True)))


def _with_faults(draw: st.DrawFn, kind: Kind) -> Kind:
    faults = {f"f{number}": draw(_faults(kind)) for number in range(draw(st.integers(1, 3)))}
    return kind.model_copy(update={"faults": faults})


@st.composite
def _faults(draw: st.DrawFn, kind: Kind) -> Fault:
    declared: dict[str, Any] = {"text": "random fault", "source": "invented"}
    match draw(st.sampled_from(["outputs", "inputs", "blocks"])):
        case "outputs":
            names = [*kind.outputs, *kind.states]
            declared["outputs"] = {draw(st.sampled_from(list(kind.outputs))): draw(expressions(names))}
        case "inputs":
            names = list(kind.inputs)
            declared["inputs"] = {draw(st.sampled_from(names)): draw(expressions(names))}
        case "blocks":
            step = draw(st.sampled_from(kind.transitions))
            ways = [f"{step.source[0]} to {step.to}", *(one for one in (step.act, step.after) if one)]
            declared["blocks"] = [draw(st.sampled_from(ways))]
    return Fault.model_validate(declared)
