"""A message that is also sent when its content changes: no doubt about its stamps, and none that is due is lost.

The rule that a change may send a frame between those of the period, with or without beginning the period anew, is
common practice of CAN networks ("cyclic and on change"), no source.
"""

from dataclasses import replace

import numpy as np
import pytest
from replay_tape import BENCH, COVER, DRV, ESTOP, SAFE, Tape, found, heard, sound

from interlock.bench.shows_models import Shows
from interlock.replay import Judgement, judge_trace
from interlock.replay.missing_time import missing_time
from interlock.replay.stamps import late_stamps
from interlock.trace import Quality, Trace
from interlock.verdict import Verdict

assert BENCH.shows is not None
PLAIN = BENCH.shows
PERSON_NS = 200_000_000


def stated(*, on_change: bool = True, counter: bool = True) -> Shows:
    """The sample bench's description, in which SAFE_State is sent on change too, and perhaps has no counter."""
    safe = PLAIN.messages["SAFE_State"].model_copy(update={"on_change": on_change})
    if not counter:
        safe = safe.model_copy(update={"alive": None})
    return PLAIN.model_copy(update={"messages": {**PLAIN.messages, "SAFE_State": safe}})


def with_events(tape: Tape, early: float = 0.006, *, anew: bool = False) -> Tape:
    """A frame more at each change of SAFE_State, `early` seconds before the periodic one that shows it first.

    `early` below 0: just after it. `anew`: that one comes so much sooner instead, and all later ones keep their
    period from it.
    """
    rows, sooner = tape.rows(SAFE), round(early * 1e6)
    changed = rows[1:][np.any(tape.data[rows[1:], :2] != tape.data[rows[:-1], :2], axis=1)]
    if anew:
        tape.us[rows] -= np.searchsorted(changed, rows, side="right") * sooner
    else:
        tape.us = np.concatenate((tape.us, tape.us[changed] - sooner))
        tape.ident = np.concatenate((tape.ident, tape.ident[changed]))
        tape.data = np.concatenate((tape.data, tape.data[changed]))
    tape.take(np.argsort(tape.us, kind="stable"))
    mine = tape.rows(SAFE)
    tape.data[mine, 7] = np.arange(len(mine)) % 256
    return tape


def seen(tape: Tape, shows: Shows) -> Trace:
    """The tape's trace; a counter that the description does not name is not decoded."""
    trace = tape.trace()
    if shows.messages["SAFE_State"].alive is not None:
        return trace
    signals = {name: one for name, one in trace.signals.items() if one.signal != "Alive"}
    return replace(trace, signals=signals)


def doubts(tape: Tape, shows: Shows) -> list[Quality]:
    trace = seen(tape, shows)
    late = list(late_stamps(trace, shows))
    return [*late, *missing_time(trace, shows, late, PERSON_NS)]


def said(tape: Tape, shows: Shows) -> Judgement:
    return judge_trace(BENCH.model_copy(update={"shows": shows}), seen(tape, shows))


@pytest.mark.parametrize("counter", [True, False], ids=["counted", "uncounted"])
@pytest.mark.parametrize("anew", [False, True], ids=["the period goes on", "the period begins anew"])
@pytest.mark.parametrize("early", [-0.0005, 0.0005, 0.004, 0.009])
def test_frames_sent_on_change_raise_no_doubt_where_they_are_stated(
    early: float, anew: bool, counter: bool
) -> None:
    assert doubts(with_events(sound(), early, anew=anew), stated(counter=counter)) == []


@pytest.mark.parametrize("seed", [3, 11])
@pytest.mark.parametrize("stamp_s", [0.00015, 0.003])
def test_the_log_passes_as_it_does_without_them(seed: int, stamp_s: float) -> None:
    shown = said(with_events(sound(seed, stamp_s=stamp_s)), stated())
    assert shown.verdict is Verdict.PASS
    plain = heard(sound(seed, stamp_s=stamp_s))
    assert {(one.function, one.subject, one.effect) for one in shown.findings} == {
        (one.function, one.subject, one.effect) for one in plain.findings
    }


def test_without_the_entry_they_read_as_late_stamps() -> None:
    tape = with_events(sound(), 0.009)
    told = doubts(tape, stated(on_change=False))
    assert told
    assert all(
        "If it is sent at each change too, write 'on_change: true' for it." in one.sentence for one in told
    )
    assert said(tape, stated(on_change=False)).verdict is Verdict.INCONCLUSIVE


def test_the_entry_changes_nothing_in_a_log_without_such_frames() -> None:
    tape = sound()
    assert [one.as_json() for one in said(tape, stated()).findings] == [
        one.as_json() for one in heard(tape).findings
    ]


def test_a_frame_sent_on_change_makes_the_onset_sharper() -> None:
    """The demand lies between the frame before and the one that the change sent, not the next of the period."""

    def wide(judgement: Judgement) -> int:
        (one,) = found(judgement, "torque_off", subject="drive", near=COVER.on)
        assert one.demand is not None
        assert one.demand.hi is not None
        return one.demand.hi - one.demand.lo

    sharper = wide(heard(sound())) - wide(said(with_events(sound(), 0.006), stated()))
    assert abs(sharper - 6_000_000) < 1_000


@pytest.mark.parametrize("counter", [True, False], ids=["counted", "uncounted"])
@pytest.mark.parametrize("by", [0.012, 0.02, 0.05, 0.2])
def test_a_stretch_stamped_late_is_still_told(by: float, counter: bool) -> None:
    tape = with_events(sound()).late(SAFE, by, 20.0, 20.4)
    shows = stated(counter=counter)
    (one,) = late_stamps(seen(tape, shows), shows)
    assert one.blinds
    assert "on_change" not in one.sentence
    assert one.message == "SAFE_State"
    assert one.span.hi is not None
    assert 19.5e9 < one.span.lo < 20.4e9 < one.span.hi


@pytest.mark.parametrize("events", [True, False], ids=["with such frames", "without"])
@pytest.mark.parametrize("counter", [True, False], ids=["counted", "uncounted"])
@pytest.mark.parametrize("stop", [COVER, ESTOP], ids=["cover", "emergency stop"])
@pytest.mark.parametrize("by", [0.02, 0.06, 0.1])
def test_late_stamps_of_the_demand_never_make_a_slow_bench_pass(
    by: float, stop: object, counter: bool, events: bool
) -> None:
    """Torque 110 to 190 ms after the demand, which is shown later than it came: as without the entry."""
    on = stop.on  # type: ignore[attr-defined]
    slow = with_events(sound()) if events else sound()
    for signal in ("DrvCurrent", "LodCurrent"):
        slow.move(signal, by + 0.09, on, on + 0.8)
    slow.late(SAFE, by, on - 0.3, on + 0.5)
    assert said(slow, stated(counter=counter)).verdict in {Verdict.INCONCLUSIVE, Verdict.FAIL}


@pytest.mark.parametrize("piece", [0.5111, 1.2103, 2.3509])
def test_a_piece_cut_out_of_the_recording_is_still_told_by_the_other_messages(piece: float) -> None:
    tape = with_events(sound()).cut_out(COVER.press - 0.2, COVER.press - 0.2 + piece)
    told = doubts(tape, stated(counter=False))
    assert {one.message for one in told} >= {"SAFE_State", "DRV_Actual"}
    assert all(one.blinds for one in told)
    assert said(tape, stated(counter=False)).verdict is not Verdict.PASS


def test_a_message_sent_on_change_that_keeps_another_time_from_a_frame_on_tells_of_a_cut() -> None:
    """Half a period, where its content stayed the same: the other messages, a whole number of periods, show nothing."""
    lo = COVER.on + 0.6
    tape = with_events(sound()).cut_out(lo, lo + 0.705)
    shows = stated(counter=False)
    only = shows.model_copy(update={"messages": {"SAFE_State": shows.messages["SAFE_State"]}})
    told = list(missing_time(seen(tape, shows), only, [], PERSON_NS))
    assert told
    assert all(one.blinds and abs(one.span.lo / 1e9 - lo) < 0.1 for one in told)


def test_other_messages_are_held_against_their_period_as_before() -> None:
    tape = with_events(sound()).late(DRV, 0.02, 20.0, 20.4)
    assert {one.message for one in late_stamps(tape.trace(), stated())} == {"DRV_Actual"}


def test_a_frame_of_which_nothing_is_known_counts_as_changed() -> None:
    """NaN equals nothing, itself neither: such a frame proves nothing about stamps."""
    trace = with_events(sound()).trace()
    blank = {
        name: replace(one, values=np.full_like(one.values, np.nan)) if one.message == "SAFE_State" else one
        for name, one in trace.signals.items()
    }
    assert list(late_stamps(replace(trace, signals=blank), stated())) == []
