"""Laws of the whole judgement: what must not depend on the clock, on lost frames, on how much is shown."""

import random
from functools import cache

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from replay_tape import BENCH, BENCH_FILE, BUTTON, COVER, DRV, ESTOP, LOD, REFS, SAFE, judged, sound
from replay_variant import hidden, variant

from interlock.bench import Bench
from interlock.errors import InterlockError
from interlock.replay import Judgement, judge_trace
from interlock.verdict import Verdict

DEFECTS = {
    "slow torque": lambda t: t.move("DrvCurrent", 0.3, COVER.on - 0.1, COVER.on + 0.6),
    "references kept": lambda t: t.hold("SpeedRef", COVER.on - 0.1, COVER.start + 0.1),
    "reset under demand": lambda t: (
        t.put("ResetPb", 1, COVER.on + 1.0, COVER.on + 1.3)
        .put("TorqueEnableDrv", 1, COVER.on + 1.33, COVER.gone)
        .put("TorqueEnableLod", 1, COVER.on + 1.33, COVER.gone)
    ),
    "welded contactor": lambda t: t.put("MainContactorFb", 1, ESTOP.on, ESTOP.gone + 1.0),
    "one channel": lambda t: t.put("CoverB", 1, COVER.on, COVER.gone + 0.1),
    "load keeps torque": lambda t: t.hold("LodCurrent", BUTTON.on - 0.05, BUTTON.on + 0.5),
}
PORTS = sorted(BENCH.shows.states) if BENCH.shows is not None else []


def told(said: Judgement) -> list[tuple[object, ...]]:
    """All findings without the words, which name instants."""
    return [
        (one.function, one.subject, one.effect, one.verdict, one.demand, one.latency, one.limit_ns)
        for one in said.findings
    ]


@pytest.mark.parametrize("defect", DEFECTS.values(), ids=DEFECTS.keys())
def test_each_defect_fails_without_more_being_done(defect) -> None:
    assert judge_trace(BENCH, defect(sound()).trace()).verdict is Verdict.FAIL


@pytest.mark.parametrize("shift_s", [1, 3_599, 86_400, 400_000_000], ids=str)
@pytest.mark.parametrize("name", ["slow torque", "one channel"])
def test_when_the_run_was_made_does_not_matter(shift_s: int, name: str, tmp_path) -> None:
    tape = DEFECTS[name](sound()).drop(None, 21.0)
    moved = tape.copy()
    moved.us = moved.us + shift_s * 1_000_000
    assert told(judged(moved, tmp_path)) == told(judged(tape, tmp_path))


@settings(max_examples=25)
@given(st.sampled_from(sorted(DEFECTS)), st.integers(0, 2**32), st.floats(0.0, 0.4))
def test_losing_frames_never_turns_a_fail_into_a_pass(name: str, seed: int, share: float) -> None:
    tape = DEFECTS[name](sound())
    tape.take(np.flatnonzero(np.random.default_rng(seed).random(len(tape.us)) >= share))
    assert judge_trace(BENCH, tape.trace()).verdict is not Verdict.PASS


@settings(max_examples=25)
@given(
    st.sampled_from(sorted(DEFECTS)),
    st.sampled_from([SAFE, DRV, LOD, REFS]),
    st.floats(0, 55),
    st.floats(0.01, 9),
)
@example("load keeps torque", LOD, 7.0, 8.0)
def test_losing_a_message_for_a_while_never_does(
    tmp_path_factory: pytest.TempPathFactory, name: str, ident: int, at: float, length: float
) -> None:
    """As read from a file: the reader tells of the gap, in which the defect may lie."""
    tape = DEFECTS[name](sound()).drop(ident, at, at + length)
    assert judged(tape, tmp_path_factory.mktemp("lost")).verdict is not Verdict.PASS


@settings(max_examples=25)
@given(st.integers(0, 2**32), st.floats(0.0, 0.4), st.booleans())
def test_losing_frames_never_makes_a_sound_log_fail(seed: int, share: float, burst: bool) -> None:
    tape, random_ = sound(), np.random.default_rng(seed)
    if burst:
        at = random_.uniform(0, 60)
        tape.drop(None, at, at + 10 * share)
    else:
        tape.take(np.flatnonzero(random_.random(len(tape.us)) >= share))
    assert judge_trace(BENCH, tape.trace()).verdict is not Verdict.FAIL


@cache
def showing_less(seed: int) -> Bench | None:
    """A bench file with some entries of `states` left out; None: it is refused in words."""
    chosen = random.Random(seed)
    left_out = chosen.sample(PORTS, chosen.randint(1, 4)) if seed >= len(PORTS) else [PORTS[seed]]
    try:
        return variant(*(hidden(port) for port in left_out))
    except InterlockError as refused:
        assert "shows" in str(refused)
        return None


@pytest.mark.parametrize("seed", range(len(PORTS) + 10))
def test_showing_less_never_makes_a_sound_log_fail(seed: int) -> None:
    bench = showing_less(seed)
    if bench is not None:
        said = judge_trace(bench, sound().trace())
        assert [one.sentence for one in said.findings if one.verdict is Verdict.FAIL] == []


@pytest.mark.parametrize("seed", range(len(PORTS) + 10))
@pytest.mark.parametrize("name", ["slow torque", "reset under demand"])
def test_showing_more_never_turns_a_fail_into_a_pass(seed: int, name: str) -> None:
    """What a bench file that shows less fails, the whole one fails; what a demand was judged by stays."""
    bench, trace = showing_less(seed), DEFECTS[name](sound()).trace()
    if bench is not None and judge_trace(bench, trace).verdict is Verdict.FAIL:
        assert judge_trace(BENCH, trace).verdict is Verdict.FAIL


def test_the_sample_shows_what_these_laws_leave_out() -> None:
    text = BENCH_FILE.read_text(encoding="utf-8")
    assert all(f"    {port}: " in text for port in PORTS)
    assert len(PORTS) > 10


@pytest.mark.parametrize("name", DEFECTS)
def test_a_defective_log_in_which_each_frame_stands_twice_is_judged_as_itself(name: str, tmp_path) -> None:
    lines = DEFECTS[name](sound()).text().splitlines(keepends=True)
    once, twice = judged("".join(lines), tmp_path), judged("".join(line * 2 for line in lines), tmp_path)
    assert told(twice) == told(once)
    assert twice.verdict is not Verdict.PASS
