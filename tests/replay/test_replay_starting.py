"""Who started a unit after a stop that needs no reset: a person who is seen to, one who cannot be seen, or nobody."""

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from loggen_rig import Rig
from replay_rigs import SHAPES, told_with

from interlock.bench import load_bench
from interlock.replay import Finding, Judgement, replay
from interlock.replay.locked import is_locked
from interlock.verdict import Verdict


def rig_of(go: list[tuple[float, float]], torque: list[tuple[float, float]], *hidden: str) -> Rig:
    """The grinder without a reset: the hood is open from 5 to 7 s; `go`: when the start button is pressed."""

    def spans(times: list[tuple[float, float]], first: bool = False) -> list[tuple[float, float]]:
        return [
            (-1.0, first),
            *((at, on != first) for lo, hi in times for at, on in ((lo, True), (hi, False))),
        ]

    contacts = {"hood.a": True, "halt.actuated": False, "go.pressed": False}
    rig = Rig(contacts, {}, lines={"wheel": lambda _: False}, hidden=("wheel.enabled", *hidden))
    rig.steps = {"hood.a": spans([(5.0, 7.0)], first=True), "halt.actuated": spans([(14.0, 16.0)])}
    rig.steps |= {"go.pressed": spans([*go, (2.0, 2.4), (20.0, 20.4)]), "wheel.torque": spans(torque)}
    for steps in rig.steps.values():
        steps.sort()
    return rig


def judged(rig: Rig, *changed: tuple[str, str]) -> Judgement:
    text = (SHAPES / "start_stop_station.yaml").read_text(encoding="utf-8")
    for old, new in changed:
        text = text.replace(old, new)
    with TemporaryDirectory() as here:
        folder = Path(here)
        (folder / "rig.dbc").write_text(rig.dbc(), encoding="ascii")
        (folder / "b.yaml").write_text(text + rig.shows(), encoding="utf-8")
        (folder / "a.log").write_text(rig.candump(22.0), encoding="ascii")
        return replay(folder / "b.yaml", load_bench(folder / "b.yaml"), [folder / "a.log"])


def restart(said: Judgement, function: str = "hood_stop") -> Finding:
    (one,) = [one for one in said.findings if (one.function, one.effect) == (function, "restart")]
    return one


RUN = [(2.04, 5.05), (9.05, 14.05), (20.04, 23.0)]


def test_the_start_button_alone_brings_the_motor_back() -> None:
    said = judged(rig_of([(9.0, 9.4)], RUN))
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]
    assert restart(said).sentence.endswith("time enough for a person to start it.")


@pytest.mark.parametrize("back", [7.04, 7.5, 9.05])
def test_torque_that_comes_back_with_no_start_fails_however_late(back: float) -> None:
    """Only the start button can start it, and the log shows that nobody pressed it."""
    said = judged(rig_of([], [(2.04, 5.05), (back, 14.05), (20.04, 23.0)]))
    assert restart(said).verdict is Verdict.FAIL
    assert "though nobody pressed a button that starts it" in restart(said).sentence
    assert {one.function for one in said.findings if one.verdict is Verdict.FAIL} == {"hood_stop"}


@pytest.mark.parametrize(
    "go", [(6.5, 9.4), (7.2, 7.3), (9.04, 9.5)], ids=["held since before", "tapped", "just before"]
)
def test_a_press_anywhere_between_the_end_of_the_demand_and_the_start_may_have_done_it(
    go: tuple[float, float],
) -> None:
    assert restart(judged(rig_of([go], RUN))).verdict is Verdict.PASS


def test_without_the_button_in_the_log_nobody_can_tell() -> None:
    shown = judged(rig_of([], RUN), ("no_sooner_than: 0 ms", "no_sooner_than: 500 ms"))
    assert restart(shown).verdict is Verdict.FAIL
    hidden = rig_of([], [(2.04, 5.05), (7.2, 14.05), (20.04, 23.0)], "go.pressed")
    said = restart(judged(hidden, ("no_sooner_than: 0 ms", "no_sooner_than: 500 ms")))
    assert said.verdict is Verdict.INCONCLUSIVE
    assert "unless somebody held a button that starts it" in said.sentence


@pytest.mark.parametrize(("go", "verdict"), [((7.1, 7.5), "pass"), ((9.0, 9.4), "fail")])
def test_a_start_sooner_than_a_person_needs_is_one_if_the_button_is_seen_held(
    go: tuple[float, float], verdict: str
) -> None:
    rig = rig_of([go], [(2.04, 5.05), (7.2, 14.05), (20.04, 23.0)])
    assert restart(judged(rig, ("no_sooner_than: 0 ms", "no_sooner_than: 500 ms"))).verdict.value == verdict


def test_holding_the_jog_button_while_the_bench_is_reset_is_a_start() -> None:
    """At set-up, with `reset` pressed at 27.5 s; the chain permits a start by who holds a hold-to-run button."""

    def held(rig: Rig) -> None:
        for port in ("jog.a", "jog.b", "jog.pressed"):
            rig.steps[port] = sorted(
                [*[one for one in rig.steps[port] if one[0] < 27], (27.2, True), (31.0, False)]
            )
        for port, on in (("drive.enabled", 27.84), ("drive.torque", 27.86)):
            kept = [one for one in rig.steps[port] if not 27 < one[0] < 32]
            rig.steps[port] = sorted([*kept, (on, True), (31.015, False)])

    assert told_with("jog_mode", held).verdict is Verdict.PASS

    def by_itself(rig: Rig) -> None:
        held(rig)
        for port in ("jog.a", "jog.b", "jog.pressed"):
            rig.steps[port] = [(at, value) for at, value in rig.steps[port] if not 27 < at < 32]

    assert told_with("jog_mode", by_itself).verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("shape", "device", "locked"),
    [
        ("guard_locking", "guard", True),
        ("locked_guard_with_set_up", "guard", True),
        ("locked_guard_with_set_up", "enable", False),
        ("guard_bolt", "guard", False),  # its contacts open by the first turn, while it is still locked
        ("two_zones", "door_east", False),
        ("jog_mode", "jog", False),
    ],
)
def test_which_devices_demand_nothing_before_their_lock_is_free(
    shape: str, device: str, locked: bool
) -> None:
    bench = load_bench(SHAPES / f"{shape}.yaml")
    assert device in bench.devices
    assert is_locked(bench, device) is locked


@pytest.mark.parametrize(
    ("speed", "verdict"),
    [(600.0, "pass"), (500.0, "pass"), (400.0, "fail"), (100.0, "fail")],
    ids=["stands at 6 s", "at 6.4 s", "turns at 6.8 s", "turns long"],
)
def test_a_guard_unlocked_before_the_shaft_stands(speed: float, verdict: str) -> None:
    """The motor is stopped at 4 s from 1200 1/min; the guard is unlocked at 6.8 s."""

    def coast(rig: Rig) -> None:
        rig.coast = speed

    said = told_with("locked_guard_with_set_up", coast)
    found = [one for one in said.findings if one.effect == "locked_until_still"]
    assert found[0].verdict.value == verdict
    assert found[0].subject == "guard"
    assert found[0].requirement == (
        "the chamber guard stays locked until no unit makes torque and the shaft stands (below 10 1/min)"
    )
    if verdict == "fail":
        assert "The chamber guard was unlocked while the shaft turned." in {one.sentence for one in found}
