"""Stamps that came later than the bench description allows, and stretches in which nothing at all was recorded."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from replay_tape import BENCH, BENCH_FILE, BUS, COVER, DRV, LOD, REFS, SAFE, Tape, found, heard, sound

from interlock.bench import load_bench
from interlock.bench.shows_models import Shows
from interlock.interval import Interval
from interlock.replay import judge_trace
from interlock.replay.stamps import late_stamps, silences
from interlock.trace import Quality, QualityKind
from interlock.verdict import Verdict

SHOWS = BENCH.shows
assert SHOWS is not None


def doubts(tape: Tape) -> list[Quality]:
    return list(late_stamps(tape.trace(), SHOWS))


def span_s(doubt: Quality) -> tuple[float, float]:
    assert doubt.span.hi is not None
    return doubt.span.lo / 1e9, doubt.span.hi / 1e9


@pytest.mark.parametrize("stamp_s", [0.00015, 0.002, 0.004])
@pytest.mark.parametrize("loss", [0.0, 0.02])
@pytest.mark.parametrize("seed", [3, 11])
def test_stamps_within_the_stated_delay_raise_no_doubt(seed: int, stamp_s: float, loss: float) -> None:
    tape = sound(seed, stamp_s=stamp_s, loss=loss)
    assert doubts(tape) == []
    assert silences(tape.trace(), SHOWS) == []


@pytest.mark.parametrize("width_ms", [1, 4, 10])
@pytest.mark.parametrize("said", [True, False])
def test_stamps_as_coarse_as_the_log_says_are_no_late_ones(width_ms: int, said: bool) -> None:
    """Cut to whole milliseconds; where the log does not say how wide its stamps are, wide ones look late."""
    width, trace = width_ms * 1_000_000, sound().trace()
    messages = {name: times // width * width for name, times in trace.messages.items()}
    signals = {
        key: replace(one, times_ns=one.times_ns // width * width) for key, one in trace.signals.items()
    }
    coarse = replace(trace, messages=messages, signals=signals, resolution_ns=width if said else 1)
    assert bool(list(late_stamps(replace(coarse, message_width_ns={}), SHOWS))) is (
        not said and width_ms == 10
    )


NAMES = {SAFE: "SAFE_State", DRV: "DRV_Actual", LOD: "LOD_Actual", REFS: "CTL_Refs", BUS: "PSU_Bus"}


@pytest.mark.parametrize("ident", NAMES, ids=NAMES.get)
@pytest.mark.parametrize("by", [0.012, 0.02, 0.05, 0.2])
def test_a_stretch_stamped_late_is_told_back_to_where_it_began(ident: int, by: float) -> None:
    """Frames nearer than a period at its end prove that the ones before them had been sent earlier than stamped."""
    lo, hi = 20.0, 20.4
    (one,) = doubts(sound().late(ident, by, lo, hi))
    assert (one.kind, one.message, one.signal, one.blinds) == (
        QualityKind.TIME_RELATIVE,
        NAMES[ident],
        None,
        True,
    )
    begin, end = span_s(one)
    if by > 0.015 or ident in {SAFE, DRV, LOD}:
        assert begin < hi - 0.1
    assert begin > lo - 0.5
    assert hi - 0.05 <= end <= hi + by + 0.05
    assert "stamped later than its period and the stated delay of stamps allow" in one.sentence


@pytest.mark.parametrize("by", [0.001, 0.003])
def test_a_delay_within_what_is_stated_is_no_doubt(by: float) -> None:
    assert doubts(sound().late(DRV, by, 20, 20.4)) == []


def test_a_counter_shows_late_stamps_where_a_message_without_one_may_have_lost_frames() -> None:
    """From some frame to the end of the log: SAFE_State counts its frames, DRV_Actual does not."""
    (one,) = doubts(sound().late(SAFE, 0.02, 20, 99))
    assert 19.9 < one.span.lo / 1e9 < 20.1
    assert doubts(sound().late(DRV, 0.02, 20, 99)) == []


def test_delays_that_grow_frame_by_frame_are_seen() -> None:
    tape = sound()
    rows = tape.rows(SAFE, 20, 20.3)
    tape.us[rows] += np.arange(len(rows)) * 1000
    tape.take(np.argsort(tape.us, kind="stable"))
    assert doubts(tape) != []


def test_a_late_stretch_makes_the_stop_in_it_inconclusive() -> None:
    for ident, effect in ((SAFE, "torque_off"), (DRV, "torque_off"), (REFS, "references_zero")):
        said = heard(sound().late(ident, 0.05, COVER.on - 0.2, COVER.on + 0.6))
        assert said.verdict is Verdict.INCONCLUSIVE
        assert Verdict.INCONCLUSIVE in {one.verdict for one in found(said, effect, near=COVER.on)}
        (one,) = [one for one in found(said, "data_complete") if one.verdict is not Verdict.PASS]
        assert (one.function, one.subject) == ("recording", NAMES[ident])


@pytest.mark.parametrize("by", [0.02, 0.06, 0.1])
def test_late_stamps_of_the_demand_never_make_a_slow_bench_pass(by: float) -> None:
    """Torque 110 to 190 ms after the cover, which is shown later than it was opened."""
    slow = sound()
    for signal in ("DrvCurrent", "LodCurrent"):
        slow.move(signal, by + 0.09, COVER.on, COVER.on + 0.8)
    said = heard(slow.late(SAFE, by, COVER.on - 0.3, COVER.on + 0.5))
    assert said.verdict in {Verdict.INCONCLUSIVE, Verdict.FAIL}


def test_a_counter_that_goes_wrong_for_a_frame_blinds_no_more_than_that() -> None:
    tape = sound().put("Alive", 0, 12.0, 12.01)
    assert all(span_s(one)[1] - span_s(one)[0] < 0.1 for one in doubts(tape))


def test_what_is_in_doubt_for_another_reason_is_not_told_again() -> None:
    tape = sound().put("Alive", 7, 20.0, 22.0)
    stopped = Quality(
        QualityKind.COUNTER_STOPPED,
        "SAFE_State",
        None,
        Interval(19 * 10**9, 22 * 10**9),
        "x:1",
        True,
        "It stands still.",
    )
    trace = replace(tape.trace(), quality=(stopped,))
    assert list(late_stamps(trace, SHOWS)) == []


def test_messages_that_the_log_lacks_or_holds_once_raise_no_doubt_here() -> None:
    assert doubts(sound().drop(BUS).drop(REFS, 0.02)) == []


def stepped(by: float, at: float = 12.0) -> Tape:
    tape = sound()
    tape.us[tape.us > at * 1e6] += round(by * 1e6)
    return tape


@pytest.mark.parametrize("by", [0.05, 1.0, 30.0])
def test_a_clock_set_forward_is_a_silence_and_not_a_late_stretch(by: float) -> None:
    tape = stepped(by)
    assert doubts(tape) == []
    (one,) = silences(tape.trace(), SHOWS)
    assert one.hi is not None
    assert abs(one.hi - one.lo - by * 1e9) < 3e6


@pytest.mark.parametrize("by", [0.1, 1.0, 7.0])
def test_a_clock_set_forward_in_a_stop_makes_no_fail(by: float) -> None:
    """Torque off 10 ms later by the bench's own time; by the stamps, after the step."""
    said = heard(stepped(by, COVER.on + 0.01))
    assert said.verdict in {Verdict.INCONCLUSIVE, Verdict.PASS}
    assert {one.verdict for one in found(said, "torque_off", near=COVER.on)} == {Verdict.INCONCLUSIVE}


def test_a_pause_of_the_recorder_long_before_changes_nothing() -> None:
    assert (
        heard(sound().drop(None, 4.8, 5.4)).verdict is Verdict.PASS
    )  # the reader tells the gap; the judge, the rest


SECOND = "second: {kind: can, clock: {drift: 50 ppm, offset: {least: 0 s, most: 1 s}}}"


@pytest.fixture(scope="module")
def two_recorders(tmp_path_factory: pytest.TempPathFactory) -> Shows:
    """The sample bench, its drive and load units recorded by a second CAN logger."""
    folder = tmp_path_factory.mktemp("two")
    text = BENCH_FILE.read_text(encoding="utf-8")
    for old, new in (
        ("  messages:\n", f"  sources:\n    logger: {{kind: can}}\n    {SECOND}\n  messages:\n"),
        ("SAFE_State: {", "SAFE_State: {source: logger, "),
        ("    DRV_Actual:\n", "    DRV_Actual:\n      source: second\n"),
        ("LOD_Actual: {", "LOD_Actual: {source: second, "),
        ("CTL_Refs: {", "CTL_Refs: {source: logger, "),
        ("PSU_Bus: {", "PSU_Bus: {source: logger, "),
    ):
        assert old in text, old
        text = text.replace(old, new, 1)
    (folder / "bench.yaml").write_text(text, encoding="utf-8")
    shutil.copy(BENCH_FILE.parent / "bench.dbc", folder)
    shows = load_bench(folder / "bench.yaml").shows
    assert shows is not None
    return shows


def test_a_message_that_nothing_is_said_of_makes_no_recorder_silent(two_recorders: Shows) -> None:
    """The second recorder alone: besides the units it holds a slow message of which the bench file says nothing."""
    trace = sound().drop(SAFE).drop(REFS).drop(BUS).trace()
    messages = {name: times for name, times in trace.messages.items() if name in {"DRV_Actual", "LOD_Actual"}}
    slow = np.arange(0, trace.end_ns, 10**9)
    alone = replace(trace, messages={**messages, "TQS_Torque": slow})
    assert not [one for one in silences(alone, two_recorders) if one.lo > 0]


def test_a_message_of_another_recorder_fills_no_silence(two_recorders: Shows) -> None:
    """The first recorder was silent for a second; nobody knows which of the two recorded the unnamed message."""
    trace = sound().drop(SAFE, 20, 21).drop(REFS, 20, 21).drop(BUS, 20, 21).trace()
    unnamed = replace(trace, messages={**trace.messages, "TQS_Torque": trace.messages["DRV_Actual"]})
    (one,) = silences(unnamed, two_recorders)
    assert one.hi is not None
    assert one.hi - one.lo > 0.9e9


@pytest.mark.parametrize("by", [0.293, 0.3, 0.304, 0.307])
def test_a_single_frame_out_of_place_proves_no_late_effect(by: float) -> None:
    """It still shows the references set, among later frames that show them zero: it may be older than its stamp."""
    tape = sound()
    row = tape.rows(REFS, COVER.on - 0.02, COVER.on)[-1]
    tape.us[row] += round(by * 1e6)
    tape.take(np.argsort(tape.us, kind="stable"))
    said = heard(tape)
    (one,) = found(said, "references_zero", near=COVER.on)
    assert one.verdict is Verdict.INCONCLUSIVE


# ---- what may be the reason ------------------------------------------------------------------------------------------


def in_blocks(us: int) -> Tape:
    """The recorder stamps all frames of so many microseconds when it hands them over."""
    tape = sound()
    tape.us = -(-tape.us // us) * us
    return tape


def twice(tape: Tape, one_in: int, after_us: int) -> Tape:
    """One in so many frames stands twice."""
    rows = np.arange(len(tape.us))
    rows = np.sort(np.concatenate([rows, rows[::one_in]]), kind="stable")
    tape.take(rows)
    tape.us[1:][rows[1:] == rows[:-1]] += after_us
    return tape.take(np.argsort(tape.us, kind="stable"))


def hints(tape: Tape) -> dict[str, str]:
    """By message what is said after that its stamps are late."""
    return {str(one.message): one.sentence.partition("not certain.")[2] for one in doubts(tape)}


@pytest.mark.parametrize("us", [20_000, 40_000])
def test_a_recorder_that_stamps_in_blocks_is_told_with_what_to_state(us: int) -> None:
    """Stamps of 20 us: too coarse to see that the frames stand nearer to each other than a bus can carry them."""
    coarse = list(late_stamps(replace(in_blocks(us).trace(), resolution_ns=20_000), SHOWS))
    said = {one.message: one.sentence.partition("not certain.")[2] for one in coarse}
    assert {"SAFE_State", "DRV_Actual", "LOD_Actual", "PSU_Bus"} <= said.keys()
    for hint in said.values():  # of those too of which each block holds one
        assert hint.startswith(
            f" Its recorder stamps frames in blocks {us / 1000:.1f} ms apart: if that is its way,"
        )


def test_once_it_is_stated_the_blocks_are_no_doubt_and_the_bounds_are_wider(tmp_path: Path) -> None:
    text = BENCH_FILE.read_text(encoding="utf-8").replace("most: 4 ms", "most: 24 ms")
    for old, new in (("17500 us", "37500 us"), ("gap: 35 ms", "gap: 55 ms"), ("gap: 70 ms", "gap: 90 ms")):
        text = text.replace(old, new)
    (tmp_path / "bench.yaml").write_text(text, encoding="utf-8")
    shutil.copy(BENCH_FILE.parent / "bench.dbc", tmp_path)
    bench = load_bench(tmp_path / "bench.yaml")
    assert bench.shows is not None
    trace = in_blocks(20_000).trace()
    assert list(late_stamps(trace, bench.shows)) == []
    stated, sharp = judge_trace(bench, trace), heard(sound())
    for one, other in zip(found(stated, "torque_off"), found(sharp, "torque_off"), strict=True):
        assert one.latency is not None
        assert other.latency is not None
        assert one.latency.lo <= other.latency.lo
        assert (one.latency.hi or 0) >= (other.latency.hi or 0)


@pytest.mark.parametrize("after_us", [0, 20], ids=["one stamp", "nearly"])
@pytest.mark.parametrize("one_in", [1, 50], ids=["all", "some"])
def test_frames_that_stand_twice_are_told_as_such(one_in: int, after_us: int) -> None:
    said = hints(twice(sound(), one_in, after_us))
    assert {"DRV_Actual", "LOD_Actual"} <= said.keys()
    for hint in said.values():
        assert "the one before at nearly the same instant: export the log so that each is in it once." in hint


@pytest.mark.parametrize("ident", [DRV, REFS], ids=["DRV", "REFS"])
def test_late_stamps_of_one_message_alone_may_be_those_of_changes(ident: int) -> None:
    (hint,) = hints(sound().late(ident, 0.05, 20, 20.4)).values()
    assert hint == " If it is sent at each change too, write 'on_change: true' for it."
