"""Stamps that came later than the bench description allows, and stretches in which nothing at all was recorded."""

import shutil
from dataclasses import replace

import numpy as np
import pytest
from replay_tape import BENCH, BENCH_FILE, BUS, COVER, DRV, LOD, REFS, SAFE, Tape, found, heard, sound

from interlock.bench import load_bench
from interlock.bench.shows_models import Shows
from interlock.interval import Interval
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
