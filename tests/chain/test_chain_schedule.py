"""A stop of category 1 whose torque is taken before its ramp is over, by the times as they are stated.

IEC 60204-1:2016, 9.2.2: in a stop of category 1 the power is removed when the stop has been achieved. Invented benches.
"""

import pytest
from chain_benches import WRONG, patched
from chain_naive import Judge, World
from chain_naive_rules import soonest, soonest_of_all
from chain_shapes import judged, of, shape
from chain_zoned_benches import ramp_benches
from hypothesis import HealthCheck, assume, given, settings
from test_chain_judge import at, board, explored, rule
from test_chain_judge import judged as judge_rule

from interlock.bench import Bench
from interlock.chain import check, ir
from interlock.chain.by_schedule import by_schedule
from interlock.chain.property import NeverOnSchedule
from interlock.errors import BenchError
from interlock.verdict import Verdict

RAMP = "stop_input_and_delay"
OURS = {"stop_category", "ramp_completed", "power_removed", "torque_off"}


def to(place: str) -> ir.Term:
    return ir.all_of([ir.no(ir.was(at(place))), at(place)])


def by(*numbers: int) -> ir.Term:
    return ir.By(frozenset(numbers))


@pytest.mark.parametrize(
    ("moves", "first", "way"),
    [
        (("a>b", "b~c 50", "b~x 60"), (), None),  # c comes first, and there the token stays
        (("a>b", "b~c 60", "b~x 50"), (), (0, 2)),
        (("a>b", "b~c 50", "c~x 60"), (), (0, 1, 2)),
        (("a>b", "b~c 50", "b~x 50"), (1,), None),  # of two at the same moment that one is first
        (("a>b", "b~c 50", "b~x 50"), (2,), (0, 2)),
        (("a>b", "b>x", "b~c 50"), (), None),  # nobody acts
        (("a>b", "b~c 10", "c~b 10"), (), None),  # it goes on for ever and is given up
        (("a>b",), (), None),
    ],
)
def test_what_comes_first_by_the_stated_times(
    moves: tuple[str, ...], first: tuple[int, ...], way: tuple[int, ...] | None
) -> None:
    chain = board(*moves)
    claim = NeverOnSchedule(
        {"token": to("x")} if any("x" in one for one in moves) else {}, to("b"), by(*first)
    )
    found = by_schedule(explored(chain), chain.events, claim)
    events = None if found is None else tuple(explored(chain).event_of(one) for one in found)
    assert events == way


def test_a_reaction_that_stays_due_keeps_its_time() -> None:
    """Two fields: a timer of 70 runs on while another of 50 comes; counted anew it would come at 120."""
    one = ir.Field("one", ("idle", "runs", "done"), "idle")
    two = ir.Field("two", ("idle", "runs", "done", "more"), "idle")

    def step(was: str, now: str, guard: ir.Term = ir.TRUE) -> tuple[ir.Step, ...]:
        return (ir.Step(frozenset({was}), guard, now),)

    ms = 1_000_000
    began = ir.Now("two", frozenset({"runs", "done", "more"}))
    events = (
        ir.Event("two", "go", ir.EventKind.ACT, step("idle", "runs")),
        ir.Event("one", "seventy", ir.EventKind.LATE, step("idle", "done", began), 70 * ms),
        ir.Event("two", "fifty", ir.EventKind.LATE, step("runs", "done"), 50 * ms),
        ir.Event("two", "thirty", ir.EventKind.LATE, step("done", "more"), 30 * ms),
    )
    chain = ir.Chain((one, two), (), events)

    def told(culprit: ir.Term) -> bool:
        claim = NeverOnSchedule({"it": culprit}, by(0), by())
        return by_schedule(explored(chain), events, claim) is not None

    done, more = ir.Now("one", frozenset({"done"})), ir.Now("two", frozenset({"more"}))
    assert not told(ir.all_of([by(3), ir.no(done)]))  # the third, at 80, never comes before the first, at 70
    assert told(ir.all_of([by(1), ir.no(more)]))


def test_a_claim_on_schedule_is_judged_like_any_other() -> None:
    chain = board("a>b", "b~c 60", "b~x 50")
    claim = NeverOnSchedule({"token": to("x")}, to("b"), by())
    found = judge_rule(chain, rule(claim))
    assert (found.verdict, found.way, found.culprits) == (Verdict.FAIL, (0, 2), ("token",))
    assert judge_rule(board("a>b", "b~c 50", "b~x 60"), rule(claim)).verdict is Verdict.PASS
    cut = judge_rule(board("a>z", "z>b", "b~c 50", "b~x 60"), rule(claim), limit=2)
    assert cut.verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize(
    ("timer", "ramp", "verdict"),
    [
        ("900 ms", "700 ms", Verdict.PASS),
        ("700 ms", "700 ms", Verdict.PASS),  # at the same moment: the ramp is over
        ("699 ms", "700 ms", Verdict.FAIL),
        ("20 ms", "700 ms", Verdict.FAIL),
    ],
)
def test_a_timer_must_not_be_shorter_than_the_ramp(timer: str, ramp: str, verdict: Verdict) -> None:
    times = ("off_delay: 900 ms", f"off_delay: {timer}"), ("stop_time: 700 ms", f"stop_time: {ramp}")
    result = judged(RAMP, *times)
    assert of(result, "ramp_completed", "hood_stop", "drive").verdict is verdict
    assert result.verdict is verdict
    plain = soonest(Judge(World(shape(RAMP, *times))), "ramp_completed", "hood_stop", "drive")
    assert plain == (None if verdict is Verdict.PASS else 5)


def test_the_sentence_names_what_is_stated_and_what_follows() -> None:
    one = of(judged(RAMP, ("off_delay: 900 ms", "off_delay: 600 ms")), "ramp_completed", "hood_stop", "drive")
    assert one.sentence == (
        "After these 5 steps the drive motor loses the torque while it still brakes, by the stated times, and coasts "
        "from there: what takes it away is set shorter than the ramp (stop_time 700 ms)."
    )
    assert [act.kind for act in one.acts[-2:]] == [ir.EventKind.ACT, ir.EventKind.LATE]


def test_a_unit_whose_braking_has_no_end_of_its_own_is_ended_by_the_timer() -> None:
    """It holds the shaft by its control until its torque is taken: nothing is cut short there."""
    whole = of(judged(RAMP), "ramp_completed", "hood_stop", "drive")
    assert whole.verdict is Verdict.PASS
    holds = {
        "text": "drive that brakes and then holds", "inputs": {"go": "never", "sto": "never"}, "off_channels": ["sto"],
        "braking": "braking", "start": "off", "states": {"off": "off", "on": "on", "braking": "brakes and holds"},
        "outputs": {"torque": "on or braking", "enabled": "on"},
        "transitions": [
            {"when": "not sto", "from": ["on", "braking"], "to": "off"},
            {"when": "not go", "from": "on", "to": "braking"},
            {"act": "start", "when": "go and sto", "from": "off", "to": "on", "words": "start the {name}"},
        ],
    }  # fmt: skip
    path = WRONG / "82_timer_shorter_than_ramp.yaml"
    drive = {"kind": "holding_drive", "delays": None}
    wiring = {"drive.sto": "k2.out_a", "drive.sto_a": None, "drive.sto_b": None, "drive.supply": None}
    bench = patched(path, {"kinds": {"holding_drive": holds}, "devices": {"drive": drive}, "wiring": wiring})
    assert of(check(bench), "ramp_completed", "hood_stop", "drive").verdict is Verdict.PASS
    assert soonest(Judge(World(bench)), "ramp_completed", "hood_stop", "drive") is None


def test_only_stops_of_category_1_are_asked_for_their_ramp() -> None:
    asked = {one.function for one in judged("ramp_by_timer").properties if one.id == "ramp_completed"}
    assert asked == {"halt_stop"}


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(ramp_benches())
def test_the_plain_judge_agrees_on_random_benches_that_brake(bench: Bench) -> None:
    try:
        result = check(bench, faults=0)
    except BenchError:
        assume(False)
        return
    judge = Judge(World(bench))
    for one in result.properties:
        if one.id in OURS:
            steps = len(one.acts) if one.verdict is Verdict.FAIL else None
            assert soonest_of_all(judge, one.id, one.function, one.subject) == steps, one.title
