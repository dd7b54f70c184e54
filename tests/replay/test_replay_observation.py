"""The log as the bench description reads it: tracks by port, demands by device, doubts and silences."""

from dataclasses import replace

import numpy as np
import pytest
from replay_tape import BENCH, BUS, COVER, REFS, SAFE, Tape, sound

from interlock.bench.expr import And, Const, Name, Not, Or
from interlock.bench.observe import parse_condition
from interlock.errors import InterlockError
from interlock.interval import Interval
from interlock.replay.observation import Observation
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock
from interlock.trace import Quality, QualityKind

SHOWS = BENCH.shows
assert SHOWS is not None


def seen(tape: Tape) -> Observation:
    assert SHOWS is not None
    return Observation(BENCH, SHOWS, tape.trace())


def values(observation: Observation, port: str, at: float) -> int:
    """What the track of a port shows at an instant of the tape (s)."""
    track = observation.tracks[port]
    start = observation.trace.start_ns
    index = int(np.searchsorted(track.stamps_ns + start, round((1_790_000_000 + at) * 1e9)))
    return int(track.states[index])


def test_there_is_a_track_for_every_port_shown() -> None:
    observation = seen(sound())
    assert set(observation.tracks) == set(SHOWS.states)
    assert observation.clock_of("SAFE_State") == Clock(0, 4_000_000, 1000)
    assert {track.message for track in observation.tracks.values()} == {
        *("SAFE_State", "DRV_Actual", "LOD_Actual", "CTL_Refs")
    }


@pytest.mark.parametrize(
    ("port", "before", "within"),
    [
        ("cover.a", YES, NO),
        ("cover.b", YES, NO),
        ("button.actuated", NO, NO),
        ("estop.actuated", NO, NO),
        ("drive.enabled", YES, NO),
        ("load.torque", YES, NO),
        ("references.set", YES, NO),
        ("contactor.main", YES, YES),
        ("reset.pressed", NO, NO),
    ],
)
def test_the_states_before_and_within_a_cover_stop(port: str, before: int, within: int) -> None:
    observation = seen(sound())
    assert values(observation, port, COVER.on - 0.5) == before
    assert values(observation, port, COVER.on + 1.0) == within


def test_demands_follow_the_kind_of_their_device() -> None:
    observation = seen(sound())
    assert set(observation.demands) == {"cover", "button", "estop"}
    cover = observation.demands["cover"]
    either = (observation.tracks["cover.a"].states == NO) | (observation.tracks["cover.b"].states == NO)
    assert ((cover.states == YES) == either).all()  # one open channel is a demand


def test_a_device_that_is_not_shown_makes_no_demand() -> None:
    assert SHOWS is not None
    told = {port: how for port, how in SHOWS.states.items() if port != "cover.b"}
    observation = Observation(BENCH, SHOWS.model_copy(update={"states": told}), sound().trace())
    assert set(observation.demands) == {"button", "estop"}


def test_a_signal_that_the_log_lacks_is_one_sample_of_which_nothing_is_known() -> None:
    observation = seen(sound().drop(REFS))
    assert observation.tracks["references.set"].states.tolist() == [UNKNOWN]
    assert seen(sound().drop(BUS)).beyond("bus.voltage", ">", 60, magnitude=True).states.tolist() == [UNKNOWN]  # type: ignore[union-attr]


def test_beyond_takes_the_uncertainty_of_its_signal() -> None:
    observation = seen(
        sound()
        .put("BusVoltage", 60.1, 20, 21)
        .put("BusVoltage", 60.2, 21, 22)
        .put("BusVoltage", 59.8, 22, 23)
    )
    charged = observation.beyond("bus.voltage", ">", 60, magnitude=True)
    assert charged is not None
    start = observation.trace.start_ns - 1_790_000_000 * 10**9
    at = [int(np.searchsorted(charged.stamps_ns, round(s * 1e9) - start)) for s in (20.5, 21.5, 22.5)]
    assert charged.states[at].tolist() == [UNKNOWN, YES, NO]
    assert observation.beyond("bus.current", ">", 1, magnitude=True) is None


def test_doubts_blind_the_tracks_of_their_message_only() -> None:
    doubt = Quality(
        QualityKind.GAP, "SAFE_State", None, Interval(10**9, 2 * 10**9), "x:1", True, "It is gone."
    )
    assert SHOWS is not None
    observation = Observation(BENCH, SHOWS, replace(sound().trace(), quality=(doubt,)))
    for track in observation.tracks.values():
        assert (BLIND in track.states) == (track.message == "SAFE_State")
    assert BLIND in observation.demands["cover"].states


def test_silences_and_what_lies_across_them() -> None:
    observation = seen(sound().drop(None, 20, 21))
    (silence,) = observation.silences
    assert silence.hi is not None
    assert 0.9e9 < silence.hi - silence.lo < 1.1e9
    for lo, hi, across in (
        (silence.lo - 10, silence.hi + 10, True),
        (silence.lo + 5, silence.lo + 6, True),
        (silence.lo - 10, silence.lo, False),
        (silence.hi, silence.hi + 10, False),
    ):
        assert observation.silent(lo, hi) is across
    assert seen(sound().drop(SAFE, 20, 21)).silences == []  # the others went on


def test_each_message_has_the_clock_of_its_own_source() -> None:
    assert SHOWS is not None
    trace = replace(sound().trace(), message_width_ns={"CTL_Refs": 70_000})
    observation = Observation(BENCH, SHOWS, trace)
    assert observation.tracks["references.set"].clock == Clock(0, 4_000_000, 70_000)
    assert observation.tracks["drive.torque"].clock == Clock(0, 4_000_000, 1000)


def test_names_are_those_of_the_description() -> None:
    assert seen(sound()).device_name("contactor") == "main contactor"


def test_signals_of_two_messages_cannot_make_one_output() -> None:
    assert SHOWS is not None
    told = {**SHOWS.states, "cover.b": parse_condition("CTL_Refs.SpeedRef > 0")}
    observation = Observation(BENCH, SHOWS.model_copy(update={"states": told}), sound().trace())
    with pytest.raises(InterlockError, match="come in different messages; name signals of one message"):
        _ = observation.demands


@pytest.mark.parametrize(
    ("expr", "expected"),
    [
        (Name("cover.a"), [YES, NO]),
        (Not(Name("cover.a")), [NO, YES]),
        (And((Name("cover.a"), Name("cover.b"))), [YES, NO]),
        (Or((Name("cover.a"), Not(Name("cover.b")))), [YES, YES]),
    ],
)
def test_expressions_are_read_three_valued(expr, expected: list[int]) -> None:  # type: ignore[no-untyped-def]
    observation = seen(sound())
    track = observation._track("x", expr)
    start = observation.trace.start_ns - 1_790_000_000 * 10**9
    at = [
        int(np.searchsorted(track.stamps_ns, round(s * 1e9) - start)) for s in (COVER.on - 0.5, COVER.on + 1)
    ]
    assert track.states[at].tolist() == expected


def test_a_demand_that_is_always_there_cannot_be_seen() -> None:
    observation = seen(sound())
    with pytest.raises(InterlockError, match="always or never present cannot be seen"):
        observation._track("x", Or((Name("cover.a"), Const(True))))
