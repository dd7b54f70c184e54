"""One run by several recorders: the true latency lies in every interval, whatever their clocks, and no guess passes.

The CAN log, the lines and the truth are those of `tests/loggen`, which shares nothing with the package.
"""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from replay_sources import (
    CHANGES,
    EDGE,
    LINES,
    SCOPE,
    UNITS,
    Recorder,
    Run,
    enable_off,
    judged,
    lines_table,
    lines_vcd,
    run,
    scope_csv,
    with_sources,
)

from interlock.errors import LogError
from interlock.replay import Judgement, replay
from interlock.verdict import Verdict

BOTH = EDGE.replace("]}", ", {here: scope.sto_load is 1, there: SAFE_State.TorqueEnableLod is 1}]}")
STEADY = BOTH.replace("100 ppm,", "100 ppm, steady: true,")
NEAR = EDGE.replace("edges:", "offset: {least: LEAST ms, most: MOST ms}, edges:")


def wrong(one: Run, said: Judgement, widest_ms: float) -> list[str]:
    """Where an interval of the lines misses the truth or is wider than the clocks explain."""
    found = []
    for line in LINES:
        for truth_ns, finding in enable_off(one, said, line):
            got = finding.latency
            if got is None or got.hi is None or truth_ns not in got:
                found.append(f"{line}: {truth_ns} is not in {got}")
            elif got.hi - got.lo > widest_ms * 1e6:
                found.append(f"{line}: {got} is too wide")
    return found


def said_of_source(said: Judgement) -> str:
    """What the findings about the recording say of the scope."""
    return " ".join(
        one.sentence for one in said.findings if (one.effect, one.subject) == ("data_complete", "scope")
    )


CLOCKS: dict[str, tuple[Recorder, str, float]] = {
    "edge, scope before": (Recorder(begin_s=-12.345), EDGE, 35),
    "edge, scope later and slow": (Recorder(begin_s=0.45, ppm=-80, zero_s=-3.0), EDGE, 35),
    "edge, scope fast": (Recorder(ppm=95, zero_s=1e4), EDGE, 35),
    "steady": (Recorder(begin_s=0.3, ppm=90), STEADY, 35),
    "offset stated well": (
        Recorder(begin_s=0.3),
        "{drift: 0 ppm, offset: {least: 298 ms, most: 302 ms}}",
        25,
    ),
    "offset stated badly": (
        Recorder(begin_s=0.3),
        "{drift: 0 ppm, offset: {least: 282 ms, most: 302 ms}}",
        40,
    ),
    "offset and edge": (
        Recorder(begin_s=0.3, ppm=-20),
        NEAR.replace("LEAST", "-9000").replace("MOST", "9000"),
        35,
    ),
}


@pytest.mark.parametrize("name", CLOCKS)
def test_the_truth_lies_within_whatever_the_clocks(name: str, tmp_path: Path) -> None:
    recorder, clock, widest_ms = CLOCKS[name]
    said = judged(run(), recorder, tmp_path, clock)
    assert wrong(run(), said, widest_ms) == []
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]
    assert any("scope.csv:" in note and "offset known to" in note for note in said.observation.trace.notes)


def test_another_run_with_late_stamps_and_lost_frames(tmp_path: Path) -> None:
    one = run(6, stamp_s=0.004, loss=0.02)
    said = judged(one, Recorder(begin_s=-1.0, ppm=-60), tmp_path)
    assert wrong(one, said, 60) == []
    assert Verdict.FAIL not in {finding.verdict for finding in said.findings}


def test_the_alignment_widens_each_latency(tmp_path: Path) -> None:
    """The same record with an offset stated better or worse: the better interval lies within the worse."""
    widths, intervals = [], []
    for half_ms in (1, 10):
        clock = f"{{drift: 0 ppm, offset: {{least: {300 - half_ms} ms, most: {300 + half_ms} ms}}}}"
        said = judged(run(), Recorder(begin_s=0.3), tmp_path, clock)
        found = [finding.latency for line in LINES for _, finding in enable_off(run(), said, line)]
        intervals.append(found)
        widths.append([one.hi - one.lo for one in found if one is not None and one.hi is not None])
    for near, far in zip(*intervals, strict=True):
        assert near is not None
        assert far is not None
        assert near.lo in far
        assert near.hi in far
    assert (np.array(widths[1]) - widths[0]).min() >= 9e6  # the lower end stops at zero


def test_a_slow_line_fails_by_its_own_latency(tmp_path: Path) -> None:
    """The should-fail twin: cover stops whose lines fall after a quarter of a second."""
    one = run(11, "slow_both")
    said = judged(one, Recorder(begin_s=-5.0, ppm=50), tmp_path)
    assert said.verdict is Verdict.FAIL
    failed = {
        (finding.function, finding.subject)
        for finding in said.findings
        if finding.effect == "enable_off" and finding.verdict is Verdict.FAIL
    }
    assert {("cover_stop", "drive"), ("cover_stop", "load"), ("button_stop", "drive")} <= failed
    assert wrong(one, said, 35) == []


PULSES = Recorder(begin_s=-2.0, pulses_s=(12.0, 20.0))


def test_pulses_that_one_side_cannot_see_must_be_told(tmp_path: Path) -> None:
    said = judged(run(), PULSES, tmp_path, EDGE)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert "no offset lays the trains" in said_of_source(said)


@pytest.mark.parametrize(
    ("clock", "changes"),
    [
        (EDGE, (("high_from: 15 V, low_to: 5 V}\n", "high_from: 15 V, low_to: 5 V, shortest: 5 ms}\n"),) * 2),
        (EDGE.replace("]}", "], missed: 4}"), ()),
    ],
    ids=["shorter levels count as not known", "edges of one side only"],
)
def test_pulses_that_were_told_do_no_harm(
    clock: str, changes: tuple[tuple[str, str], ...], tmp_path: Path
) -> None:
    text = SCOPE.replace("CLOCK", clock)
    for old, new in changes:
        text = text.replace(old, new, 1)
    file, bench = with_sources(text, tmp_path)
    log = tmp_path / "run.log"
    log.write_text(run().can, newline="\n")
    said = replay(file, bench, [log, scope_csv(run(), PULSES, tmp_path / "scope.csv")])
    assert wrong(run(), said, 50) == []
    assert said_of_source(said) == ""


def test_a_record_of_one_stop_of_many_is_not_guessed_at(tmp_path: Path) -> None:
    recorder = Recorder(begin_s=21.0, end_s=26.5)
    said = judged(run(), recorder, tmp_path, EDGE)
    assert said.verdict is Verdict.INCONCLUSIVE
    told = said_of_source(said)
    assert "separate offsets" in told
    assert "at its 'clock', state bounds of the 'offset'" in told
    assert {one.verdict for one in said.findings if one.effect == "enable_off"} <= {
        Verdict.INCONCLUSIVE,
        Verdict.NOT_OBSERVED,
    }


def test_a_record_of_one_stop_with_a_rough_offset_judges_that_stop(tmp_path: Path) -> None:
    clock = NEAR.replace("LEAST", "19000").replace("MOST", "23000")
    said = judged(run(), Recorder(begin_s=21.0, end_s=26.5), tmp_path, clock)
    found = enable_off(run(), said, "sto_drive")
    assert [one.verdict for _, one in found].count(Verdict.PASS) == 1
    truth_ns, third = found[2]  # the cover stop at 22 s
    assert third.verdict is Verdict.PASS
    assert third.latency is not None
    assert truth_ns in third.latency
    assert said.verdict is Verdict.INCONCLUSIVE  # the other stops were not seen by the scope


def test_a_clock_that_drifts_by_more_than_stated_is_not_made_to_fit(tmp_path: Path) -> None:
    said = judged(run(), Recorder(ppm=900), tmp_path, EDGE)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert "drift by more than is stated" in said_of_source(said)


WELL = "{drift: 0 ppm, offset: {least: 298 ms, most: 302 ms}}"


@pytest.mark.parametrize("step_s", [0.3, -0.3])
@pytest.mark.parametrize("clock", [WELL, EDGE])
def test_a_clock_that_was_set_during_the_run_tells_no_time_to_the_other(
    clock: str, step_s: float, tmp_path: Path
) -> None:
    """From 10 s on the CAN log's stamps are off: an offset that held before would make slow lines look quick."""
    rows = [line.split(" ", 1) for line in run(11, "slow_both").can.splitlines()]
    moved = []
    for stamp, rest in rows:
        at = float(stamp[1:-1]) - 1_790_000_000
        by = step_s if at > 10 else 0.0
        moved.append(f"({1_790_000_000 + at + by:.6f}) {rest}\n")
    file, bench = with_sources(SCOPE.replace("CLOCK", clock), tmp_path)
    log = tmp_path / "run.log"
    log.write_text("".join(moved), newline="\n")
    scope = scope_csv(run(11, "slow_both"), Recorder(begin_s=0.3), tmp_path / "scope.csv")
    said = replay(file, bench, [log, scope])
    assert {one.verdict for one in said.findings if one.effect == "enable_off"} <= {
        Verdict.INCONCLUSIVE,
        Verdict.NOT_OBSERVED,
    }
    assert "How the clock of the source scope compares with that of logger is not known" in said_of_source(
        said
    )


def test_an_edge_that_was_stamped_late_does_not_tell_the_clock(tmp_path: Path) -> None:
    """The logger stamped 60 ms late for a second about a stop; the truth stays within every interval all the same."""
    one = run(21, "late_stamps")
    said = judged(one, Recorder(begin_s=-1.0), tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE
    for line in LINES:
        for demand in one.truth["demands"]:
            onset = round(demand["demand_s"] * 1e9) - said.observation.trace.start_ns + 1_790_000_000 * 10**9
            for finding in said.findings:
                about = (finding.effect, finding.subject) == ("enable_off", UNITS[line])
                if (
                    about
                    and finding.demand is not None
                    and onset in finding.demand
                    and finding.latency is not None
                ):
                    assert one.fall_ns(line, demand) in finding.latency


def test_the_scope_may_be_the_one_whose_time_counts(tmp_path: Path) -> None:
    clock = "{drift: 100 ppm, edges: [{here: SAFE_State.TorqueEnableDrv is 1, there: scope.sto_drive is 1}]}"
    text = SCOPE.replace("      clock: CLOCK\n", "")
    file, bench = with_sources(
        text, tmp_path, ("logger: {kind: can}", f"logger: {{kind: can, clock: {clock}}}")
    )
    log = tmp_path / "run.log"
    log.write_text(run().can, newline="\n")
    said = replay(file, bench, [scope_csv(run(), Recorder(begin_s=-0.5, ppm=30), tmp_path / "s.csv"), log])
    falls = [edge.when for edge in said.observation.tracks["drive.enabled"].memo["changes"] if not edge.to]
    assert max(one.hi - one.lo for one in falls if one.hi is not None) < 4_000_000  # the scope's own samples
    start = said.observation.trace.start_ns
    assert not said.observation.trace.absolute
    assert start <= 0
    assert said.verdict is not Verdict.FAIL


@pytest.mark.parametrize(
    "recorder",
    [
        Recorder(begin_s=2.6),  # while reset was pressed
        Recorder(begin_s=6.5),  # after a cover stop began
        Recorder(end_s=52.0),  # before the last stop ended
    ],
    ids=str,
)
def test_an_end_that_the_scope_missed_counts_if_anything_happened(recorder: Recorder, tmp_path: Path) -> None:
    """The should-fail twins of a scope that began later, or ended earlier, while nothing was demanded."""
    clock = NEAR.replace("LEAST", f"{recorder.begin_s * 1000 - 900:.0f}").replace(
        "MOST", f"{recorder.begin_s * 1000 + 900:.0f}"
    )
    said = judged(run(), recorder, tmp_path, clock)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert "did not record here" in said_of_source(said)
    assert not any("is not judged" in one.sentence for one in said.findings)


def test_an_end_that_the_scope_missed_while_nothing_happened_is_told(tmp_path: Path) -> None:
    said = judged(run(), Recorder(begin_s=0.45, end_s=59.0), tmp_path)
    assert said.verdict is Verdict.PASS
    (one,) = [finding for finding in said.findings if finding.effect == "data_complete"]
    assert "What scope shows is not judged before 0.4" in one.sentence
    assert "What scope shows is not judged from 5" in one.sentence


TABLE = "table\n      table: {time: 'Time [s]', changes_only: true}"
CAPTURES = {"vcd": ("vcd", lines_vcd, "lines.vcd"), "table of changes": (TABLE, lines_table, "lines.csv")}


def captured(name: str, recorder: Recorder, folder: Path, clock: str = EDGE) -> Judgement:
    """What is said of the run by its CAN log and a record of changes."""
    kind, write, file_name = CAPTURES[name]
    file, bench = with_sources(CHANGES.replace("KIND", kind).replace("CLOCK", clock), folder)
    log = folder / "run.log"
    log.write_text(run().can, newline="\n")
    return replay(file, bench, [log, write(run(), recorder, folder / file_name)])


@pytest.mark.parametrize("name", CAPTURES)
def test_a_record_of_changes_holds_between_them(name: str, tmp_path: Path) -> None:
    said = captured(name, Recorder(begin_s=-1.0, ppm=35, zero_s=0.5), tmp_path)
    assert wrong(run(), said, 35) == []
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]


@pytest.mark.parametrize("name", CAPTURES)
def test_a_record_of_changes_says_nothing_after_its_last(name: str, tmp_path: Path) -> None:
    """The should-fail twin: it stopped at 20 s, while running; what came then it cannot have seen."""
    near = NEAR.replace("LEAST", "-1500").replace("MOST", "-500")
    said = captured(name, Recorder(begin_s=-1.0, end_s=20.0), tmp_path, near)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert "The source of scope did not record here" in said_of_source(said)
    late = [finding for _, finding in enable_off(run(), said, "sto_drive")][2:]
    assert {one.verdict for one in late} <= {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}
    held = [one for one in said.findings if one.effect == "stays_off" and one.demand is not None]
    assert {one.verdict for one in held if one.demand is not None and one.demand.lo > 20e9} == {
        Verdict.INCONCLUSIVE
    }


def test_without_its_log_a_source_proves_nothing(tmp_path: Path) -> None:
    file, bench = with_sources(SCOPE.replace("CLOCK", EDGE), tmp_path)
    log = tmp_path / "run.log"
    log.write_text(run().can, newline="\n")
    said = replay(file, bench, [log])
    assert said.verdict is Verdict.INCONCLUSIVE
    assert "No log of the source scope is given" in said_of_source(said)
    scope = scope_csv(run(), Recorder(end_s=4.0), tmp_path / "scope.csv")
    with pytest.raises(LogError, match="no log of the source logger is given, by whose clock"):
        replay(file, with_other(bench), [scope, Path(f"other={log}")])


def with_other(bench: Any) -> Any:
    """The bench with a third source, of frames, that has a clock."""
    shows = bench.shows
    other = shows.sources["logger"].model_copy(update={"clock": shows.sources["scope"].clock})
    sources = {**shows.sources, "other": other}
    return bench.model_copy(update={"shows": shows.model_copy(update={"sources": sources})})


def test_the_order_and_the_naming_of_files_do_not_matter(tmp_path: Path) -> None:
    file, bench = with_sources(SCOPE.replace("CLOCK", EDGE), tmp_path)
    log, scope = tmp_path / "run.log", scope_csv(run(), Recorder(), tmp_path / "scope.csv")
    log.write_text(run().can, newline="\n")
    first = replay(file, bench, [log, scope])
    for logs in ([scope, log], [Path(f"scope={scope}"), Path(f"logger={log}")]):
        assert replay(file, bench, logs).findings == first.findings


def test_a_file_of_no_source_is_an_error_that_lists_them(tmp_path: Path) -> None:
    file, bench = with_sources(SCOPE.replace("CLOCK", EDGE), tmp_path)
    other = tmp_path / "other.csv"
    other.write_text("Time,A,B\nSecond,V,V\n0,1,1\n1,1,1\n")
    with pytest.raises(LogError, match=r"other\.csv: it is of no source of the bench: logger .* scope"):
        replay(file, bench, [other])


def test_frames_given_as_the_table_are_refused(tmp_path: Path) -> None:
    file, bench = with_sources(SCOPE.replace("CLOCK", EDGE), tmp_path)
    log = tmp_path / "run.log"
    log.write_text(run().can, newline="\n")
    with pytest.raises(LogError, match=r"run\.log:1: not exactly one column is headed 'CH1'"):
        replay(file, bench, [log, Path(f"scope={log}")])
