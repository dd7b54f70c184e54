"""Time that is missing from a recording shows by the counters of several messages: anything may have happened then."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_tape import BENCH_FILE, COVER, DRV, MESSAGES, SAFE, Tape, sound

from interlock.bench import Bench, load_bench
from interlock.replay import judge_trace
from interlock.replay.missing_time import missing_time
from interlock.trace import Quality, QualityKind, Samples, Trace
from interlock.verdict import Verdict

COUNTERS = {
    "SAFE_State": ("Alive", 256, 0.01),
    "DRV_Actual": ("Beat", 16, 0.005),
    "PSU_Bus": ("Count", 256, 0.01),
}
CUT = (COVER.press - 0.4, COVER.release + 0.2)
"""The use of the reset button, and a little around it."""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """The sample bench, two more of whose messages count."""
    folder = tmp_path_factory.mktemp("counting")
    text = BENCH_FILE.read_text(encoding="utf-8")
    for old, more in (
        ("    DRV_Actual:\n", "      alive: Beat\n      alive_modulo: 16\n"),
        ("    PSU_Bus: {", "alive: Count, "),
    ):
        assert old in text
        text = text.replace(old, old + more)
    (folder / "bench.yaml").write_text(text, encoding="utf-8")
    dbc = BENCH_FILE.with_name("bench.dbc").read_text(encoding="utf-8")
    for old, new, signal in (
        ("BO_ 513 DRV_Actual: 8 DRV\n", "BO_ 513 DRV_Actual: 8 DRV\n", "Beat : 56|4"),
        ("BO_ 832 PSU_Bus: 4 PSU\n", "BO_ 832 PSU_Bus: 5 PSU\n", "Count : 32|8"),
    ):
        assert old in dbc
        dbc = dbc.replace(old, f'{new} SG_ {signal}@1+ (1,0) [0|255] "" LOG\n')
    (folder / "bench.dbc").write_text(dbc, encoding="utf-8")
    return load_bench(folder / "bench.yaml")


def counted(tape: Tape, wrong: Mapping[str, int] | None = None, at: float = 0.0) -> Trace:
    """The tape's trace with counters that go on with each frame; those of `wrong` run on by so much from a moment."""
    trace, start = tape.trace(), int(tape.us.min()) * 1000
    signals = dict(trace.signals)
    for message, (name, modulo, _) in COUNTERS.items():
        times = trace.messages[message]
        steps = np.arange(len(times)) + np.where(times + start >= at * 1e9, (wrong or {}).get(message, 0), 0)
        signals[f"{message}.{name}"] = Samples(message, name, "", times, (steps % modulo).astype(np.float64))
    return replace(trace, signals=signals)


def cut(lo: float, hi: float) -> Trace:
    """A piece is taken out and the ends joined; each counter tells how many frames went with it."""
    tape = sound()
    gone = {MESSAGES[ident]: len(tape.rows(ident, lo, hi)) for ident in MESSAGES}
    tape.drop(None, lo, hi)
    tape.us[tape.us >= hi * 1e6] -= round((hi - lo) * 1e6)
    return counted(tape, gone, lo)


def doubts(bench: Bench, trace: Trace) -> list[Quality]:
    assert bench.shows is not None
    return list(missing_time(trace, bench.shows))


def thinned(trace: Trace, every: int) -> Trace:
    """One frame in so many of each message is lost."""
    kept = {name: np.flatnonzero(np.arange(len(times)) % every) for name, times in trace.messages.items()}
    return replace(
        trace,
        messages={name: times[kept[name]] for name, times in trace.messages.items()},
        signals={
            key: replace(one, times_ns=one.times_ns[kept[one.message]], values=one.values[kept[one.message]])
            for key, one in trace.signals.items()
        },
    )


@pytest.mark.parametrize("stamp_s", [0.00015, 0.004])
def test_a_whole_recording_misses_nothing(bench: Bench, stamp_s: float) -> None:
    """Frames that are lost one by one leave gaps as long as their counters say."""
    trace = counted(sound(stamp_s=stamp_s))
    assert doubts(bench, trace) == []
    assert doubts(bench, thinned(trace, 50)) == []


@pytest.mark.parametrize("length", [0.1, 0.5, 0.9, 2.0])
def test_a_piece_that_was_cut_out_is_told_of_every_message_and_lasts_as_long(
    bench: Bench, length: float
) -> None:
    found = doubts(bench, cut(COVER.press - 0.4, COVER.press - 0.4 + length))
    assert {one.message for one in found} >= {"SAFE_State", "DRV_Actual", "LOD_Actual", "CTL_Refs", "PSU_Bus"}
    for one in found:
        assert (one.kind, one.blinds) == (QualityKind.TIME_RELATIVE, True)
        assert one.span.hi is not None
        assert 0.9 * length <= (one.span.hi - one.span.lo) / 1e9 <= length + 0.1
        assert (
            "DRV_Actual and PSU_Bus and SAFE_State" in one.sentence
            or "PSU_Bus and SAFE_State" in one.sentence
        )


def test_a_restart_whose_reset_was_cut_out_is_no_fail(bench: Bench) -> None:
    said = judge_trace(bench, cut(*CUT))
    assert [one.sentence for one in said.findings if one.verdict is Verdict.FAIL] == []
    assert said.verdict is Verdict.INCONCLUSIVE


def test_a_restart_without_a_reset_in_a_whole_recording_fails(bench: Bench) -> None:
    assert judge_trace(bench, counted(sound().put("ResetPb", 0, *CUT))).verdict is Verdict.FAIL
    assert judge_trace(bench, counted(sound())).verdict is Verdict.PASS


@pytest.mark.parametrize("message", list(COUNTERS))
def test_one_counter_that_jumps_tells_of_its_sender_only(bench: Bench, message: str) -> None:
    assert doubts(bench, counted(sound(), {message: 9}, COVER.press)) == []


def test_a_counter_that_went_round_is_a_witness_too(bench: Bench) -> None:
    """Sixteen frames of one message are missing, so that its counter seems to stand; another one jumps."""
    found = doubts(bench, counted(sound(), {"DRV_Actual": -1, "SAFE_State": 8}, COVER.press))
    assert {one.message for one in found} >= {"SAFE_State", "LOD_Actual"}
    assert doubts(bench, counted(sound(), {"DRV_Actual": -1, "SAFE_State": -1}, COVER.press)) == []


def test_copies_of_frames_are_no_missing_time(bench: Bench) -> None:
    """Every counter stands, but the copies follow at once."""
    tape = sound()
    rows = np.sort(
        np.concatenate([np.arange(len(tape.us)), tape.rows(SAFE, 9.0, 9.4), tape.rows(DRV, 9.0, 9.4)])
    )
    trace = counted(tape)
    twice = {
        key: replace(one, times_ns=np.repeat(one.times_ns, 2), values=np.repeat(one.values, 2))
        for key, one in trace.signals.items()
    }
    assert len(rows) > len(tape.us)
    assert doubts(bench, replace(trace, signals=twice)) == []


@given(st.floats(5.0, 55.0), st.integers(20, 200))
def test_what_is_missing_is_never_overstated(bench: Bench, at: float, milliseconds: int) -> None:
    """The doubt says `or more`: whole turns of a counter cannot be seen."""
    for one in doubts(bench, cut(at, at + milliseconds / 1e3)):
        said = int(one.sentence.split(" time that passed: ")[1].split(" ms")[0])
        assert said <= milliseconds + 10


def test_a_log_without_the_counters_is_told_nothing(bench: Bench, tmp_path: Path) -> None:
    assert doubts(bench, sound().drop(SAFE).trace()) == []
    assert not list(tmp_path.iterdir())
