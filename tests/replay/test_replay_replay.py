"""From files to a judgement: one log or several, and what the bench description expects of each message."""

from pathlib import Path

import pytest
from replay_tape import BENCH, BENCH_FILE, COVER_2, Tape, found, judged, sound

from interlock.errors import LogError
from interlock.replay import load_trace, replay
from interlock.replay.expecting import expected_messages
from interlock.verdict import Verdict


def saved(tape: Tape, path: Path) -> Path:
    path.write_text(tape.text(), newline="\n")
    return path


def test_a_run_split_over_two_files_is_judged_as_one(tmp_path: Path) -> None:
    at = COVER_2.on - 2
    first, second = (
        saved(sound().drop(None, at), tmp_path / "1.log"),
        saved(sound().drop(None, -1, at), tmp_path / "2.log"),
    )
    said, whole = replay(BENCH_FILE, BENCH, [first, second]), judged(sound(), tmp_path)
    assert said.verdict is Verdict.PASS
    assert said.findings == whole.findings
    assert [source.path.endswith(("1.log", "2.log")) for source in said.observation.trace.sources] == [
        True,
        True,
    ]


def test_files_given_in_the_wrong_order_do_not_matter(tmp_path: Path) -> None:
    at = COVER_2.on - 2
    first, second = (
        saved(sound().drop(None, at), tmp_path / "1.log"),
        saved(sound().drop(None, -1, at), tmp_path / "2.log"),
    )
    assert replay(BENCH_FILE, BENCH, [second, first]).verdict is Verdict.PASS


def test_two_files_of_the_same_time_are_in_doubt(tmp_path: Path) -> None:
    first, second = saved(sound(), tmp_path / "1.log"), saved(sound(), tmp_path / "2.log")
    assert replay(BENCH_FILE, BENCH, [first, second]).verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize("lost", [0.05, 1.0])
def test_a_pause_between_two_files_is_a_gap(lost: float, tmp_path: Path) -> None:
    at = COVER_2.on - 2
    first = saved(sound().drop(None, at), tmp_path / "1.log")
    second = saved(sound().drop(None, -1, at + lost), tmp_path / "2.log")
    said = replay(BENCH_FILE, BENCH, [first, second])
    assert said.verdict is Verdict.INCONCLUSIVE
    assert "SAFE_State" in {one.subject for one in found(said, "data_complete")}


def test_a_log_that_is_not_there_is_an_error_that_names_it(tmp_path: Path) -> None:
    with pytest.raises(LogError, match=r"absent\.log"):
        load_trace(BENCH_FILE, BENCH, [tmp_path / "absent.log"])


def test_no_log_at_all_is_an_error() -> None:
    with pytest.raises(LogError, match="no log file"):
        replay(BENCH_FILE, BENCH, [])


def test_the_figures_of_the_bench_description_reach_the_reader() -> None:
    shows = BENCH.shows
    assert shows is not None
    expected = {one.message: one for one in expected_messages(shows)}
    safe, drive = expected["SAFE_State"], expected["DRV_Actual"]
    assert (safe.period_ns, safe.max_gap_ns, safe.alive, safe.alive_modulo) == (
        10_000_000,
        35_000_000,
        "Alive",
        256,
    )
    assert (drive.period_ns, drive.max_gap_ns, drive.alive) == (5_000_000, 17_500_000, None)
    assert drive.noisy == {"DrvCurrent": 12, "DrvSpeed": 30}  # 60 ms and 150 ms of 5 ms each
    assert set(expected) == {"SAFE_State", "DRV_Actual", "LOD_Actual", "CTL_Refs", "PSU_Bus"}


def test_a_bench_that_shows_nothing_can_still_be_read(tmp_path: Path) -> None:
    blind = BENCH.model_copy(update={"shows": BENCH.shows.model_copy(update={"messages": {}})})  # type: ignore[union-attr]
    trace = load_trace(BENCH_FILE, blind, [saved(sound(), tmp_path / "a.log")])
    assert len(trace.messages) == 5
