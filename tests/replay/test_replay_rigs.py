"""Benches with zones, modes, limits and resets of their own: sound logs pass, each defect fails for its own reason.

The logs come from a generator that shares nothing with the package (tests/loggen), as candump files.
"""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from loggen_rig import EPOCH, Rig, decay_s
from loggen_rigs import DEFECTS, played
from replay_rigs import files, told

from interlock.bench import load_bench
from interlock.replay import Finding, Judgement, replay
from interlock.verdict import Verdict

KEYS = ("key.work_a", "key.work_b", "key.setup_a", "key.setup_b")
CASES = [(shape, defect) for shape, defects in DEFECTS.items() for defect in defects]
MODES = [shape for shape in DEFECTS if shape.endswith("_mode")]


def lines(said: Judgement) -> list[str]:
    return [
        f"{one.verdict} {one.function} {one.subject} {one.effect}: {one.sentence}"
        for one in said.findings
        if one.verdict is not Verdict.PASS
    ]


def failed(said: Judgement) -> set[tuple[str, str]]:
    return {(one.function, one.effect) for one in said.findings if one.verdict is Verdict.FAIL}


@pytest.mark.parametrize("shape", DEFECTS)
def test_a_sound_log_passes_and_puts_everything_to_the_test(shape: str) -> None:
    said = told(shape)
    assert said.verdict is Verdict.PASS, lines(said)


@pytest.mark.parametrize(("shape", "defect"), CASES)
def test_a_defect_fails_by_the_function_and_the_effect_that_it_harms(shape: str, defect: str) -> None:
    said = told(shape, defect)
    assert said.verdict is Verdict.FAIL
    assert DEFECTS[shape][defect] in failed(said), failed(said)


@pytest.mark.parametrize("shape", MODES)
def test_a_selector_in_a_message_of_its_own_is_as_good(shape: str) -> None:
    assert told(shape, keys=KEYS).verdict is Verdict.PASS, lines(told(shape, keys=KEYS))
    for defect, harmed in list(DEFECTS[shape].items())[:4]:
        assert harmed in failed(told(shape, defect, KEYS)), defect


@pytest.mark.parametrize(
    ("shape", "defect", "spared"),
    [
        ("two_zones", "other_reset", {"east_stop", "emergency_stop"}),
        ("two_zones", "west_without_latch", {"east_stop", "emergency_stop"}),
        ("two_zones", "east_door_dead", {"west_stop", "emergency_stop"}),
        ("two_zones", "slow_west", {"east_stop"}),
        ("two_zones", "estop_of_east_only", {"east_stop", "west_stop"}),
        ("one_reset_for_two_zones", "reset_under_door", {"right_stop", "halt_stop"}),
        ("one_reset_for_two_zones", "right_stops_left_only", {"left_stop", "halt_stop"}),
        ("ramp_beside_sto", "late_by_own_limit", {"hood_stop"}),
        ("set_up_mode", "hood_dead", {"enabling_stop", "emergency_stop", "mode_change"}),
        ("set_up_mode", "estop_dead_in_set_up", {"enabling_stop", "hood_stop", "mode_change"}),
        ("set_up_mode", "enabling_dead", {"hood_stop", "emergency_stop", "mode_change"}),
        ("jog_mode", "jog_dead", {"door_stop", "halt_stop", "mode_change"}),
    ],
)
def test_no_other_function_is_blamed(shape: str, defect: str, spared: set[str]) -> None:
    assert not {name for name, _ in failed(told(shape, defect))} & spared


@pytest.mark.parametrize(("shape", "defect", "unit"), [("ramp_beside_sto", "late_load", "load"),
                                                       ("ramp_beside_sto", "late_by_own_limit", "drive"),
                                                       ("two_zones", "slow_west", "west")])  # fmt: skip
def test_only_the_unit_at_fault_is_named(shape: str, defect: str, unit: str) -> None:
    late = [one for one in told(shape, defect).findings if one.verdict is Verdict.FAIL]
    assert {one.subject for one in late} == {unit}


def torque_off(said: Judgement) -> Iterator[tuple[Finding, float, float]]:
    """Each timed finding with the bounds of its demand, in seconds of the script."""
    start = said.observation.trace.start_ns / 1e9 - EPOCH
    for one in said.findings:
        if one.effect == "torque_off" and one.demand is not None and one.latency is not None:
            assert one.demand.hi is not None
            yield one, one.demand.lo / 1e9 + start, one.demand.hi / 1e9 + start


@pytest.mark.parametrize(("shape", "defect"), [*((shape, "") for shape in DEFECTS), ("two_zones", "slow_west"),
                                               ("ramp_beside_sto", "late_by_own_limit"),
                                               ("set_up_mode", "slow_by_enabling")])  # fmt: skip
def test_the_true_latency_lies_inside_and_the_interval_is_narrow(shape: str, defect: str) -> None:
    rig, _ = played(shape, defect)
    timed = list(torque_off(told(shape, defect)))
    assert len(timed) > 1
    for one, lo, hi in timed:
        asked = [
            at for name, at in _acts(rig) if lo <= at <= hi and not name.endswith((".enabled", ".torque"))
        ]
        gone = [at for at, value in rig.steps[f"{one.subject}.torque"] if not value and at > lo]
        assert asked, (one.function, lo)
        assert one.latency is not None
        assert one.latency.hi is not None
        assert any(round((gone[0] + decay_s() - at) * 1e9) in one.latency for at in asked)
        assert one.latency.hi - one.latency.lo < 35e6


def _acts(rig: Rig) -> Iterator[tuple[str, float]]:
    for name, steps in rig.steps.items():
        yield from ((name, at) for at, _ in steps if at > 0)


def spoilt(shape: str, spoil: Callable[[str], str], folder: Path, keys: tuple[str, ...] = ()) -> Judgement:
    """What is said of the sound log with each of its lines passed through `spoil` (an empty line is lost)."""
    bench, log = files(shape, "", folder, keys)
    log.write_text("\n".join(filter(None, map(spoil, log.read_text().splitlines()))) + "\n")
    return replay(bench, load_bench(bench), [log])


def lost(ident: str, lo: float, hi: float) -> Callable[[str], str]:
    """Frames of one message are missing from `lo` to `hi` seconds."""

    def spoil(line: str) -> str:
        at = float(line[1:].split(")", maxsplit=1)[0]) - EPOCH
        return "" if f" {ident}#" in line and lo <= at < hi else line

    return spoil


@pytest.mark.parametrize("shape", DEFECTS)
@pytest.mark.parametrize("ident", ["120", "201"])
def test_missing_frames_never_pass_and_never_fail(shape: str, ident: str, tmp_path: Path) -> None:
    said = spoilt(shape, lost(ident, 4.5, 5.3), tmp_path)
    assert said.verdict in {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}, lines(said)


@pytest.mark.parametrize("lo", [4.2, 16.1, 25.0, 38.5])
def test_where_the_mode_is_not_shown_nothing_passes(lo: float, tmp_path: Path) -> None:
    said = spoilt("set_up_mode", lost("121", lo, lo + 2.0), tmp_path, KEYS)
    assert said.verdict is Verdict.INCONCLUSIVE, lines(said)


def test_a_demand_in_a_mode_that_nobody_can_tell_is_named(tmp_path: Path) -> None:
    """At set-up, with the hood open all the time."""
    said = spoilt("set_up_mode", lost("121", 25.0, 26.0), tmp_path, KEYS)
    (one,) = [one for one in said.findings if one.effect == "mode_known"]
    assert (one.function, one.subject, one.verdict) == ("hood_stop", "hood", Verdict.INCONCLUSIVE)
    assert "the guard hood demanded a stop, and whether it was asked for cannot be said" in one.sentence
    assert "nobody can tell the mode: frames are missing" in one.sentence


@pytest.mark.parametrize(("hi", "passed"), [(39.5, [16, 39, 40]), (40.02, [16, 40]), (40.3, [16, 40])])
def test_a_unit_of_which_nothing_is_known_at_the_change_was_not_put_to_the_test(
    hi: float, passed: list[int], tmp_path: Path
) -> None:
    """The mode is changed at 16.4, 40 and 40.4 s with the motor off; its current is missing from 39.2 s to `hi`."""
    said = spoilt("set_up_mode", lost("201", 39.2, hi), tmp_path)
    shown = [one for one in said.findings if one.effect == "starts_nothing" and one.demand is not None]
    assert [one.demand.lo // 10**9 for one in shown if one.demand and one.verdict is Verdict.PASS] == passed
    assert Verdict.FAIL not in {one.verdict for one in shown}
