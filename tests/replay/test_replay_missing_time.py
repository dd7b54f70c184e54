"""Time that is missing from a recording shows by the counters of several messages: anything may have happened then."""

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from replay_tape import BENCH, BENCH_FILE, COVER, DRV, LOD, MESSAGES, SAFE, Tape, found, judged, sound
from replay_variant import variant

from interlock.bench import Bench, load_bench
from interlock.interval import Interval
from interlock.replay import judge_trace, replay
from interlock.replay.disorder import in_disorder
from interlock.replay.missing_time import missing_time
from interlock.replay.stamps import late_stamps
from interlock.trace import Quality, QualityKind, Samples, Trace
from interlock.verdict import Verdict

COUNTERS = {
    "SAFE_State": ("Alive", 256, 0.01),
    "DRV_Actual": ("Beat", 16, 0.005),
    "PSU_Bus": ("Count", 256, 0.01),
}
PERSON_NS = 200_000_000
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
    return list(missing_time(trace, bench.shows, late_stamps(trace, bench.shows), PERSON_NS))


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
        least = max(0.9 * length, PERSON_NS / 1e9)
        assert least <= (one.span.hi - one.span.lo) / 1e9 <= length + PERSON_NS / 1e9 + 0.1
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


def joined(tape: Tape, lo: float, hi: float) -> Tape:
    """A piece is taken out and its ends joined, each counter as it was."""
    tape.drop(None, lo, hi)
    tape.us[tape.us >= hi * 1e6] -= round((hi - lo) * 1e6)
    return tape


def lone(trace: Trace, message: str) -> Trace:
    """Only one message counts: the counters of the others are taken away."""
    gone = {f"{one}.{name}" for one, (name, _, _) in COUNTERS.items() if one != message}
    return replace(trace, signals={key: one for key, one in trace.signals.items() if key not in gone})


@pytest.mark.parametrize("message", list(COUNTERS))
def test_a_lone_counter_that_jumps_leaves_open_whether_time_is_missing(bench: Bench, message: str) -> None:
    found = doubts(bench, lone(counted(sound(), {message: 9}, COVER.press), message))
    assert {one.message for one in found} >= {"SAFE_State", "LOD_Actual", "CTL_Refs"}
    assert all(f"The counter of {message} runs ahead of the time" in one.sentence for one in found)
    assert all(one.span.hi is not None and one.span.hi - one.span.lo > PERSON_NS for one in found)
    assert doubts(bench, lone(counted(sound()), message)) == []


def test_a_counter_that_made_whole_turns_contradicts_nothing(bench: Bench) -> None:
    """DRV_Actual turns in 80 ms: 2.4 s that are missing do not show. SAFE_State jumps, PSU_Bus does not count."""
    trace = counted(sound(), {"SAFE_State": 240}, COVER.press)
    kept = {key: one for key, one in trace.signals.items() if key != "PSU_Bus.Count"}
    assert {one.message for one in doubts(bench, replace(trace, signals=kept))} >= {
        "DRV_Actual",
        "LOD_Actual",
    }
    other = counted(sound(), {"SAFE_State": 244}, COVER.press)  # 40 ms more: DRV_Actual would show it
    kept = {key: one for key, one in other.signals.items() if key != "PSU_Bus.Count"}
    assert doubts(bench, replace(other, signals=kept)) == []


NO_COUNTER = (", alive: Alive, alive_modulo: 256", "")


@pytest.mark.parametrize("length", [0.8123, 0.8075, 0.8478, 0.8929])
def test_frames_off_their_period_tell_of_a_cut_where_nothing_counts(length: float) -> None:
    """Press and release of reset are cut out of a log without counters; CTL_Refs goes on off its period of 20 ms."""
    lo = COVER.press - 0.35
    said = judge_trace(variant(NO_COUNTER), joined(sound(), lo, lo + length).trace())
    assert said.verdict is Verdict.INCONCLUSIVE
    assert [one.sentence for one in said.findings if one.verdict is Verdict.FAIL] == []
    assert any("the recording was cut, or its clock was set" in one.sentence for one in said.findings)


@pytest.mark.parametrize("loss", [0.0, 0.02])
@pytest.mark.parametrize("stamp_s", [0.00015, 0.002, 0.004])
def test_a_sound_log_without_counters_keeps_to_its_periods(stamp_s: float, loss: float) -> None:
    trace = sound(stamp_s=stamp_s, loss=loss).trace()
    assert doubts(variant(NO_COUNTER), trace) == []


def test_a_counter_that_goes_on_shows_that_only_the_stamps_of_a_message_were_late() -> None:
    """The same frames, late: SAFE_State counts on, so no time is missing for the other messages."""
    tape = sound().late(LOD, 0.02, 20.0, 20.4)
    blind = {
        one.subject for one in judge_trace(BENCH, tape.trace()).findings if one.effect == "data_complete"
    }
    assert blind == {"LOD_Actual"}
    blind = {
        one.subject
        for one in judge_trace(variant(NO_COUNTER), tape.trace()).findings
        if one.effect == "data_complete"
    }
    assert blind >= {"LOD_Actual", "SAFE_State", "DRV_Actual"}


def test_a_log_without_counters_that_is_whole_says_what_it_cannot_show() -> None:
    (whole,) = found(judge_trace(BENCH, sound().trace()), "data_complete")
    assert "counts its frames" not in whole.sentence
    (bare,) = found(judge_trace(variant(NO_COUNTER), sound().trace()), "data_complete")
    assert bare.verdict is Verdict.PASS
    assert "No message counts its frames (alive)" in bare.sentence
    assert "would not show" in bare.sentence


@settings(max_examples=25)
@given(st.floats(4.0, 50.0), st.floats(0.05, 3.0))
def test_a_piece_cut_out_anywhere_makes_no_sound_log_fail(at: float, length: float) -> None:
    said = judge_trace(BENCH, joined(sound(), at, at + length).trace())
    assert [one.sentence for one in said.findings if one.verdict is Verdict.FAIL] == []


@settings(max_examples=20)
@given(st.floats(-0.05, 0.15), st.floats(0.03, 2.0))
def test_nor_does_it_hide_that_torque_came_off_too_late(after: float, length: float) -> None:
    """300 ms of torque after the cover opened, and a piece between the two is cut out: that log does not pass."""
    tape = sound().move("DrvCurrent", 0.3, COVER.on - 0.1, COVER.on + 0.6)
    cut_ = joined(tape, COVER.on + after, COVER.on + after + length)
    assert judge_trace(BENCH, cut_.trace()).verdict is not Verdict.PASS


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
        (said,) = re.findall(r"([0-9]+) ms or more are missing", one.sentence)
        assert int(said) <= milliseconds + 10


def test_a_log_without_the_counters_is_told_nothing(bench: Bench, tmp_path: Path) -> None:
    assert doubts(bench, sound().drop(SAFE).trace()) == []
    assert not list(tmp_path.iterdir())


def jump(lo_ms: int, hi_ms: int, message: str = "SAFE_State") -> Quality:
    span = Interval(lo_ms * 10**6, hi_ms * 10**6)
    return Quality(QualityKind.COUNTER_JUMPED, message, None, span, "a.log:9", True, "The counter jumps.")


@pytest.mark.parametrize(
    ("jumps", "hulls"),
    [
        ([], []),
        ([jump(10, 20)], []),
        ([jump(10, 20), jump(55, 60)], [(10, 60)]),  # 35 ms apart: the longest gap
        ([jump(10, 20), jump(56, 60)], []),
        (
            [jump(10, 20), jump(30, 40), jump(50, 55), jump(200, 210), jump(500, 510), jump(520, 530)],
            [(10, 55), (500, 530)],
        ),
        ([jump(10, 90), jump(30, 40), jump(100, 110)], [(10, 110)]),
        ([jump(10, 20), jump(30, 40, "DRV_Actual")], []),
    ],
)
def test_between_jumps_of_a_counter_nothing_is_sure(
    jumps: list[Quality], hulls: list[tuple[int, int]]
) -> None:
    assert BENCH.shows is not None
    told = list(in_disorder(replace(sound().trace(), quality=tuple(jumps)), BENCH.shows))
    assert [(one.span.lo // 10**6, (one.span.hi or 0) // 10**6) for one in told] == hulls
    assert all(
        one.blinds and "frames of different times may stand among each other" in one.sentence for one in told
    )


@pytest.mark.parametrize("by", [0.1, 0.25])
@pytest.mark.parametrize("length", [0.4, 0.6])
def test_frames_of_a_counted_message_that_come_late_among_others_make_no_sound_log_fail(
    by: float, length: float, tmp_path: Path
) -> None:
    tape = sound().drop(None, 21.0)
    rows = tape.rows(SAFE, COVER.on - 0.3, COVER.on - 0.3 + length)
    tape.us[rows] += round(by * 1e6)
    said = judged(tape.take(np.argsort(tape.us, kind="stable")), tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert [one.sentence for one in said.findings if one.verdict is Verdict.FAIL] == []


@pytest.mark.parametrize("apart_s", [2.5, 20.0])
def test_two_pieces_that_were_cut_out_are_told_each_for_itself(bench: Bench, apart_s: float) -> None:
    """Between them the recording is whole: the doubts do not run together."""
    trace, length = counted(sound()), 400_000_000
    first = int((COVER.on - 3) * 1e9)
    second = first + length + int(apart_s * 1e9)
    signals, messages = dict(trace.signals), {}
    for name, times in trace.messages.items():
        kept = ((times < first) | (times >= first + length)) & ((times < second) | (times >= second + length))
        later = times - length * (times >= first).astype(np.int64) - length * (times >= second)
        messages[name] = later[kept]
        for key, one in signals.items():
            if one.message == name:
                signals[key] = replace(one, times_ns=later[kept], values=one.values[kept])
    found = doubts(bench, replace(trace, messages=messages, signals=signals))
    near = {
        place: [one for one in found if abs(one.span.lo - place) < 50_000_000]
        for place in (first, second - length)
    }
    for place, told in near.items():
        assert {one.message for one in told} == set(messages)
        assert all(one.span.hi is not None and one.span.hi < place + 700_000_000 for one in told)
    assert sum(map(len, near.values())) == len(found)


@pytest.mark.parametrize("turns", [1, 2, 3])
@pytest.mark.parametrize(("every", "length"), [(1, 0.2), (2, 0.4), (3, 0.6)])
def test_frames_that_are_late_by_whole_turns_of_a_small_counter_make_no_sound_log_fail(
    turns: int, every: int, length: float, tmp_path: Path
) -> None:
    """A counter to 16 turns in 160 ms: late frames that come alone look like those that belong there."""
    tape = sound().drop(None, 12.0)
    tape.data[tape.rows(SAFE), 7] %= 16
    rows = tape.rows(SAFE, COVER.on - 0.1, COVER.on - 0.1 + length)[::every]
    tape.us[rows] += turns * 160_000
    (tmp_path / "a.log").write_text(tape.take(np.argsort(tape.us, kind="stable")).text(), newline="\n")
    said = replay(BENCH_FILE, variant(("alive_modulo: 256", "alive_modulo: 16")), [tmp_path / "a.log"])
    assert said.verdict is Verdict.INCONCLUSIVE
    assert [one.sentence for one in said.findings if one.verdict is Verdict.FAIL] == []
    assert any("jumps or stands" in one.sentence for one in said.observation.trace.quality)
