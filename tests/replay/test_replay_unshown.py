"""A bench that does not show something: never a fail and never a pass for that, and the entry to add is named."""

import re
from functools import cache
from pathlib import Path

import pytest
from replay_tape import BENCH_FILE, COVER, ESTOP, Tape, found, lines, sound

from interlock.bench import Bench, load_bench
from interlock.replay import Judgement, judge_trace
from interlock.replay.unshown import unshown
from interlock.verdict import Verdict


@cache
def text() -> str:
    return BENCH_FILE.read_text(encoding="utf-8")


def without(folder: Path, *ports: str) -> Bench:
    """The sample bench with these lines taken out of `shows`."""
    kept = text()
    for port in ports:
        kept, count = re.subn(rf"(?m)^    {re.escape(port)}: .*\n", "", kept)
        assert count == 1, port
    (folder / "bench.yaml").write_text(kept, encoding="utf-8")
    (folder / "bench.dbc").write_bytes(BENCH_FILE.with_name("bench.dbc").read_bytes())
    return load_bench(folder / "bench.yaml")


def judged_without(folder: Path, *ports: str, tape: Tape | None = None) -> Judgement:
    return judge_trace(without(folder, *ports), (sound() if tape is None else tape).trace())


def verdicts(said: Judgement, effect: str) -> set[Verdict]:
    return {one.verdict for one in said.findings if one.effect == effect}


NOT_SEEN, OPEN = Verdict.NOT_OBSERVED, Verdict.INCONCLUSIVE


@pytest.mark.parametrize(
    ("port", "section", "effects", "verdict"),
    [
        ("drive.torque", "states", {"torque_off", "restart"}, NOT_SEEN),
        ("references.set", "states", {"references_zero"}, NOT_SEEN),
        ("shaft.speed", "values", {"standstill"}, NOT_SEEN),
        ("bus.voltage", "values", {"bus_discharged"}, NOT_SEEN),
        ("contactor.main", "states", {"contactor_open", "supply_on_dead", "supply_stays_off"}, NOT_SEEN),
        ("cover.b", "states", {"channels_agree"}, OPEN),
        ("button.actuated", "states", {"torque_off"}, OPEN),
        ("reset.pressed", "states", {"stays_off", "reset_on_release"}, OPEN),
        ("supply_on.pressed", "states", {"supply_on_dead", "supply_stays_off"}, OPEN),
    ],
)
def test_what_is_not_shown_is_named(
    port: str, section: str, effects: set[str], verdict: Verdict, tmp_path: Path
) -> None:
    said = judged_without(tmp_path, port)
    assert [one.sentence for one in said.findings if one.verdict is Verdict.FAIL] == []
    assert said.verdict is verdict
    told = {
        one.effect
        for one in said.findings
        if f"add '{port}' under shows, {section}" in one.sentence and one.verdict is not Verdict.PASS
    }
    assert effects <= told


@pytest.mark.parametrize("port", ["drive.enabled", "load.enabled"])
def test_an_enable_line_is_more_than_is_asked_for(port: str, tmp_path: Path) -> None:
    assert judged_without(tmp_path, port).verdict is Verdict.PASS


def test_all_that_is_missing_is_named_at_once(tmp_path: Path) -> None:
    said = judged_without(tmp_path, "contactor.main", "supply_on.pressed")
    (one,) = found(said, "supply_on_dead")
    assert "add 'contactor.main' and 'supply_on.pressed' under shows, states" in one.sentence


def test_states_and_values_are_told_apart(tmp_path: Path) -> None:
    said = judged_without(tmp_path, "estop.actuated", "bus.voltage")
    (one,) = found(said, "bus_discharged")
    assert "add 'estop.actuated' under shows, states, and 'bus.voltage' under shows, values" in one.sentence


def test_a_bench_that_shows_all_of_it_is_told_nothing() -> None:
    said = judge_trace(load_bench(BENCH_FILE), sound().trace())
    seen = said.observation
    asked = {(one.function, one.subject, one.effect) for one in said.findings if one.function in seen.asked}
    assert asked
    assert [unshown(seen, *one) for one in asked] == [None] * len(asked)


def test_a_button_that_is_not_shown_ends_no_stop_for_sure(tmp_path: Path) -> None:
    said = judged_without(tmp_path, "reset.pressed")
    (one,) = found(said, "stays_off", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "the bench file does not say how the reset shows itself in a log" in one.sentence
    for effect in ("stays_off", "reset_on_release", "restart"):
        assert Verdict.PASS not in verdicts(said, effect), effect


@pytest.mark.parametrize("wait", [-0.5, 0.0, 0.03])
def test_even_then_nobody_resets_within_the_demand_or_so_soon_after_it(wait: float, tmp_path: Path) -> None:
    tape = lines(sound(), 1, COVER.gone + wait, COVER.release)
    said = judged_without(tmp_path, "reset.pressed", tape=tape)
    (one,) = found(said, "stays_off", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.FAIL


@pytest.mark.parametrize("port", ["reset.pressed", "supply_on.pressed"])
def test_what_needs_no_button_still_fails(port: str, tmp_path: Path) -> None:
    late = sound().move("DrvCurrent", 0.5, COVER.on - 0.1, COVER.on + 1)
    said = judged_without(tmp_path, port, tape=late)
    assert {one.verdict for one in found(said, "torque_off", subject="drive", near=COVER.on)} == {
        Verdict.FAIL
    }


def test_a_contactor_that_stays_closed_fails_without_supply_on_too(tmp_path: Path) -> None:
    welded = sound().put("MainContactorFb", 1, ESTOP.on - 0.1, ESTOP.press)
    said = judged_without(tmp_path, "supply_on.pressed", tape=welded)
    (one,) = found(said, "contactor_open", near=ESTOP.on)
    assert one.verdict is Verdict.FAIL


def test_a_contactor_that_closes_after_the_demand_is_no_fail_without_supply_on(tmp_path: Path) -> None:
    said = judged_without(tmp_path, "supply_on.pressed")
    assert verdicts(said, "contactor_open") == {Verdict.INCONCLUSIVE}
    assert verdicts(said, "bus_discharged") == {Verdict.INCONCLUSIVE}
