"""One logger's record in several files: dated, going on, or beginning anew; and what nobody told is not guessed."""

from pathlib import Path
from typing import Final

import pytest
from replay_converted import Frame, asc, converted, frames_of
from replay_sources import EDGE, SCOPE, Recorder, enable_off, run, scope_csv, with_sources
from replay_tape import BENCH_FILE

from interlock.bench import Bench, load_bench
from interlock.replay import Judgement, replay
from interlock.verdict import Verdict

CUT_US: Final = 1_790_000_000_000_000 + 20_000_000  # while running, between two stops
DATE: Final = " Mon Sep 21 02:13:20.000 pm 2026"
Frames = list[Frame]


@pytest.fixture(scope="module")
def frames(samples: Path) -> Frames:
    return frames_of(samples / "sound.blf")


@pytest.fixture(scope="module")
def whole(frames: Frames, tmp_path_factory: pytest.TempPathFactory) -> Judgement:
    """What is said of the record in one file."""
    folder = tmp_path_factory.mktemp("whole")
    return replay(BENCH_FILE, load_bench(BENCH_FILE), [converted(frames, "candump", folder)])


def undated(frames: Frames, zero_us: int) -> str:
    """As ASC without any date, its stamps counted from that instant."""
    moved = [Frame(one.us - zero_us + 1_790_000_000_000_000, one.ident, one.data) for one in frames]
    text = asc("hex", "absolute")(moved)
    return text.replace(f"date{DATE}\n", "").replace(f"Begin Triggerblock{DATE}", "Begin Triggerblock")


def parts(frames: Frames, folder: Path, *, anew: bool) -> list[Path]:
    """The record cut in two; `anew`: the stamps of the second part begin again at its own first frame."""
    zero = frames[0].us
    first, second = [one for one in frames if one.us < CUT_US], [one for one in frames if one.us >= CUT_US]
    files = [folder / "part1.asc", folder / "part2.asc"]
    files[0].write_text(undated(first, zero))
    files[1].write_text(undated(second, second[0].us if anew else zero))
    return files


def bench_with(parts_: str, folder: Path) -> tuple[Path, Bench]:
    """The sample bench whose one logger leaves parts as stated."""
    change = ("logger: {kind: can}", f"logger: {{kind: can, parts: {parts_}}}")
    return with_sources("", folder, change, lines=False)


def latencies(said: Judgement) -> list[tuple[str, str, int, int | None]]:
    return [
        (one.subject, one.effect, one.latency.lo, one.latency.hi)
        for one in said.findings
        if one.latency is not None
    ]


def test_stamps_that_go_on_show_it_themselves(frames: Frames, whole: Judgement, tmp_path: Path) -> None:
    said = replay(BENCH_FILE, load_bench(BENCH_FILE), parts(frames, tmp_path, anew=False))
    assert said.verdict is Verdict.PASS
    assert latencies(said) == latencies(whole)
    assert any("go on from file to file: read as one record" in note for note in said.observation.trace.notes)


def test_stamps_that_are_said_to_go_on(frames: Frames, whole: Judgement, tmp_path: Path) -> None:
    file, bench = bench_with("{stamps: go_on}", tmp_path)
    files = parts(frames, tmp_path, anew=False)
    for order in (files, files[::-1]):
        said = replay(file, bench, order)
        assert said.verdict is Verdict.PASS
        assert latencies(said) == latencies(whole)


def test_stamps_that_begin_anew_are_not_guessed_at(frames: Frames, tmp_path: Path) -> None:
    said = replay(BENCH_FILE, load_bench(BENCH_FILE), parts(frames, tmp_path, anew=True))
    assert said.verdict is Verdict.INCONCLUSIVE
    assert {one.verdict for one in said.findings} <= {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}
    told = next(one.sentence for one in said.findings if one.effect == "data_complete")
    assert "part2.asc" in told
    assert "'parts: {stamps: go_on}'" in told
    assert "'begin_anew' with the pause" in told
    assert [Path(one.path).name for one in said.observation.trace.sources] == ["part1.asc", "part2.asc"]


def test_a_stated_pause_joins_them_and_widens_every_time(
    frames: Frames, whole: Judgement, tmp_path: Path
) -> None:
    file, bench = bench_with("{stamps: begin_anew, pause: {least: 0 ms, most: 10 ms}}", tmp_path)
    said = replay(file, bench, parts(frames, tmp_path, anew=True))
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]
    for wide, near in zip(latencies(said), latencies(whole), strict=True):
        assert wide[:2] == near[:2]
        assert wide[2] <= near[2]
        assert near[3] is not None
        assert wide[3] is not None
        assert near[3] <= wide[3] <= near[3] + 21_000_000


@pytest.mark.parametrize(
    ("pause", "told"),
    [
        ("{least: 0 ms, most: 60 ms}", "no SAFE_State for up to"),
        ("{least: 500 ms, most: 510 ms}", "no SAFE_State for up to"),
    ],
)
def test_a_pause_longer_than_a_gap_may_be_is_a_gap(
    pause: str, told: str, frames: Frames, tmp_path: Path
) -> None:
    file, bench = bench_with(f"{{stamps: begin_anew, pause: {pause}}}", tmp_path)
    said = replay(file, bench, parts(frames, tmp_path, anew=True))
    assert said.verdict is Verdict.INCONCLUSIVE
    assert any(told in doubt.sentence for doubt in said.observation.trace.quality if doubt.blinds)


def test_parts_in_the_wrong_order_are_seen_by_the_alive_counter(frames: Frames, tmp_path: Path) -> None:
    file, bench = bench_with("{stamps: begin_anew, pause: {least: 0 ms, most: 10 ms}}", tmp_path)
    said = replay(file, bench, parts(frames, tmp_path, anew=True)[::-1])
    assert said.verdict is not Verdict.PASS
    assert any("alive counter of SAFE_State does not go on" in one.sentence for one in said.findings)


def test_dates_no_finer_than_a_second_prove_nothing_across_files(frames: Frames, tmp_path: Path) -> None:
    """The same two files with a date in their heads: told to the millisecond they are one record, to the second not."""
    for date, verdict, most_ms in (
        (DATE, Verdict.PASS, 1),
        (DATE.replace(".000", ""), Verdict.INCONCLUSIVE, 1000),
    ):
        files = []
        for number, path in enumerate(parts(frames, tmp_path, anew=False)):
            text = path.read_text().replace("Begin Triggerblock", f"Begin Triggerblock{date}")
            files.append(tmp_path / f"dated{number}.asc")
            files[-1].write_text(f"date{date}\n{text}")
        said = replay(BENCH_FILE, load_bench(BENCH_FILE), files)
        assert said.verdict is verdict
        widths = said.observation.trace.message_width_ns
        assert set(widths.values()) == {most_ms * 1_000_000 + 1000}


def test_two_loggers_of_the_same_time_without_a_word_prove_nothing(frames: Frames, tmp_path: Path) -> None:
    state = [one for one in frames if one.ident == 0x120]
    others = [one for one in frames if one.ident != 0x120]
    (tmp_path / "a").mkdir()
    files = [converted(state, "candump", tmp_path / "a"), converted(others, "candump", tmp_path)]
    said = replay(BENCH_FILE, load_bench(BENCH_FILE), files)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert any(
        "under shows, sources" in one.sentence for one in said.findings if one.effect == "data_complete"
    )


def test_two_loggers_with_a_stated_offset(frames: Frames, whole: Judgement, tmp_path: Path) -> None:
    """The second logger's clock is 250 ms slow; it is known to ± 2 ms, and every latency across it widens by that."""
    state = [one for one in frames if one.ident == 0x120]
    others = [Frame(one.us - 250_000, one.ident, one.data) for one in frames if one.ident != 0x120]
    text = BENCH_FILE.read_text(encoding="utf-8")
    sources = (
        "  sources:\n    cell: {kind: can, files: cell.log}\n    axes:\n      kind: can\n      files: axes.log\n"
        "      clock: {drift: 0 ppm, offset: {least: 248 ms, most: 252 ms}}\n"
    )
    text = text.replace("  messages:\n", f"{sources}  messages:\n", 1)
    for name, source in (
        ("SAFE_State", "cell"),
        ("CTL_Refs", "axes"),
        ("PSU_Bus", "axes"),
        ("LOD_Actual", "axes"),
    ):
        text = text.replace(f"    {name}: {{", f"    {name}: {{source: {source}, ", 1)
    text = text.replace("    DRV_Actual:\n", "    DRV_Actual:\n      source: axes\n", 1)
    file = tmp_path / "bench.yaml"
    file.write_text(text)
    (tmp_path / "bench.dbc").write_bytes((BENCH_FILE.parent / "bench.dbc").read_bytes())
    files = []
    for name, part in (("cell.log", state), ("axes.log", others)):
        files.append(converted(part, "candump", tmp_path).rename(tmp_path / name))
    said = replay(file, load_bench(file), files)
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]
    for one, near in zip(said.findings, whole.findings, strict=True):
        assert (one.function, one.subject, one.effect) == (near.function, near.subject, near.effect)
        if one.effect == "torque_off" and one.latency is not None and near.latency is not None:
            assert one.latency.lo <= near.latency.lo
            assert near.latency.hi is not None
            assert one.latency.hi is not None
            assert near.latency.hi <= one.latency.hi <= near.latency.hi + 4_100_000


def test_a_scope_that_saved_two_files(tmp_path: Path) -> None:
    """Its stamps go on from file to file, and the truth lies in every interval as with one file."""
    file, bench = with_sources(SCOPE.replace("CLOCK", EDGE), tmp_path)
    log = tmp_path / "run.log"
    log.write_text(run().can, newline="\n")
    head, units, *rows = (
        scope_csv(run(), Recorder(), tmp_path / "all.csv").read_text().splitlines(keepends=True)
    )
    logs = [log]
    for number, part in enumerate((rows[:25_000], rows[25_000:])):
        logs.append(tmp_path / f"scope{number}.csv")
        logs[-1].write_text("".join([head, units, *part]))
    said = replay(file, bench, logs)
    assert said.verdict is Verdict.PASS
    assert all(
        finding.latency is not None and truth in finding.latency
        for line in ("sto_drive", "sto_load")
        for truth, finding in enable_off(run(), said, line)
    )
    assert any("go on from file to file" in note for note in said.observation.trace.notes)


@pytest.mark.parametrize("told", ["", "      parts: {stamps: go_on}\n"], ids=["untold", "told"])
def test_two_files_of_a_scope_that_overlap_are_no_one_record(told: str, tmp_path: Path) -> None:
    """Whatever the bench file says of their stamps: one of the two files is of another run, or its clock was set."""
    file, bench = with_sources(SCOPE.replace("CLOCK", EDGE) + told, tmp_path)
    logs = [tmp_path / "run.log"]
    logs[0].write_text(run().can, newline="\n")
    head, units, *rows = (
        scope_csv(run(), Recorder(), tmp_path / "all.csv").read_text().splitlines(keepends=True)
    )
    for number, part in enumerate((rows[:25_000], rows[20_000:])):
        logs.append(tmp_path / f"scope{number}.csv")
        logs[-1].write_text("".join([head, units, *part]))
    said = replay(file, bench, logs)
    assert said.verdict is Verdict.INCONCLUSIVE
    enabling = {one.verdict for one in said.findings if one.effect == "enable_off"}
    assert enabling <= {Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}
    doubts = [one.sentence for one in said.findings if one.effect == "data_complete"]
    assert any("is not known" in one for one in doubts), doubts
