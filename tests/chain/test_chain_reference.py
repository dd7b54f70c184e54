"""The plain interpreter: rounds in which all see the same moment, loops found, observers in their order."""

import pytest

from interlock.chain import ir, reference
from interlock.chain.reference import WiringLoop


def on(field: str) -> ir.Term:
    return ir.Now(field, frozenset({"on"}))


def lamp(name: str) -> ir.Field:
    return ir.Field(name, ("off", "on"), "off")


def follows(name: str, guard: ir.Term) -> ir.Reactions:
    """The lamp is on while the guard holds."""
    up = ir.Step(frozenset({"off"}), guard, "on")
    down = ir.Step(frozenset({"on"}), ir.no(guard), "off")
    return ir.Reactions(name, (up, down))


def switch(name: str) -> ir.Event:
    steps = (ir.Step(frozenset({"off"}), ir.TRUE, "on"), ir.Step(frozenset({"on"}), ir.TRUE, "off"))
    return ir.Event(name, "toggle", ir.EventKind.ACT, steps)


def chain(names: str, reactions: tuple[ir.Reactions, ...]) -> ir.Chain:
    return ir.Chain(tuple(lamp(name) for name in names), reactions, (switch("a"),))


ROW = chain("abc", (follows("b", on("a")), follows("c", on("b"))))


def test_reactions_run_on_until_nothing_changes() -> None:
    assert reference.settle(ROW, {"a": "on", "b": "off", "c": "off"}) == {"a": "on", "b": "on", "c": "on"}


def test_all_devices_of_a_round_see_the_same_moment() -> None:
    swap = chain("abc", (follows("b", on("c")), follows("c", on("b"))))
    with pytest.raises(WiringLoop) as caught:
        reference.settle(swap, {"a": "off", "b": "on", "c": "off"})
    assert caught.value.devices == {"b", "c"}


def test_settling_changes_no_state_in_place() -> None:
    state = {"a": "on", "b": "off", "c": "off"}
    reference.settle(ROW, state)
    assert state == {"a": "on", "b": "off", "c": "off"}


def test_a_device_that_reacts_to_its_own_absence_never_rests() -> None:
    buzzer = chain("ab", (follows("b", ir.all_of([on("a"), ir.no(on("b"))])),))
    assert reference.settle(buzzer, {"a": "off", "b": "off"})["b"] == "off"
    with pytest.raises(WiringLoop, match="b"):
        reference.settle(buzzer, {"a": "on", "b": "off"})


def test_only_devices_of_the_loop_are_named() -> None:
    both = chain("abcd", (follows("b", ir.no(on("b"))), follows("c", on("a")), follows("d", on("c"))))
    with pytest.raises(WiringLoop) as caught:
        reference.settle(both, {"a": "on", "b": "off", "c": "off", "d": "off"})
    assert caught.value.devices == {"b"}


def test_the_first_step_that_is_possible_is_taken() -> None:
    steps = (ir.Step(frozenset({"off"}), on("b"), "on"), ir.Step(frozenset({"off"}), ir.TRUE, "off"))
    event = ir.Event("a", "go", ir.EventKind.ACT, steps)
    assert reference.step_taken(event, {"a": "off", "b": "off"}) is steps[1]
    assert reference.step_taken(event, {"a": "off", "b": "on"}) is steps[0]
    assert reference.step_taken(event, {"a": "on", "b": "on"}) is None


def test_successors_are_settled() -> None:
    start = reference.start(ROW)
    assert list(reference.successors(ROW, start)) == [(0, {"a": "on", "b": "on", "c": "on"})]


def test_power_up_is_settled() -> None:
    always = chain("abc", (follows("b", ir.TRUE), follows("c", on("b"))))
    assert reference.start(always) == {"a": "off", "b": "on", "c": "on"}


@pytest.mark.parametrize(
    ("term", "expected"),
    [
        (ir.Was("a", frozenset({"off"})), True),
        (ir.Now("a", frozenset({"off"})), False),
        (ir.By(frozenset({3, 4})), True),
        (ir.By(frozenset({5})), False),
        (ir.No(ir.By(frozenset({5}))), True),
    ],
)
def test_terms_about_an_event(term: ir.Term, expected: bool) -> None:
    assert reference.holds(term, {"a": "off"}, {"a": "on"}, 4) is expected


def test_at_power_up_no_event_is_true() -> None:
    assert not reference.holds(ir.By(frozenset({0})), {}, {}, None)


COUNT = ir.Observer(
    ir.Field("count", ("none", "one", "more"), "none"),
    (
        (ir.all_of([ir.Was("count", frozenset({"none"})), on("a")]), "one"),
        (ir.all_of([ir.Was("count", frozenset({"one"})), on("a")]), "more"),
    ),
)
ALARM = ir.Observer(ir.Field("alarm", ("off", "on"), "off"), ((ir.Now("count", frozenset({"more"})), "on"),))


def test_an_observer_takes_its_first_update_that_holds_or_keeps_its_value() -> None:
    was = {"a": "off", "count": "none", "alarm": "off"}
    assert reference.watch((COUNT, ALARM), was, {"a": "off"}, 0)["count"] == "none"
    assert reference.watch((COUNT, ALARM), was, {"a": "on"}, 0)["count"] == "one"


def test_a_later_observer_sees_an_earlier_one_already_updated() -> None:
    was = {"a": "on", "count": "one", "alarm": "off"}
    assert reference.watch((COUNT, ALARM), was, {"a": "on"}, 0) == {"a": "on", "count": "more", "alarm": "on"}
    late = reference.watch((ALARM, COUNT), was, {"a": "on"}, 0)
    assert late["alarm"] == "off"
