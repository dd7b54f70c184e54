"""Late reactions one after the other add up; those side by side do not.

The delays are invented; what they must add up to follows from the wiring alone.
"""

from pathlib import Path

import pytest
from chain_benches import random_benches
from chain_naive import Judge, World
from chain_naive_rules import soonest, soonest_of_all
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from interlock.bench import Bench, parse_bench
from interlock.chain import CheckResult, PropertyResult, check
from interlock.chain.fault_check import judge_faults
from interlock.errors import BenchError
from interlock.verdict import Verdict

RIG = (Path(__file__).parents[1] / "benches" / "shapes" / "single_contactor.yaml").read_text("utf-8")
LAST = "  q1: {kind: contactor, name: motor contactor, delays: {pick_up: 30 ms, drop_out: 30 ms}}\n"
COIL = "  q1.coil: k1.out_a\n"
LIMIT = "torque_off: {of: [pump], within: 100 ms"


def pilot(name: str, drop_out: int) -> str:
    delays = f"{{pick_up: 30 ms, drop_out: {drop_out} ms}}"
    return f"  {name}: {{kind: contactor, name: contactor {name}, delays: {delays}}}\n"


def rig(devices: dict[str, int], wiring: dict[str, str], within: int) -> Bench:
    """The rig with other contactors and their drop-out in ms, and another limit in ms."""
    text = RIG.replace(LAST, "".join(pilot(name, drop_out) for name, drop_out in devices.items()))
    text = text.replace(COIL, "".join(f"  {port}: {wired}\n" for port, wired in wiring.items()))
    assert LIMIT in text
    feedback = " and ".join(f"{name}.mirror" for name in devices)
    text = text.replace("k1.feedback: q1.mirror", f"k1.feedback: {feedback}")
    text = text.replace(
        "  pump.supply: q1.main\n", "" if "pump.supply" in wiring else "  pump.supply: q1.main\n"
    )
    return parse_bench("rig.yaml", text.replace(LIMIT, LIMIT.replace("100", str(within))))


IN_A_ROW = {"qb.coil": "k1.out_a", "qa.coil": "qb.main", "q1.coil": "qa.main"}
SIDE_BY_SIDE = {"qb.coil": "k1.out_a", "q1.coil": "k1.out_a", "pump.supply": "q1.main or qb.main"}
BOTH = {
    "qb.coil": "k1.out_a",
    "q1.coil": "qb.main",
    "qa.coil": "k1.out_a",
    "pump.supply": "q1.main or qa.main",
}

CASES = {
    "three in a row, in time": ({"q1": 80, "qa": 80, "qb": 80}, IN_A_ROW, 240, True),
    "three in a row, too late": ({"q1": 80, "qa": 80, "qb": 80}, IN_A_ROW, 239, False),
    "each of them alone is in time": ({"q1": 80, "qa": 80, "qb": 80}, IN_A_ROW, 100, False),
    "two side by side, in time": ({"q1": 80, "qb": 70}, SIDE_BY_SIDE, 80, True),
    "two side by side, one too late": ({"q1": 80, "qb": 70}, SIDE_BY_SIDE, 79, False),
    "two in a row beside a slow one, in time": ({"q1": 80, "qb": 80, "qa": 150}, BOTH, 160, True),
    "two in a row beside a slow one, too late": ({"q1": 80, "qb": 80, "qa": 150}, BOTH, 159, False),
    "the slow one is the last": ({"q1": 80, "qb": 80, "qa": 170}, BOTH, 170, True),
    "the slow one is too late": ({"q1": 80, "qb": 80, "qa": 170}, BOTH, 169, False),
}


def torque_off(result: CheckResult) -> list[PropertyResult]:
    return [one for one in result.properties if one.id == "torque_off"]


@pytest.mark.parametrize("case", CASES)
def test_delays_add_up_where_one_waits_for_the_other(case: str) -> None:
    devices, wiring, within, in_time = CASES[case]
    found = {one.verdict for one in torque_off(check(rig(devices, wiring, within)))}
    assert found == {Verdict.PASS if in_time else Verdict.FAIL}


@pytest.mark.parametrize("case", CASES)
def test_the_plain_judge_agrees(case: str) -> None:
    devices, wiring, within, in_time = CASES[case]
    judge = Judge(World(rig(devices, wiring, within)))
    for function in ("door_stop", "emergency_stop"):
        assert (soonest(judge, "torque_off", function, "pump") is None) == in_time


def test_what_is_too_late_is_told_so() -> None:
    devices, wiring, _, _ = CASES["three in a row, too late"]
    [one, _] = torque_off(check(rig(devices, wiring, 239)))
    assert one.sentence.endswith(
        ", until a late reaction comes, which by the data sheets may take too long: the drop out of the contactor qb "
        "(up to 80 ms) and then the drop out of the contactor qa (up to 80 ms) and then the drop out of the contactor "
        "q1 (up to 80 ms); at most 239 ms are allowed."
    )


@pytest.mark.parametrize("case", CASES)
def test_under_faults_delays_add_up_in_the_same_way(case: str) -> None:
    """A contact that stays open loses nothing on a bench that is in time; on one that is not, all is lost anyway."""
    devices, wiring, within, in_time = CASES[case]
    report = judge_faults(rig(devices, wiring, within), 1)
    lost = {fault.set[0] for fault in report.faults if "door_stop" in fault.lost}
    assert ("door.a_stays_open" in lost) == ("reset.stays_open" in lost) == (not in_time)
    assert {"q1.welds", "door.a_stays_closed", "k1.out_a_welds"} <= lost or len(wiring) > 3


def limited(bench: Bench, within_ms: int) -> Bench:
    """The bench with another limit for its torque to go away."""
    effects = bench.required.effects
    off = effects.torque_off.model_copy(update={"within": within_ms * 1_000_000})
    required = bench.required.model_copy(update={"effects": effects.model_copy(update={"torque_off": off})})
    return bench.model_copy(update={"required": required})


@settings(max_examples=12, deadline=None)
@given(random_benches(), st.sampled_from([10, 15, 20, 25, 310, 600]))
def test_the_plain_judge_agrees_on_random_benches(bench: Bench, within_ms: int) -> None:
    """Their delays are 10 ms and 300 ms, so that two or three of them decide."""
    bench = limited(bench, within_ms)
    try:
        result = check(bench)
    except BenchError:
        assume(False)
        return
    assume(result.states < 1000)
    judge = Judge(World(bench))
    for one in result.properties:
        if one.id in {"torque_off", "stays_off", "stop_completes"}:
            steps = soonest_of_all(judge, one.id, one.function, one.subject)
            assert (steps is not None) == (one.verdict is Verdict.FAIL)
            assert steps is None or steps == len(one.acts)
