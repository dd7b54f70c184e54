"""Random benches with two zones or with modes, own resets, stops without reset, cables, and a few faults."""

from typing import Any

from chain_benches import expressions
from chain_fault_benches import SMALL, only
from hypothesis import strategies as st

from interlock.bench import Bench
from interlock.chain.fault_list import faults_of

_BUTTONS = {
    "stop": {"kind": "stop_button", "name": "stop button"},
    "halt": {"kind": "stop_button", "name": "halt button"},
    "reset": {"kind": "push_button", "name": "reset button"},
}
_SECOND_RESET = {"again": {"kind": "push_button", "name": "second reset button"}}
_UNITS = {name: {"kind": "drive_unit", "name": f"{name} unit"} for name in ("left", "right")}
_KEY = {"key": {"kind": "mode_switch", "name": "mode key"}}
_MODES = {
    "by": "key",
    "each": {
        "work": {"title": "work", "selected": "key.work_a and key.work_b"},
        "set_up": {"title": "set-up", "selected": "key.setup_a and key.setup_b"},
    },
    "source": "invented",
}
_CONTACTS = {
    "stop_button": "a",
    "push_button": "pressed",
    "mode_switch": "work_a",
    "drive_unit": "torque",
    "latch": "out",
}
_LATCH: dict[str, Any] = {
    "text": "relay that picks up when its reset was pressed anew and is released, and drops out",
    "inputs": {"held": None, "reset": None},
    "start": "off",
    "states": {"off": "off", "ready": "off, may be reset", "armed": "off, reset is pressed", "on": "on"},
    "outputs": {"out": "on"},
    "transitions": [
        {"when": "not held", "from": ["ready", "armed", "on"], "to": "off"},
        {"when": "held and not reset", "from": "off", "to": "ready"},
        {"when": "reset", "from": "ready", "to": "armed"},
        {"when": "not reset", "from": "armed", "to": "on"},
    ],
    "faults": {
        "welds": {"text": "welded", "source": "invented", "outputs": {"out": "always"}},
        "hangs": {"text": "hangs", "source": "invented", "blocks": ["on to off"]},
    },
}


@st.composite
def zoned_benches(draw: st.DrawFn) -> Bench:
    """Two stop buttons, two units with a relay each, one or two resets; wired soundly but for up to two inputs."""
    resets = draw(st.sampled_from([["reset"], ["reset", "again"]]))
    functions = {
        name: _function(
            name, units=draw(_some(["left", "right"])), reset_by=draw(st.sampled_from([None, *resets]))
        )
        for name in ("stop", "halt")
    }
    if draw(st.booleans()):
        functions["halt"] |= {"without_reset": "invented"}
    devices = {**_BUTTONS, **(_SECOND_RESET if len(resets) > 1 else {})}
    wiring = {}
    for unit in ("left", "right"):
        stops = [name for name, one in functions.items() if unit in one["units"]]
        devices |= {unit: _UNITS[unit], f"{unit}_relay": {"kind": "latch", "name": f"{unit} relay"}}
        wiring |= _unit(unit, f"{unit}_relay")
        wiring[f"{unit}_relay.held"] = " and ".join(f"{name}.a" for name in stops) or "always"
        wiring[f"{unit}_relay.reset"] = f"{draw(st.sampled_from(resets))}.pressed"
    return draw(_with_changes(devices, wiring, {"functions": functions}))


@st.composite
def benches_with_modes(draw: st.DrawFn) -> Bench:
    """Two stop buttons, each required in all modes or in one, a mode key, a unit with a relay; else as above."""
    devices = {**_BUTTONS, **_KEY, "left": _UNITS["left"], "relay": {"kind": "latch", "name": "relay"}}
    functions, asked = {}, []
    for name in ("stop", "halt"):
        mode, aside = draw(st.sampled_from([(None, None), ("work", "setup_a"), ("set_up", "work_a")]))
        functions[name] = _function(name, in_modes=None if mode is None else [mode])
        asked.append(f"{name}.a" if aside is None else f"({name}.a or key.{aside})")
    if draw(st.booleans()):
        functions["halt"] |= {"without_reset": "invented"}
    wiring = {**_unit("left", "relay"), "relay.held": " and ".join(asked), "relay.reset": "reset.pressed"}
    modes = {**_MODES, "change": draw(st.sampled_from(["stops", "starts_nothing"]))}
    return draw(_with_changes(devices, wiring, {"functions": functions, "modes": modes}))


@st.composite
def ramp_benches(draw: st.DrawFn) -> Bench:
    """A unit that brakes while its stop input is off, a latch, a relay with delayed contacts; else as above."""
    delays = [f"{draw(st.sampled_from([40, 60, 90]))} ms" for _ in range(2)]
    devices = {name: _BUTTONS[name] for name in ("stop", "reset")} | {
        "left": {"kind": "drive_stop_input", "name": "left unit", "delays": {"stop_time": delays[0]}},
        "relay": {"kind": "latch", "name": "relay"},
        "timer": {"kind": "off_delay_relay", "name": "timer", "delays": {"off_delay": delays[1]}},
    }
    wiring = {"relay.held": "stop.a", "relay.reset": "reset.pressed", "timer.coil": "relay.out"}
    wiring |= {"left.go": "relay.out", "left.sto_a": "timer.out_a", "left.sto_b": "timer.out_b"}
    wiring |= {"left.supply": "always"}
    functions = {"stop": _function("stop") | {"stop_category": 1}}
    return draw(_with_changes(devices, wiring, {"functions": functions}))


@st.composite
def idle_benches(draw: st.DrawFn) -> Bench:
    """Two units, one of which rests at set-up, kept off by a contact of the mode key; else as above."""
    devices = {**_BUTTONS, **_KEY, **_UNITS, "relay": {"kind": "latch", "name": "relay"}}
    wiring = {"relay.held": "stop.a and halt.a", "relay.reset": "reset.pressed"}
    wiring |= {**_unit("left", "relay"), **_unit("right", "relay")}
    contacts = draw(st.sampled_from([("work_a", "work_b"), ("work_a", "work_a")]))
    for channel, contact in zip("ab", contacts, strict=True):
        wiring[f"right.sto_{channel}"] = f"relay.out and key.{contact}"
    each = {name: dict(mode) for name, mode in _MODES["each"].items()}
    each["set_up"]["units"] = ["left"]
    change = draw(st.sampled_from(["stops", "starts_nothing"]))
    functions = {name: _function(name) for name in ("stop", "halt")}
    modes = {**_MODES, "each": each, "change": change}
    return draw(_with_changes(devices, wiring, {"functions": functions, "modes": modes}))


def two_zones(reset_of_left: str, *kept: str) -> Bench:
    """A stop for the left unit with its own reset, a halt for the right; the button of the left relay is stated."""
    functions = {
        "stop": _function("stop", units=["left"], reset_by="again"),
        "halt": _function("halt", units=["right"]),
    }
    devices, wiring = {**_BUTTONS, **_SECOND_RESET}, {}
    for unit, held, reset in (("left", "stop.a", reset_of_left), ("right", "halt.a", "reset")):
        devices |= {unit: _UNITS[unit], f"{unit}_relay": {"kind": "latch", "name": f"{unit} relay"}}
        wiring |= {**_unit(unit, f"{unit}_relay"), f"{unit}_relay.held": held}
        wiring[f"{unit}_relay.reset"] = f"{reset}.pressed"
    cables = {"cable": {"name": "cable", "lines": ["halt.a", "reset.pressed", "left_relay.held"]}}
    return only(_built(devices, wiring, {"functions": functions}, cables), *kept)


def _built(
    devices: dict[str, Any], wiring: dict[str, str], required: dict[str, Any], cables: dict[str, Any]
) -> Bench:
    units = [name for name in devices if name in _UNITS]  # `left` may be of another kind than there
    effects = {"torque_off": {"of": units, "within": "100 ms", "source": "invented"}}
    asked = {**SMALL["required"], **required, "effects": effects}
    parts = {"devices": devices, "wiring": wiring, "cables": cables, "required": asked}
    return Bench.model_validate({**SMALL, **parts, "kinds": {"latch": _LATCH}})


def _function(demand: str, **more: Any) -> dict[str, Any]:
    stated = {name: value for name, value in more.items() if value is not None}
    common = {"title": "it stops", "stop_category": 0, "effects": ["torque_off"], "source": "invented"}
    return {**common, "demand": demand, **stated}


def _unit(unit: str, relay: str) -> dict[str, str]:
    return {f"{unit}.sto_a": f"{relay}.out", f"{unit}.sto_b": f"{relay}.out", f"{unit}.supply": "always"}


def _some(names: list[str]) -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(names), min_size=1, unique=True).map(sorted)


@st.composite
def _with_changes(
    draw: st.DrawFn, devices: dict[str, Any], wiring: dict[str, str], required: dict[str, Any]
) -> Bench:
    """The bench with up to two inputs wired at random, a cable of up to three lines, up to three faults."""
    ports = [f"{name}.{_CONTACTS[one['kind']]}" for name, one in devices.items() if one["kind"] in _CONTACTS]
    changed = draw(st.lists(st.sampled_from(sorted(wiring)), max_size=2, unique=True))
    wiring = {**wiring, **{port: draw(expressions(ports)) for port in changed}}
    if draw(st.booleans()):
        wiring["left.run"] = draw(expressions(ports))  # so that it may start unasked
    lines = [name.partition(".")[0] for name in wiring if name.endswith(".held")]
    ends = ["stop.b", "halt.a", "left.sto_a", "reset.pressed", *(f"{relay}.held" for relay in lines)]
    ends = [one for one in ends if one.partition(".")[0] in devices]
    chosen = draw(st.lists(st.sampled_from(ends), max_size=3, unique=True))
    cables = {"cable": {"name": "cable", "lines": chosen}} if len(chosen) > 1 else {}
    bench = _built(devices, wiring, required, cables)
    names = [one.id for one in faults_of(bench)]
    shorts = [name for name in names if name.startswith("cable.")]
    kept = draw(st.lists(st.sampled_from(shorts * 5 + names), min_size=1, max_size=3, unique=True))
    return only(bench, *kept)
