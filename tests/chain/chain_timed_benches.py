"""Benches whose timers let the effect come back within a demand, at random; delays and limits are invented."""

from typing import Any

from chain_fault_benches import SMALL, only
from hypothesis import strategies as st

from interlock.bench import Bench
from interlock.chain.fault_list import faults_of

STUCK: dict[str, Any] = {
    "o_stays_closed": {"text": "contact stays closed", "source": "invented", "outputs": {"o": "always"}},
    "stopped": {"text": "it times no more", "source": "invented", "blocks": ["wait"]},
}


def timer(states: list[str], shown: str, *steps: dict[str, Any]) -> dict[str, Any]:
    """A kind with one input `x` and one contact `o`."""
    return {
        "text": "timer",
        "inputs": {"x": None},
        "delays": sorted({step["after"] for step in steps if "after" in step}),
        "start": states[0],
        "states": {state: state for state in states},
        "outputs": {"o": shown},
        "transitions": list(steps),
        "faults": STUCK,
    }


KINDS = {
    "pulse": timer(
        ["ready", "waiting", "given", "done"],
        "given",
        {"when": "x", "from": ["waiting", "given", "done"], "to": "ready"},
        {"when": "not x", "from": "ready", "to": "waiting"},
        {"after": "wait", "from": "waiting", "to": "given"},
        {"after": "pulse", "from": "given", "to": "done"},
    ),
    "drops_late": timer(
        ["off", "energised", "dropping"],
        "energised or dropping",
        {"when": "x", "from": ["off", "dropping"], "to": "energised"},
        {"when": "not x", "from": "energised", "to": "dropping"},
        {"after": "wait", "from": "dropping", "to": "off"},
    ),
    "picks_up_late": timer(
        ["off", "picking", "energised"],
        "energised",
        {"when": "not x", "from": ["picking", "energised"], "to": "off"},
        {"when": "x", "from": "off", "to": "picking"},
        {"after": "wait", "from": "picking", "to": "energised"},
    ),
}
LIMITS = [15, 20, 25, 35, 45, 60, 90]


@st.composite
def timed_benches(draw: st.DrawFn) -> Bench:
    """The small bench with two timers; what permits torque passes over the relay, the timers or both."""
    names, kinds = ["t1", "t2"], draw(st.tuples(*[st.sampled_from(sorted(KINDS))] * 2))
    ports = ["stop.a", "not stop.a", "relay.out_a", "reset.pressed", "t1.o", "t2.o", "not t1.o"]
    devices = {**SMALL["devices"]}
    for name, kind in zip(names, kinds, strict=True):
        ms = {delay: f"{draw(st.sampled_from([10, 20, 40]))} ms" for delay in KINDS[kind]["delays"]}
        devices[name] = {"kind": kind, "name": name, "delays": ms}
    permit = draw(
        st.sampled_from(
            ["relay.out_a or t1.o", "relay.out_a and t1.o", "t1.o", "relay.out_a or t1.o and t2.o"]
        )
    )
    wiring = {**SMALL["wiring"], "unit.sto_a": permit, "unit.sto_b": permit}
    wiring |= {"t1.x": draw(st.sampled_from(ports[:4])), "t2.x": draw(st.sampled_from(ports))}
    data = {**SMALL, "kinds": {kind: KINDS[kind] for kind in kinds}, "devices": devices, "wiring": wiring}
    return _limited(Bench.model_validate({**data, "exclusions": []}), draw(st.sampled_from(LIMITS)))


@st.composite
def timed_faulty_benches(draw: st.DrawFn) -> Bench:
    """The same with at most three of its faults."""
    bench = draw(timed_benches())
    names = [one.id for one in faults_of(bench)]
    return only(bench, *draw(st.lists(st.sampled_from(names), min_size=1, max_size=3, unique=True)))


def _limited(bench: Bench, within_ms: int) -> Bench:
    effects = bench.required.effects
    off = effects.torque_off.model_copy(update={"within": within_ms * 1_000_000})
    required = bench.required.model_copy(update={"effects": effects.model_copy(update={"torque_off": off})})
    return bench.model_copy(update={"required": required})
