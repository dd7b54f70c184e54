"""Benches for the tests of the chain: the sample, the wrong ones, mended ones, and random ones."""

from functools import cache
from pathlib import Path
from typing import Any

import yaml
from hypothesis import strategies as st

from interlock.bench import Bench, Kind, kinds_of, load_bench, parse_bench
from interlock.chain import CheckResult, check

BENCHES = Path(__file__).parents[1] / "benches"
SAMPLE = BENCHES / "sample" / "bench.yaml"
WRONG = BENCHES / "wrong"
_EVERY: dict[str, Any] = yaml.safe_load((BENCHES / "wrong_expected.yaml").read_text("utf-8"))
EXPECTED = {name: one for name, one in _EVERY.items() if "set" not in one["first"]}
UNDER_FAULT = {name: one for name, one in _EVERY.items() if "set" in one["first"]}


class _Plain(yaml.SafeDumper):
    """Writes nothing for a value that is left open, as people do."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


_Plain.add_representer(type(None), lambda dumper, _: dumper.represent_scalar("tag:yaml.org,2002:null", ""))


@cache
def sample() -> Bench:
    """The bench of the sample logs."""
    return load_bench(SAMPLE)


@cache
def wrong(name: str) -> Bench:
    """One of the benches that are wired wrongly."""
    return load_bench(WRONG / name)


@cache
def checked(name: str) -> CheckResult:
    """The result of checking a wrong bench."""
    return check(wrong(name))


def calm(bench: Bench) -> Bench:
    """The bench of people who do nothing before every late reaction has come: each act takes an hour."""
    kinds = {name: kinds_of(bench)[name] for name in {device.kind for device in bench.devices.values()}}
    return bench.model_copy(update={"kinds": {name: _slow(kind) for name, kind in kinds.items()}})


def _slow(kind: Kind) -> Kind:
    steps = [
        step if step.act is None else step.model_copy(update={"takes": 3600 * 10**9})
        for step in kind.transitions
    ]
    return kind.model_copy(update={"transitions": steps})


def patched(path: Path, patch: Any) -> Bench:
    """The bench of a file after a JSON merge patch (RFC 7396); what shows in the log is left out."""
    data = yaml.safe_load(path.read_text("utf-8"))
    data.pop("shows", None)
    text = yaml.dump(merged(data, patch), Dumper=_Plain, sort_keys=False)
    return parse_bench(path.name, text)


def merged(target: Any, patch: Any) -> Any:
    """RFC 7396: a mapping is merged, null removes a key, anything else replaces."""
    if not isinstance(patch, dict):
        return patch
    kept = dict(target) if isinstance(target, dict) else {}
    for key, value in patch.items():
        if value is None:
            kept.pop(key, None)
        else:
            kept[key] = merged(kept.get(key), value)
    return kept


_FIXED: dict[str, Any] = {
    "bench": {
        "id": "random",
        "name": "random bench",
        "place": "nowhere",
        "ratings": {"bus_voltage": "24 V", "max_speed": "100 1/min"},
    },
    "required": {
        "reset": {"by": "reset", "acts_on": "release", "source": "invented"},
        "restart": {"no_sooner_than": "0 ms", "source": "invented"},
        "effects": {"torque_off": {"of": ["unit"], "within": "100 ms", "source": "invented"}},
        "functions": {
            "stop": {
                "title": "the stop stops",
                "demand": "stop",
                "stop_category": 0,
                "effects": ["torque_off"],
                "source": "invented",
            }
        },
    },
}
_DEVICES = {
    "stop": {"kind": "stop_button", "name": "stop"},
    "reset": {"kind": "push_button", "name": "reset"},
    "unit": {"kind": "drive_unit", "name": "unit"},
}


@st.composite
def random_benches(draw: st.DrawFn) -> Bench:
    """A drive, two buttons and one to three devices of random kinds, all wired at random."""
    names = [f"d{number}" for number in range(draw(st.integers(1, 3)))]
    kinds = {f"k{name}": draw(_kinds()) for name in names}
    devices = {name: _device(name, kinds[f"k{name}"], draw) for name in names}
    ports = ["stop.a", "reset.pressed", "unit.torque"]
    ports += [f"{name}.{output}" for name in names for output in kinds[f"k{name}"]["outputs"]]
    wired = ["unit.sto_a", "unit.sto_b", "unit.supply"]
    wired += [f"{name}.{needed}" for name in names for needed in kinds[f"k{name}"]["inputs"]]
    wiring = {port: draw(expressions(ports)) for port in wired}
    return Bench.model_validate(
        {**_FIXED, "kinds": kinds, "devices": {**_DEVICES, **devices}, "wiring": wiring}
    )


def _device(name: str, kind: dict[str, Any], draw: st.DrawFn) -> dict[str, Any]:
    delays = {delay: draw(st.sampled_from(["10 ms", "300 ms"])) for delay in kind["delays"]}
    return {"kind": f"k{name}", "name": name, "delays": delays}


def expressions(ports: list[str]) -> st.SearchStrategy[str]:
    """Wiring of up to four contacts."""
    leaves = st.sampled_from([*ports, *(f"not {port}" for port in ports), "always", "never"])

    def joined(part: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
        return st.builds("({} {} {})".format, part, st.sampled_from(["and", "or"]), part)

    return st.recursive(leaves, joined, max_leaves=4)


@st.composite
def _kinds(draw: st.DrawFn) -> dict[str, Any]:
    states = [f"s{number}" for number in range(draw(st.integers(2, 4)))]
    inputs = draw(st.sampled_from([["x"], ["x", "y"]]))
    steps = draw(st.lists(_steps(states, inputs), min_size=1, max_size=6))
    return {
        "text": "random kind",
        "inputs": dict.fromkeys(inputs),
        "delays": sorted({step["after"] for step in steps if "after" in step}),
        "start": "s0",
        "states": {state: state for state in states},
        "outputs": {
            output: " or ".join(draw(st.lists(st.sampled_from(states), min_size=1, unique=True)))
            for output in ("o", "p")
        },
        "transitions": steps,
    }


@st.composite
def _steps(draw: st.DrawFn, states: list[str], inputs: list[str]) -> dict[str, Any]:
    source = draw(st.lists(st.sampled_from(states), min_size=1, max_size=2, unique=True))
    step: dict[str, Any] = {"from": source, "to": draw(st.sampled_from(states))}
    match draw(st.sampled_from(["act", "when", "when", "after"])):
        case "act":
            step |= {"act": draw(st.sampled_from(["push", "pull"])), "words": "do it"}
            step["takes"] = "200 ms" if step["act"] == "pull" else "0 ms"
        case "when":
            step["when"] = draw(expressions(inputs))
        case "after":
            step["after"] = draw(st.sampled_from(["soon", "late"]))
    if "when" not in step and draw(st.booleans()):
        step["when"] = draw(expressions(inputs))
    return step
