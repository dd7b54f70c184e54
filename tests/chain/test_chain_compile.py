"""What compiling makes of wiring, defaults, outputs and the time that acts take."""

import pytest
from chain_benches import SAMPLE, patched, sample
from chain_walk import Walk

from interlock.bench import Bench
from interlock.bench.expr import parse
from interlock.chain import ir, reference
from interlock.chain.compile import compile_bench, substitute, waits


def now(field: str, *values: str) -> ir.Term:
    return ir.Now(field, frozenset(values))


def test_fields_are_the_devices_in_the_order_of_the_file() -> None:
    bench = sample()
    fields = compile_bench(bench).chain.fields
    assert [field.name for field in fields] == list(bench.devices)
    assert fields[0].values == ("closed", "a_open", "b_open", "open")


def test_an_output_is_the_set_of_states_in_which_it_is_true() -> None:
    outputs = compile_bench(sample()).outputs
    assert outputs["cover.a"] == now("cover", "closed", "b_open")
    assert outputs["contactor.mirror"] == now("contactor", "open", "closing")


def test_an_output_that_is_never_true_is_false() -> None:
    bench = with_kind({"outputs": {"x": "never", "y": "always"}})
    outputs = compile_bench(bench).outputs
    assert outputs["extra.x"] == ir.FALSE
    assert outputs["extra.y"] == now("extra", "one", "two")


def test_wiring_stands_in_place_of_an_input() -> None:
    inputs = compile_bench(sample()).inputs
    released = now("button", "released")
    assert inputs["relay.channel_a"] == ir.All(
        (now("cover", "closed", "b_open"), released, now("estop", "released"))
    )
    assert inputs["references.zero"] == ir.Any(
        (ir.No(now("drive", "ready", "running")), ir.No(now("load", "ready", "running")))
    )


def test_an_input_left_open_is_its_default() -> None:
    inputs = compile_bench(sample()).inputs
    assert inputs["relay.feedback"] == ir.TRUE
    assert inputs["drive.run"] == ir.FALSE


def test_a_step_that_its_default_forbids_is_kept_and_never_taken() -> None:
    chain = compile_bench(sample()).chain
    [drive] = [device for device in chain.reactions if device.device == "drive"]
    run = [step for step in drive.steps if step.to == "running"]
    assert [step.guard for step in run] == [ir.FALSE]


def test_acts_of_one_name_are_one_event() -> None:
    events = compile_bench(sample()).chain.events
    [event] = [event for event in events if (event.device, event.trigger) == ("cover", "open_a")]
    assert [(set(step.sources), step.to) for step in event.steps] == [
        ({"closed"}, "a_open"),
        ({"b_open"}, "open"),
    ]


def test_late_reactions_carry_the_delay_of_the_device() -> None:
    late = {
        (event.device, event.trigger): event.delay_ns
        for event in compile_bench(sample()).chain.events
        if event.kind is ir.EventKind.LATE
    }
    assert late == {
        ("contactor", "pick_up"): 50_000_000,
        ("contactor", "drop_out"): 50_000_000,
        ("bus", "discharge"): 5_000_000_000,
    }


def closed_supply(drop_out: str) -> Walk:
    walk = Walk(patched(SAMPLE, {"devices": {"contactor": {"delays": {"drop_out": drop_out}}}}))
    return walk.do("supply_on.press", "contactor.pick_up", "supply_on.release", "estop.press")


def test_an_act_waits_for_what_is_quicker() -> None:
    walk = closed_supply("199 ms")
    assert walk["contactor"] == "opening"
    assert not walk.can("estop.release")
    assert walk.do("contactor.drop_out").can("estop.release")


@pytest.mark.parametrize("drop_out", ["200 ms", "400 ms"])
def test_an_act_does_not_wait_for_what_is_as_slow_or_slower(drop_out: str) -> None:
    walk = closed_supply(drop_out)
    assert walk.can("estop.release")
    assert walk.do("estop.release")["contactor"] == "closed"


def test_a_late_reaction_may_be_overtaken_by_any_quick_act() -> None:
    walk = closed_supply("50 ms")
    for act in ("cover.open_a", "button.press", "reset.press", "supply_on.press"):
        assert walk.can(act)


def test_a_late_reaction_that_was_called_off_no_longer_waits() -> None:
    walk = Walk(sample()).do("supply_on.press")
    [pick_up] = [event for event in walk.chain.events if event.trigger == "pick_up"]
    assert walk.holds(waits(pick_up))
    assert not walk.do("supply_on.release").holds(waits(pick_up))
    assert not walk.can("contactor.pick_up")


def with_kind(changes: dict[str, object], wiring: dict[str, str] | None = None) -> Bench:
    kind = {
        "text": "device of a test",
        "start": "one",
        "states": {"one": "one", "two": "two"},
        "outputs": {"x": "two"},
        "transitions": [{"act": "go", "from": ["one"], "to": "two", "words": "go"}],
        **changes,
    }
    devices = {"extra": {"kind": "odd", "name": "extra"}}
    return patched(SAMPLE, {"kinds": {"odd": kind}, "devices": devices, "wiring": wiring or {}})


def test_of_two_steps_of_an_act_the_first_possible_one_is_taken() -> None:
    steps = [
        {"act": "go", "when": "x", "from": ["one"], "to": "two", "words": "go up"},
        {"act": "go", "from": ["one"], "to": "one", "words": "go round"},
    ]
    bench = with_kind({"inputs": {"x": "never"}, "transitions": steps}, {"extra.x": "reset.pressed"})
    assert Walk(bench).do("extra.go")["extra"] == "one"
    assert Walk(bench).do("reset.press", "extra.go")["extra"] == "two"


def test_substitute_keeps_the_meaning() -> None:
    expr = parse("not (a or b) and (c or not always or a)")
    term = substitute(expr, lambda name: now(name, "on"))
    for a in ("on", "off"):
        for b in ("on", "off"):
            for c in ("on", "off"):
                state = {"a": a, "b": b, "c": c}
                expected = not (a == "on" or b == "on") and (c == "on" or a == "on")
                assert reference.holds(term, state, state) is expected
