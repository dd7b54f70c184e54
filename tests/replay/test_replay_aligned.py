"""From what is stated of a clock to that clock: offsets of stamps as they are written, edges, and why none is found."""

from typing import Any

import numpy as np
import pytest
from replay_tape import BENCH

from interlock.bench.source_models import Source, StatedClock
from interlock.interval import Interval
from interlock.replay.aligned import NotAligned, aligned
from interlock.replay.observation import Observation
from interlock.timing.align import Alignment
from interlock.trace import Quality, QualityKind, Samples, Trace

MS = 1_000_000
EDGE = {"here": "scope.sto is 1", "there": "SAFE_State.TorqueEnableDrv is 1"}
SCOPE = {
    "kind": "table",
    "table": {"time": 1},
    "period": "1 ms",
    "longest_gap": "5 ms",
    "stamp_delay": {"least": "0 ms", "most": "0 ms"},
    "signals": {"sto": "CH1"},
    "clock": {"drift": "0 ppm", "edges": [EDGE]},
}
assert BENCH.shows is not None
SHOWS = BENCH.shows.model_copy(
    update={"sources": {"logger": Source(kind="can"), "scope": Source.model_validate(SCOPE)}}
)


def line(
    message: str, signal: str, step_ms: int, changes_ms: list[int], end_ms: int, **more: Any
) -> Observation:
    """A line that is off at first and changes at these instants, sampled evenly."""
    times = np.arange(0, end_ms + 1, step_ms, dtype=np.int64) * MS
    values = np.searchsorted(np.array(changes_ms) * MS, times, side="right") % 2.0
    trace = Trace(
        **{"start_ns": 0, "absolute": False, **more},
        end_ns=int(times[-1]),
        messages={message: times},
        signals={f"{message}.{signal}": Samples(message, signal, "", times, values)},
        sources=(),
        message_width_ns={message: 0},
    )
    return Observation(BENCH, SHOWS, trace)


def scope(changes_ms: list[int], end_ms: int = 1000, **more: Any) -> Observation:
    return line("scope", "sto", 1, changes_ms, end_ms, **more)


def can(changes_ms: list[int], end_ms: int = 1000, **more: Any) -> Observation:
    return line("SAFE_State", "TorqueEnableDrv", 10, changes_ms, end_ms, **more)


def found(stated: dict[str, Any], own: Observation, reference: Observation) -> Alignment:
    return aligned(StatedClock.model_validate({"drift": "0 ppm", **stated}), own, reference)


def test_one_edge_by_hand() -> None:
    """CAN: between the stamps 490 and 500 ms, stamped up to 4 ms late; the scope: between 199 and 200 ms."""
    got = found({"edges": [EDGE]}, scope([200]), can([500]))
    assert got.clock.offset == Interval((486 - 200) * MS, (500 - 199) * MS)


def test_an_edge_that_comes_later_there() -> None:
    later = {**EDGE, "later": {"least": "5 ms", "most": "7 ms"}}
    got = found({"edges": [later]}, scope([200]), can([500]))
    assert got.clock.offset == Interval((486 - 7 - 200) * MS, (500 - 5 - 199) * MS)


OFFSET = {"offset": {"least": "10 ms", "most": "12 ms"}}


@pytest.mark.parametrize(
    ("own", "reference", "offset_ms"),
    [
        ({"start_ns": 0}, {"start_ns": 0}, (10, 12)),
        ({"start_ns": -500 * MS}, {"start_ns": 0}, (-490, -488)),  # its first stamp is -500 ms
        ({"start_ns": 700 * MS}, {"start_ns": 100 * MS}, (610, 612)),
        ({"start_ns": 10**18 + 5 * MS, "absolute": True}, {"start_ns": 10**18, "absolute": True}, (15, 17)),
        (
            {"start_ns": -500 * MS},
            {"start_ns": 10**18, "absolute": True},
            (-490, -488),
        ),  # counted from its first
        ({"start_ns": 10**18, "absolute": True}, {"start_ns": 300 * MS}, (-290, -288)),
        (
            {"start_ns": 10**18, "absolute": True, "start_width_ns": 3 * MS},
            {"start_ns": 10**18, "absolute": True, "start_width_ns": MS},
            (6, 16),  # neither date is finer
        ),
        ({"start_ns": 0, "start_width_ns": 3 * MS}, {"start_ns": 10**18, "absolute": True}, (10, 12)),
    ],
)
def test_an_offset_is_that_of_stamps_as_they_are_written(
    own: dict[str, Any], reference: dict[str, Any], offset_ms: tuple[int, int]
) -> None:
    got = found(OFFSET, scope([200], **own), can([500], **reference))
    assert got.clock.offset == Interval(offset_ms[0] * MS, offset_ms[1] * MS)
    assert got.events == 0


def test_a_rough_offset_says_where_to_look() -> None:
    """One record of the line among three that look alike."""
    reference = can([100, 200, 400, 500, 700, 800])
    own = scope([40, 140], end_ms=180)
    with pytest.raises(NotAligned, match="3 separate offsets"):
        found({"edges": [EDGE]}, own, reference)
    got = found({"edges": [EDGE], "offset": {"least": "300 ms", "most": "420 ms"}}, own, reference)
    assert 360 * MS in got.clock.offset


@pytest.mark.parametrize(
    ("own", "reference", "why"),
    [
        (scope([]), can([500]), "'scope.sto is 1' never changes in its log"),
        (scope([200]), can([]), "'SAFE_State.TorqueEnableDrv is 1' never changes in its log"),
        (scope([200, 300]), can([500, 900]), "no offset lays the trains over each other"),
    ],
)
def test_why_no_clock_is_found(own: Observation, reference: Observation, why: str) -> None:
    with pytest.raises(NotAligned) as told:
        found({"edges": [EDGE]}, own, reference)
    assert why in str(told.value)
    assert "state bounds of the 'offset'" in str(told.value)


def test_an_edge_in_a_stretch_without_evidence_is_known_no_better() -> None:
    """Frames from 470 to 530 ms are in doubt: the edge at 500 ms lies anywhere between."""
    doubt = Quality(QualityKind.GAP, "SAFE_State", None, Interval(470 * MS, 530 * MS), "x", True, "lost")
    got = found({"edges": [EDGE]}, scope([200]), can([500], quality=(doubt,)))
    assert got.clock.offset == Interval((466 - 200) * MS, (530 - 199) * MS)


def test_the_drift_that_is_stated_is_in_the_clock() -> None:
    got = found({"drift": "100 ppm", "edges": [EDGE]}, scope([200]), can([500]))
    early, late = got.clock.common(0), got.clock.common(10_000 * MS)
    assert (late.hi or 0) - late.lo > (early.hi or 0) - early.lo
