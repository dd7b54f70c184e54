"""What comes back within a demand: its time counts from the demand. On sound benches, under faults, and as told."""

import pytest
from chain_benches import WRONG, calm, patched
from chain_fault_benches import only
from chain_fault_naive import FaultJudge, Node
from chain_shapes import shape
from chain_timed_benches import timed_benches, timed_faulty_benches
from hypothesis import HealthCheck, assume, given, settings
from test_chain_brute_force import same_verdicts
from test_chain_fault_brute_force import same, searched

from interlock.bench import Bench
from interlock.chain import CheckResult, FaultResult, PropertyResult, check, ir
from interlock.chain.bent import compile_faulty
from interlock.chain.fault_check import judge_faults
from interlock.chain.losses import Loss, losses
from interlock.errors import BenchError
from interlock.verdict import Verdict

TIMER = WRONG / "66_timer_closes_the_contactor_again.yaml"
WAIT, PULSE, DROP_OUT, LIMIT = 300, 90, 60, 200  # ms, as the file states


def timer(**changes: int) -> Bench:
    """The bench whose timer closes the contactor again, with other times in ms."""
    ms = {"wait": WAIT, "pulse": PULSE, "within": LIMIT, **changes}
    delays = {name: f"{ms[name]} ms" for name in ("wait", "pulse")}
    opens = {"contactor_open": {"within": f"{ms['within']} ms"}}
    return patched(TIMER, {"devices": {"t1": {"delays": delays}}, "required": {"effects": opens}})


def failed(result: CheckResult) -> list[PropertyResult]:
    return [one for one in result.properties if one.verdict is not Verdict.PASS]


@pytest.mark.parametrize("wait", [300, 250, 40])
@pytest.mark.parametrize(("over", "in_time"), [(0, True), (1, False)])
def test_all_is_over_by_the_limit_that_counts_from_the_demand(wait: int, over: int, in_time: bool) -> None:
    """The latest end: the timer's wait, its pulse, and then the time the contactor takes to open.

    Who unlatches the emergency stop while the pulse lasts finds the contactor closed, and seals it in: another rule's.
    """
    bench = timer(wait=wait, within=wait + PULSE + DROP_OUT - over)
    found = {one.id for one in failed(check(bench, faults=0))} - {"supply_stays_off"}
    assert (found == set()) == in_time


def test_counted_from_where_it_comes_back_it_would_pass() -> None:
    assert PULSE + DROP_OUT < LIMIT
    one = failed(check(timer(), faults=0))[0]
    assert (one.id, one.function, len(one.acts)) == ("contactor_open", "emergency_off", 3)


def test_it_is_told_that_it_was_in_order_before() -> None:
    one = failed(check(timer(), faults=0))[0]
    assert one.sentence == (
        "After these 3 steps the line contactor stays closed although the emergency-off button is latched. Before, "
        "within the same demand, that had been in order: the time counts from the demand on, and at most 200 ms are "
        "allowed."
    )
    assert [act.after["q1"] for act in one.acts] == ["open", "closing", "closed"]


def test_what_only_takes_too_long_is_told_as_before() -> None:
    slow = patched(TIMER, {"wiring": {"q1.coil": "emergency.c and (power.pressed or q1.aux)"}})
    slow = patched_limit(slow, DROP_OUT - 1)
    one = failed(check(slow, faults=0))[0]
    assert "until a late reaction comes" in one.sentence
    assert (
        f"the drop out of the line contactor (up to {DROP_OUT} ms); at most {DROP_OUT - 1} ms" in one.sentence
    )
    assert "in order" not in one.sentence


def patched_limit(bench: Bench, within_ms: int) -> Bench:
    effects = bench.required.effects
    assert effects.contactor_open is not None
    opens = effects.contactor_open.model_copy(update={"within": within_ms * 1_000_000})
    required = bench.required.model_copy(
        update={"effects": effects.model_copy(update={"contactor_open": opens})}
    )
    return bench.model_copy(update={"required": required})


@settings(max_examples=15, deadline=None)
@given(timed_benches())
def test_the_plain_judge_agrees_on_benches_with_timers(bench: Bench) -> None:
    try:
        check(bench, faults=0)
    except BenchError:
        assume(False)
        return
    same_verdicts(bench)


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(timed_faulty_benches())
def test_the_plain_judge_agrees_under_faults(bench: Bench) -> None:
    assume(not searched(bench, 2).restless.any())
    same(bench, 2)


def guarded() -> Bench:
    """The timer's contact counts only while the acknowledge button is pressed: no fault, and nothing comes back."""
    coil = "emergency.c and (power.pressed or q1.aux) or t1.out and not k1.out_a and k1.out_b"
    return patched(TIMER, {"wiring": {"q1.coil": coil}})


def test_under_a_fault_what_comes_back_is_a_loss_with_its_way() -> None:
    """The guard relay's second contact welds: then, and only then, the timer's contact reaches the contactor."""
    assert failed(check(guarded(), faults=0)) == []
    report = judge_faults(guarded(), 1)
    lost = {one.set[0]: one for one in report.faults if ("emergency_off", "contactor_open") in one.effects}
    welded = lost["k1.out_b_welds"]
    assert welded.minimal
    assert welded.acts[-1].after["q1"] == "closed"
    assert any("fan timer: contact closed" in act.words for act in welded.acts)
    assert (
        "the line contactor stays closed although the emergency-off button demanded the stop"
        in welded.sentence
    )
    assert welded.story is not None
    assert welded.story.moments == len(welded.acts) + 1
    assert "k1.out_a_welds" not in lost


def test_with_a_limit_that_holds_the_same_fault_loses_nothing() -> None:
    report = judge_faults(patched_limit(guarded(), WAIT + PULSE + DROP_OUT), 1)
    lost = {one.set[0] for one in report.faults if ("emergency_off", "contactor_open") in one.effects}
    assert "k1.out_b_welds" not in lost
    assert "q1.welds" in lost


ARMED = {
    "kinds": {
        "pulse_timer": {
            "outputs": {"armed": "never"},
            "faults": {
                "stays_armed": {
                    "text": "it stays armed",
                    "source": "invented",
                    "outputs": {"armed": "always"},
                }
            },
        }
    },
    "wiring": {"q1.coil": "emergency.c and (power.pressed or q1.aux) or t1.out and t1.armed"},
}


def test_what_is_lost_for_a_moment_only_is_not_seen_by_anybody() -> None:
    """The contactor closes for a moment in each stop: that no eye notices, so the fault stays.

    Nobody is so quick as to unlatch the emergency stop within that moment, which would seal the contactor in.
    """
    report = judge_faults(calm(patched(TIMER, ARMED)), 1)
    [armed] = [one for one in report.faults if one.set == ("t1.stays_armed",)]
    assert armed.effects == (("emergency_off", "contactor_open"),)
    assert not armed.detected
    assert ", later than allowed after the demand." in armed.sentence
    [welded] = [one for one in report.faults if one.set == ("q1.welds",)]
    assert welded.detected
    assert "later than allowed" not in welded.sentence


def test_a_contactor_that_needs_too_long_by_itself_is_seen() -> None:
    """Its limit is shorter than it takes to open: it lasts from where it stands, and is told as before."""
    report = judge_faults(patched_limit(patched(TIMER, ARMED), DROP_OUT - 1), 1)
    [armed] = [one for one in report.faults if one.set == ("t1.stays_armed",)]
    assert ("emergency_off", "contactor_open") in armed.effects
    assert "later than allowed" not in armed.sentence


def test_where_the_time_takes_too_much_room_nothing_passes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("interlock.chain.clock._MOST", 0)
    slow = timer(within=WAIT + PULSE + DROP_OUT)
    verdicts = {one.id: one.verdict for one in check(slow, faults=0).properties}
    assert verdicts["contactor_open"] is Verdict.INCONCLUSIVE
    assert verdicts["release_never_restarts"] is Verdict.PASS  # it speaks of no time


def test_under_faults_too_little_room_is_not_verified(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("interlock.chain.again_timed._MOST_PAIRS", 1)
    report = judge_faults(guarded(), 1)
    assert not report.search.whole
    assert report.search.sentence.startswith("Not verified: the time since a demand takes ")
    assert not any(one.verified for one in report.faults if one.revealed_by or one.lost)


def test_a_bench_without_such_moves_needs_no_room_for_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("interlock.chain.again_timed._MOST_PAIRS", 0)
    assert judge_faults(shape("diagnostic_feedback"), 1).search.whole


UNLIMITED = WRONG / "84_timer_closes_the_contactor_without_limit.yaml"
GATED = {"q1.coil": "emergency.c and (power.pressed or q1.aux) or t1.out and not k1.out_a and k1.out_b"}
HELD = {"q1.coil": "emergency.c and (power.pressed or q1.aux) or k1.out_b and not k1.out_a"}


def losing_supply(wiring: dict[str, str]) -> dict[str, FaultResult]:
    """By fault, where no time is stated for the contactor, what loses the supply's staying off."""
    report = judge_faults(patched(UNLIMITED, {"wiring": wiring}), 1)
    return {one.set[0]: one for one in report.faults if ("emergency_off", "supply_stays_off") in one.effects}


def test_without_a_limit_the_supply_must_not_come_back_at_all_not_even_by_a_fault() -> None:
    assert failed(check(patched(UNLIMITED, {"wiring": GATED}), faults=0)) == []
    welded = losing_supply(GATED)["k1.out_b_welds"]
    assert welded.acts[-1].after["q1"] == "closed"
    assert (
        "the line contactor closes again, be it for a moment only, although nobody pressed" in welded.sentence
    )
    assert "later than allowed" not in welded.sentence
    assert "closes again" not in str(welded.at)  # nobody sees what is there for a moment
    assert "k1.out_a_welds" not in losing_supply(GATED)


def test_the_plain_walk_finds_the_same_moment() -> None:
    kept = ["k1.out_b_welds", "k1.out_a_welds"]
    bench = only(patched(UNLIMITED, {"wiring": GATED}), *kept)
    judge, soonest = FaultJudge(bench, 1), dict[str, int]()
    for node, steps in sorted(judge.nodes.items(), key=lambda one: one[1]):
        for after in judge.after(node):
            closes = not shows(judge, node, "q1.main") and shows(judge, after, "q1.main")
            taken = "emergency_off" in node.notes.unsupplied & after.notes.unsupplied
            if closes and taken and node.faults == after.faults:
                soonest.setdefault("".join(after.faults), steps + 1)
    told = losing_supply(GATED)
    assert soonest == {name: told[name].steps for name in kept if name in told} != {}


def shows(judge: FaultJudge, node: Node, port: str) -> bool:
    return bool(judge.world[node.faults].values(node.state)[port])


def test_what_stays_closed_is_told_as_lasting_and_is_seen_after_all() -> None:
    """Held closed by the welded contact it needs no timer, and lasts: anybody can see it."""
    welded = losing_supply(HELD)["k1.out_b_welds"]
    assert "be it for a moment only" not in welded.sentence
    assert "is closed again although nobody pressed the power button anew" in welded.sentence


def test_with_a_limit_the_rule_without_one_is_not_asked() -> None:
    asked = {one.id for one in check(timer(), faults=0).properties}
    assert "supply_not_again" not in asked
    assert "supply_not_again" in {one.id for one in check(patched(UNLIMITED, {}), faults=0).properties}


SMALL = ["diagnostic_feedback", "flow_switch", "single_contactor", "discharge_by_contact"]


@pytest.mark.parametrize("name", SMALL)
def test_a_loss_under_faults_is_there_only_while_its_time_runs(name: str) -> None:
    explored = searched(shape(name), 1)
    [whole] = explored.search.parts
    ground, met = whole.ground, whole.spread.met
    for loss in whole.hunt.losses:
        if loss.during is not None:
            outside = ground.truth(ir.all_of([loss.term, ir.no(loss.during)]))
            assert not ground.where(outside, met).any(), loss.complaint


@pytest.mark.parametrize("name", SMALL)
def test_every_loss_with_a_limit_says_from_when_it_counts(name: str) -> None:
    for loss in losses(compile_faulty(shape(name), ())):
        assert (loss.during is not None) or not loss.within_ns, loss.complaint


@pytest.mark.parametrize("name", SMALL)
def test_what_lasts_is_told_before_what_only_comes_back(name: str) -> None:
    explored = searched(shape(name), 2)
    for effect, found in explored.lost.items():
        for number, one in found.items():
            same = [
                lost[number]
                for loss, lost in explored.search.each()
                if isinstance(loss, Loss) and (loss.function, loss.effect) == effect and number in lost
            ]
            assert (one.brief, one.steps) == min((other.brief, other.steps) for other in same)
            assert one.steps == one.goal.level + len(one.then)
