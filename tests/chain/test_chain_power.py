"""Stops of category 1, discharge and coasting: what takes too long, and what the drive's control alone keeps off.

Stop categories: IEC 60204-1:2016, 9.2.2 (0 removes the power at once, 1 after a controlled stop). Invented benches.
"""

import pytest
from chain_benches import WRONG, wrong
from chain_shapes import judged, not_passed, of, shape

from interlock.bench import Bench, parse_bench
from interlock.chain import CheckResult, check
from interlock.verdict import Verdict

RAMP = "stop_category_1"
BRIDGED = ("drive.sto_a: k2.out_a", "drive.sto_a: always"), ("drive.sto_b: k2.out_b", "drive.sto_b: always")


def edited(name: str, *changes: tuple[str, str]) -> Bench:
    text = (WRONG / name).read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return parse_bench(name, text)


def timed(off_delay: str, limit: str = "2 s", ramp: str = "1200 ms") -> CheckResult:
    """The winder, whose drive brakes and whose torque-off inputs follow by a delayed relay."""
    changes = (
        ("off_delay: 2500 ms", f"off_delay: {off_delay}"),
        ("within: 2 s", f"within: {limit}"),
        ("stop_time: 1200 ms", f"stop_time: {ramp}"),
    )
    return check(edited("71_stop_timer_too_long.yaml", *changes))


@pytest.mark.parametrize(
    ("off_delay", "limit", "verdict"),
    [
        ("1500 ms", "2 s", Verdict.PASS),
        ("2 s", "2 s", Verdict.PASS),  # the limit itself is in time
        ("2001 ms", "2 s", Verdict.FAIL),
        ("2500 ms", "2 s", Verdict.FAIL),
        ("2500 ms", "3 s", Verdict.PASS),
    ],
)
def test_the_power_must_go_within_the_time_for_torque_off(
    off_delay: str, limit: str, verdict: Verdict
) -> None:
    result = timed(off_delay, limit)
    assert of(result, "power_removed", "hood_stop", "drive").verdict is verdict
    assert result.verdict is verdict


def test_a_ramp_that_is_too_long_is_still_told_by_the_torque_first() -> None:
    failed = [one.id for one in timed("2500 ms", "2 s", "2400 ms").properties if one.verdict is Verdict.FAIL]
    assert failed[0] == "torque_off"
    assert "power_removed" in failed


def test_control_alone_does_not_keep_the_torque_away() -> None:
    result = check(wrong("70_stop_timer_missing.yaml"))
    assert set(not_passed(result)) == {"power_removed"}
    sentence = of(result, "power_removed", "estop_stop", "drive").sentence
    assert "the torque-off inputs and the supply of the winder drive stay on" in sentence


def test_the_supply_removes_the_power_as_well_as_a_torque_off_input() -> None:
    """The torque-off inputs are bridged, and a contactor behind the delayed relay takes the supply."""
    contactor = (
        (
            "  drive: {kind",
            "  q1: {kind: contactor, name: line contactor, delays: {pick_up: 50 ms, drop_out: 50 ms}}\n  drive: {kind",
        ),
        *BRIDGED,
        ("drive.supply: always", "drive.supply: q1.main\n  q1.coil: k2.out_b"),
    )
    result = check(
        edited("71_stop_timer_too_long.yaml", ("off_delay: 2500 ms", "off_delay: 1500 ms"), *contactor)
    )
    assert of(result, "power_removed", "hood_stop", "drive").verdict is Verdict.PASS
    late = check(
        edited("71_stop_timer_too_long.yaml", ("off_delay: 2500 ms", "off_delay: 1990 ms"), *contactor)
    )
    assert of(late, "power_removed", "hood_stop", "drive").verdict is Verdict.FAIL  # 1990 ms and 50 ms


def test_a_stop_of_category_1_brakes_before_the_torque_goes() -> None:
    result = check(wrong("72_no_ramp_before_torque_off.yaml"))
    assert set(not_passed(result)) == {"stop_category"}
    assert "without having braked" in of(result, "stop_category", "hood_stop", "drive").sentence


def test_a_drive_that_does_not_brake_until_the_timer_has_run_out_is_found() -> None:
    result = check(
        edited(
            "71_stop_timer_too_long.yaml",
            ("off_delay: 2500 ms", "off_delay: 1500 ms"),
            ("drive.go: k1.out_b", "drive.go: always"),
        )
    )
    assert of(result, "stop_category", "hood_stop", "drive").verdict is Verdict.FAIL


def test_who_stops_the_unit_by_its_control_or_lets_it_run_out_is_no_demand() -> None:
    """The person's own `stop` takes the torque without braking, also while a door is open: no stop of category 1."""
    assert not_passed(judged(RAMP)) == {}


@pytest.mark.parametrize("category", [0, 1])
def test_only_stops_of_category_1_are_asked_to_remove_the_power_after_braking(category: int) -> None:
    result = judged(
        RAMP, *[("stop_category: 1", f"stop_category: {category}") for _ in range(2 * (category == 0))]
    )
    asked = {(one.function, one.subject) for one in result.properties if one.id == "power_removed"}
    assert asked == ({("hood_stop", "drive"), ("halt_stop", "drive")} if category else set())


CATEGORY_1 = ("stop_category: 0", "stop_category: 1")


def test_category_1_by_a_contactor_is_not_shown_where_no_unit_can_brake() -> None:
    """The torque goes later than the demand, and nothing says that it does so by control: neither right nor wrong."""
    result = judged("single_contactor", CATEGORY_1)
    found = of(result, "stop_category", "door_stop")
    assert (found.verdict, result.verdict) == (Verdict.INCONCLUSIVE, Verdict.INCONCLUSIVE)
    assert found.sentence.startswith("Not verified: the torque goes later than the demand")
    assert "drive_ramp_stop, drive_stop_input, or braking in a kind of your own" in found.sentence
    assert not_passed(result) == {"stop_category": Verdict.INCONCLUSIVE}
    assert all(one.acts is not None for one in found.premise)
    assert not [one for one in judged("single_contactor").properties if one.id == "stop_category"]


@pytest.mark.parametrize("name", ["three_doors", "emergency_stop_of_each_drive"])
def test_category_1_by_torque_off_at_once_fails_where_no_unit_can_brake(name: str) -> None:
    found = of(judged(name, CATEGORY_1), "stop_category")
    assert found.verdict is Verdict.FAIL
    assert "goes at once and no unit brakes" in found.sentence


def test_where_a_unit_brakes_category_1_is_decided() -> None:
    assert {one.verdict for one in judged(RAMP).properties if one.id == "stop_category"} == {Verdict.PASS}


@pytest.mark.parametrize(
    ("discharge", "after", "verdict"),
    [
        ("5 s", "contactor_open", Verdict.PASS),
        ("5001 ms", "contactor_open", Verdict.FAIL),
        ("4940 ms", "demand", Verdict.PASS),  # with the 60 ms that the contactor needs to open
        ("4941 ms", "demand", Verdict.FAIL),
    ],
)
def test_the_bus_is_discharged_in_time(discharge: str, after: str, verdict: Verdict) -> None:
    changes = (("discharge: 7 s", f"discharge: {discharge}"), ("after: contactor_open", f"after: {after}"))
    result = check(edited("73_bus_discharges_too_slowly.yaml", *changes))
    assert of(result, "bus_discharged_in_time", "estop_stop", "bus").verdict is verdict
    assert of(result, "bus_discharged", "estop_stop", "bus").verdict is Verdict.PASS


@pytest.mark.parametrize(("limit", "verdict"), [("12 s", Verdict.PASS), ("11900 ms", Verdict.FAIL)])
def test_a_shaft_comes_to_rest_in_time(limit: str, verdict: Verdict) -> None:
    result = check(edited("74_shaft_coasts_too_long.yaml", ("within: 8 s", f"within: {limit}")))
    assert of(result, "standstill", "estop_stop", "shaft").verdict is verdict
    assert {one.function for one in result.properties if one.id == "standstill"} == {"estop_stop"}


def test_the_time_to_brake_counts_towards_standstill() -> None:
    """Ramp and coasting come one after the other and add up."""
    load, supply = "  load: {kind: drive_unit, name: load motor}", "  load.supply: always"
    risk = "source: risk assessment of the bench}\n"
    watched = (
        (load, f"{load}\n  shaft: {{kind: watched_shaft, name: shaft, delays: {{coast_down: 2 s}}}}"),
        (supply, f"{supply}\n  shaft.driven: drive.torque or load.torque"),
        (
            f"{risk}  functions:",
            f"{risk}    standstill: {{of: shaft, below: 10 1/min, within: LIMIT, {risk}  functions:",
        ),
        ("effects: [torque_off]", "effects: [torque_off, standstill]"),
    )
    for limit, verdict in (("2800 ms", Verdict.PASS), ("2700 ms", Verdict.FAIL)):
        text = [(old, new.replace("LIMIT", limit)) for old, new in watched]
        assert of(check(shape(RAMP, *text)), "standstill", "hood_stop").verdict is verdict


# A stop of category 1 on units that cannot brake (IEC 60204-1:2016, 9.2.2).

PLAIN = (
    "{kind: drive_ramp_stop, name: drive motor, delays: {stop_time: 800 ms}}",
    "{kind: drive_unit, name: drive motor}",
)
DELAYED = (
    (
        "  drive: {kind",
        "  k2: {kind: off_delay_relay, name: delay relay, delays: {off_delay: 700 ms}}\n  drive: {kind",
    ),
    ("drive.sto_a: k1.out_a", "k2.coil: k1.out_a and k1.out_b\n  drive.sto_a: k2.out_a"),
    ("drive.sto_b: k1.out_b", "drive.sto_b: k2.out_b"),
)


def test_all_torque_gone_at_once_is_no_stop_of_category_1() -> None:
    result = judged(RAMP, PLAIN)
    assert not_passed(result) == {"stop_category": Verdict.FAIL}
    one = of(result, "stop_category", "halt_stop", None)
    assert one.sentence == (
        "After these 5 steps all torque of the drive motor and load motor goes at once and no unit brakes, though the "
        "halt button asks for stop category 1."
    )
    assert one.acts[-1].words == "press the halt button"


def test_where_a_unit_loses_its_torque_later_that_it_was_controlled_is_not_shown() -> None:
    """That it was braked meanwhile its kind does not say. (A quick reset keeps the delay relay in: another mistake.)"""
    result = judged(RAMP, PLAIN, *DELAYED)
    assert not_passed(result) == {"stop_category": Verdict.INCONCLUSIVE, "stop_completes": Verdict.FAIL}
    assert len([one for one in result.properties if one.id == "stop_category"]) == 2


def test_a_stop_of_category_0_may_take_all_torque_at_once() -> None:
    result = judged(RAMP, PLAIN, ("      stop_category: 1\n", "      stop_category: 0\n"))
    told = {one.function for one in result.properties if one.verdict is Verdict.FAIL}
    assert told == {"halt_stop"}


def test_one_unit_that_brakes_is_enough() -> None:
    """The load motor loses its torque at once on the right bench, too."""
    assert not_passed(judged(RAMP)) == {}
    assert of(judged(RAMP), "stop_category", "halt_stop", "drive").verdict is Verdict.PASS
