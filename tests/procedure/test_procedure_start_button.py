"""A start button beside the reset: it is let go before anything else is done, so that each step says what is true."""

from functools import cache

import pytest

from interlock.bench import Bench, parse_bench
from interlock.procedure.derive import derive
from interlock.procedure.goals import Goal, GoalKind
from interlock.procedure.plan import Plan
from interlock.procedure.words import observed

BENCH = """
bench:
  id: line_motor
  name: Pump stand on the line
  place: training shop
  ratings: {bus_voltage: 400 V, max_speed: 1480 1/min}
kinds:
  line_fed_motor:
    text: motor on the line, which turns while it is fed
    inputs: {feed: }
    start: still
    states: {still: without current, fed: makes torque}
    outputs: {torque: fed}
    transitions:
      - {when: feed, from: still, to: fed}
      - {when: not feed, from: fed, to: still}
    no_wire: [feed]
devices:
  door: {kind: guard_switch, name: coupling guard}
  estop: {kind: emergency_stop, name: mushroom button}
  ack: {kind: push_button, name: acknowledge button}
  go: {kind: push_button, name: start button}
  k0: {kind: safety_relay, name: guard relay}
  q1: {kind: contactor, name: line contactor, delays: {pick_up: 40 ms, drop_out: 50 ms}}
  pump: {kind: line_fed_motor, name: pump motor}
wiring:
  k0.channel_a: door.a and estop.a
  k0.channel_b: door.b and estop.b
  k0.reset: ack.pressed
  k0.feedback: q1.mirror
  q1.coil: k0.out_a and (go.pressed or q1.aux)
  pump.feed: q1.main
required:
  reset: {by: ack, acts_on: release, source: "ISO 13849-1:2015, 5.2.2"}
  restart: {no_sooner_than: 200 ms, source: "common practice, no source"}
  effects:
    torque_off: {of: [pump], within: 120 ms, source: risk assessment}
  functions:
    door_stop:
      title: opening the coupling guard takes the torque away
      demand: door
      stop_category: 0
      effects: [torque_off]
      source: "ISO 14119:2013, 4.2"
    emergency_stop:
      title: the mushroom button takes the torque away
      demand: estop
      stop_category: 0
      effects: [torque_off]
      source: "ISO 13850:2015, 4.1"
"""


@cache
def bench() -> Bench:
    return parse_bench("line_motor.yaml", BENCH)


@cache
def plan() -> Plan:
    return derive(bench())


def test_a_button_that_is_held_is_let_go_by_the_next_act() -> None:
    """Held on, the start button would start the motor at the reset, and the reset would not be tested at all."""
    acts = [(step.device, step.does) for step in plan().steps if step.device]
    held = [n for n, (device, does) in enumerate(acts) if device in {"go", "ack"} and does == ("press",)]
    assert {acts[n][0] for n in held} == {"go", "ack"}
    for n in held:
        assert acts[n + 1 : n + 2] == [(acts[n][0], ("release",))], plan().steps[n + 1].act


def test_torque_comes_by_the_start_alone() -> None:
    """No step says of a motor that runs that it makes no torque."""
    said = {step.number: "; ".join(step.observe) for step in plan().steps}
    starting = {step.device for step in plan().steps if "pump motor: makes torque" in said[step.number]}
    assert starting == {"go"}
    assert not [
        one for one in said.values() if "makes no torque" in one and "pump motor: makes torque" in one
    ]


def test_everything_required_is_still_reached_within_the_bound() -> None:
    found = plan()
    assert found.not_exercised == ()
    assert found.lower_bound <= found.cost <= 1.15 * found.lower_bound


@pytest.mark.parametrize("kind", [GoalKind.RESET_BARRED, GoalKind.RELEASE, GoalKind.RESET, GoalKind.PRESS])
def test_nothing_is_said_of_what_the_bench_has_not(kind: GoalKind) -> None:
    """This bench has no references, and its motor no line that enables it; one motor stays off, two stay off."""
    said = "; ".join(observed(bench(), Goal(kind, "door_stop")))
    assert "pump motor" in said
    for stray in ("reference", "enabl", "pump motor stay off", "pump motor make "):
        assert stray not in said
