"""What must be observed, in the words and with the limits of the bench file."""

import pytest
from plan_benches import DEMO, SAMPLE, bench_of

from interlock.procedure.goals import Goal, GoalKind, goals_of
from interlock.procedure.words import changed, hold_words, observed, start_words, wait_s


def said(kind: GoalKind, function: str = "emergency_stop", name: str = DEMO) -> str:
    return "; ".join(observed(bench_of(name), Goal(kind, function)))


@pytest.mark.parametrize("name", [DEMO, SAMPLE])
def test_every_goal_has_something_to_observe(name: str) -> None:
    for goal in goals_of(bench_of(name)):
        assert list(observed(bench_of(name), goal)), goal.id


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (GoalKind.SUPPLY_DEAD, "main contactor stays open"),
        (GoalKind.RESET_BARRED, "nothing comes back"),
        (GoalKind.RELEASE, "stays open until supply-on is pressed anew"),
        (GoalKind.SUPPLY_ANEW, "closes now, and no torque"),
        (GoalKind.PRESS, "nothing comes back while the button is held"),
        (GoalKind.RESET, "make no torque, and the references stay zero"),
        (GoalKind.RESTART, "by the start, not by the reset"),
    ],
)
def test_rules_in_words(kind: GoalKind, words: str) -> None:
    assert words in said(kind)


def test_supply_words_belong_to_functions_with_a_supply_rule() -> None:
    assert "supply-on" not in said(GoalKind.RELEASE, "hood_stop")


def test_a_stop_says_each_effect_with_its_limit() -> None:
    stated = said(GoalKind.STOP)
    effects = bench_of(DEMO).required.effects
    assert f"within {effects.torque_off.within / 1e6:g} ms" in stated
    assert effects.bus_discharged is not None
    assert f"at {effects.bus_discharged.at_most} or less" in stated
    assert "both channels" not in stated
    assert "both channels of the guard hood change within 40 ms" in said(GoalKind.STOP, "hood_stop")


def test_a_stop_is_watched_longer_than_its_longest_limit() -> None:
    bench = bench_of(DEMO)
    for name, function in bench.required.functions.items():
        longest = max(getattr(bench.required.effects, effect).within for effect in function.effects) / 1e9
        assert wait_s(bench, [Goal(GoalKind.STOP, name)], starts=False) > longest


def test_other_acts_are_watched_for_a_second_and_starts_for_longer() -> None:
    assert wait_s(bench_of(DEMO), [], starts=False) == 1
    assert wait_s(bench_of(DEMO), [], starts=True) > 1
    assert wait_s(bench_of(DEMO), [Goal(GoalKind.RELEASE, "hood_stop")], starts=False) == 2


@pytest.mark.parametrize(
    ("button", "kinds", "held"),
    [(True, [], True), (False, [GoalKind.PRESS], True), (False, [GoalKind.STOP], False), (False, [], False)],
)
def test_a_button_is_held_where_that_matters(button: bool, kinds: list[GoalKind], held: bool) -> None:
    words = hold_words("press the thing", kinds, button=button)
    assert words.startswith("Press the thing")
    assert ("hold it" in words) is held


def test_power_up_tells_every_device_that_can_be_in_more_than_one_state() -> None:
    bench = bench_of(DEMO)
    state = {name: {"shaft": "still"}.get(name, "released") for name in bench.devices}
    state |= {"hood": "closed", "relay": "ready", "contactor": "open", "link": "empty", "setpoints": "zero"}
    state |= {"prime": "disabled", "brake": "disabled"}
    told = start_words(bench, state)
    assert "guard hood: closed" in told
    assert not any("shaft" in text for text in told)


def test_only_what_changed_is_told_and_not_the_button_itself() -> None:
    before = dict.fromkeys(bench_of(DEMO).devices, "x") | {
        "reset": "released",
        "relay": "ready",
        "prime": "ready",
    }
    after = before | {"reset": "pressed", "relay": "armed"}
    assert changed(bench_of(DEMO), before, after, "reset") == ("safety relay: off, reset is pressed",)
    running = before | {"prime": "running"}
    assert changed(bench_of(DEMO), before, running, "prime") == ("prime mover: makes torque",)


@pytest.mark.parametrize(
    ("shape", "function", "device"),
    [("jog_mode", "jog_stop", "jog button"), ("two_hand_control", "hands_stop", "two-hand control")],
)
def test_to_hold_what_starts_is_the_start_and_no_reset_is_spoken_of(
    shape: str, function: str, device: str
) -> None:
    bench = f"tests/benches/shapes/{shape}.yaml"
    assert said(GoalKind.RELEASE, function, bench) == f"no torque before: to hold the {device} is the start"
    assert said(GoalKind.RESTART, function, bench).endswith("comes only now, by the start")
    assert "nothing comes back" in said(GoalKind.RELEASE, "hood_stop")
