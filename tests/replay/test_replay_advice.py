"""Each finding that decides nothing says what to log or to do, so that it decides next time."""

import re

import numpy as np
import pytest
from replay_tape import BUTTON, COVER, COVER_3, DRV, ESTOP, LOD, REFS, SAFE, Tape, judged, sound
from replay_variant import hidden, variant

from interlock.replay import judge_trace
from interlock.replay.advice import AGAIN, BY_DOUBT, finer, shown_every
from interlock.timing.track import Clock, Track
from interlock.trace import QualityKind
from interlock.verdict import Verdict

ADVICE = re.compile(
    r"(?i)\b(log|record|repeat|press|wait|add|state|find out|look|compare|export|copy|start all|set|make those)\b"
)


def track(message: str, *stamps_ms: float) -> Track:
    stamps = np.array([round(one * 1e6) for one in stamps_ms], dtype=np.int64)
    return Track(message, message, stamps, np.zeros(len(stamps), dtype=np.int8), Clock(0, 0, 0))


def test_every_kind_of_doubt_has_its_advice() -> None:
    assert set(BY_DOUBT) == set(QualityKind)
    assert all(ADVICE.search(text) and text.endswith(".") for text in BY_DOUBT.values())


def test_how_often_a_message_comes_is_its_median() -> None:
    assert shown_every(track("M", 0, 10, 20, 30, 90)) == "M (now every 10 ms)"
    assert shown_every(track("M", 5)) == "M"


@pytest.mark.parametrize(
    ("tracks", "within", "said"),
    [
        ([track("A", 0, 10)], None, "log A (now every 10 ms) more often"),
        ([track("A", 0, 10), track("A", 0, 10)], None, "log A (now every 10 ms) more often"),
        (
            [track("A", 0, 10), None, track("B", 0, 2.5)],
            4_200_000,
            "log A (now every 10 ms) and B (now every 2.5 ms) more often, so that less than 4.2 ms stay open",
        ),
        ([None], None, AGAIN),
    ],
)
def test_what_to_log_more_often(tracks, within, said) -> None:
    assert finer(tracks, within) == said


def joined(tape: Tape, lo: float, hi: float) -> Tape:
    """A piece is taken out and the ends joined."""
    tape.drop(None, lo, hi)
    tape.us[tape.us >= hi * 1e6] -= round((hi - lo) * 1e6)
    return tape


SPOILT = {
    "ends in a stop": lambda t: t.drop(None, COVER.on + 0.05),
    "ends before the reset": lambda t: t.drop(None, COVER_3.gone + 0.2),
    "gap at the onset": lambda t: t.drop(None, COVER.on - 0.1, COVER.on + 0.3),
    "gap at the reset": lambda t: t.drop(SAFE, COVER.press - 0.1, COVER.release + 0.3),
    "gap after the reset": lambda t: t.drop(None, COVER.release + 0.1, COVER.start - 0.1),
    "references lost at the start": lambda t: t.drop(REFS, COVER.release, COVER.start + 0.2),
    "torque lost": lambda t: t.drop(DRV, BUTTON.on - 0.1, BUTTON.on + 0.5),
    "frozen": lambda t: t.freeze(LOD, BUTTON.on - 0.2, BUTTON.on + 0.5),
    "late": lambda t: t.late(DRV, 0.08, BUTTON.on - 0.2, BUTTON.on + 0.5),
    "cut": lambda t: joined(t, COVER.press - 0.4, COVER.release + 0.2),
    "supply pressed shortly": lambda t: t.put("SupplyOnPb", 0, ESTOP.on + 0.2, ESTOP.gone).put(
        "SupplyOnPb", 1, ESTOP.on + 2.0, ESTOP.on + 2.03
    ),
    "reset and line at once": lambda t: t.put("ResetPb", 1, COVER.release, COVER.release + 0.04),
    "reset pressed again at the start": lambda t: t.put("ResetPb", 1, COVER.start - 0.06, COVER.start + 0.2),
    "channels apart": lambda t: t.move("CoverB", 0.05, COVER.on - 0.05, COVER.on + 0.35),
    "begins late": lambda t: t.drop(None, -1, COVER.on + 0.2),
    "control stops, lines on": lambda t: t.put("DrvCurrent", 0, 12.5, 13.2).put("LodCurrent", 0, 12.5, 13.2),
}


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT.keys())
def test_what_decides_nothing_says_what_would(spoil, tmp_path) -> None:
    said = judged(spoil(sound()), tmp_path)
    open_ = [one for one in said.findings if one.verdict is Verdict.INCONCLUSIVE]
    assert open_
    assert [one.sentence for one in open_ if not ADVICE.search(one.sentence)] == []


@pytest.mark.parametrize("port", ["reset.pressed", "supply_on.pressed", "drive.torque", "estop.actuated"])
def test_so_does_what_the_bench_file_does_not_show(port: str) -> None:
    said = judge_trace(variant(hidden(port)), sound().trace())
    open_ = [one for one in said.findings if one.verdict not in {Verdict.PASS, Verdict.FAIL}]
    assert any(f"'{port}'" in one.sentence for one in open_)
    unclear = [one.sentence for one in open_ if one.verdict is Verdict.INCONCLUSIVE]
    assert [one for one in unclear if not ADVICE.search(one)] == []


def coarse(seed: int) -> Tape:
    """Only every twentieth frame of the drive is left, with the bench's gap widened to suit."""
    tape = sound(seed)
    rows = tape.rows(DRV)
    return tape.take(np.setdiff1d(np.arange(len(tape.us)), np.delete(rows, np.s_[::20])))


@pytest.mark.parametrize("seed", [3, 5])
def test_samples_too_coarse_name_their_messages_and_what_may_stay_open(seed: int) -> None:
    wide = variant(
        ("      longest_gap: 17500 us\n", "      longest_gap: 350 ms\n"),
        ("      period: 5 ms\n", "      period: 100 ms\n"),
        (
            "      moves: {DrvCurrent: 60 ms, DrvSpeed: 150 ms}",
            "      moves: {DrvCurrent: 1200 ms, DrvSpeed: 3 s}",
        ),
    )
    said = judge_trace(wide, coarse(seed).trace())
    told = [
        one for one in said.findings if one.effect == "torque_off" and one.verdict is Verdict.INCONCLUSIVE
    ]
    assert told
    for one in told:
        assert one.latency is not None
        assert "SAFE_State (now every 10 ms) and DRV_Actual (now every 100 ms) more often" in one.sentence
        most = re.search(r"less than ([0-9.]+) ms stay open", one.sentence)
        assert most is not None
        assert float(most[1]) == pytest.approx(100 - one.latency.lo / 1e6, rel=0.01)
