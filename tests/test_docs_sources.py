"""Every example of log sources on the page is a bench that loads, and reads the files that it speaks of."""

import re
import zipfile
from pathlib import Path

import numpy as np
import pytest
from test_docs_kinds import BLOCK, PIECES, ROOT, TEXT

from interlock.bench import Bench, parse_bench
from interlock.bench.sources import reference_of, source_of
from interlock.errors import LogError
from interlock.replay.assigned import assigned
from interlock.trace.readers import read_log
from interlock.trace.reading import Reading

CHAPTER = TEXT.split("## Logs of several recorders")[1].split("\n## ")[0]
BLOCKS = [found["yaml"] for found in BLOCK.finditer(CHAPTER)]
SCOPE, PLAIN, CAPTURES, TWO, PARTS = BLOCKS


def bench_with(sources: str) -> Bench:
    """The page's whole bench with these sources (and messages, if the example holds some)."""
    text = PIECES
    if "  messages:\n" in sources:
        text = re.sub(r"  messages:\n(    .*\n)+", "", text, count=1)
    text = text.replace(
        "  stamp_delay: {least: 0 ms, most: 3 ms}\n",
        "  stamp_delay: {least: 0 ms, most: 3 ms}\n" + sources,
        1,
    )
    return parse_bench("page.yaml", text, folder=ROOT / "interlock" / "demo")


@pytest.mark.parametrize("sources", BLOCKS)
def test_an_example_is_a_bench_without_mistakes(sources: str) -> None:
    shows = bench_with(sources).shows
    assert shows is not None
    assert reference_of(shows) == "logger"


def read_as(bench: Bench, source: str, path: Path) -> Reading:
    """The file, recognised by its content as one of that source and read as the example says."""
    assert bench.shows is not None
    found = assigned(bench.shows, [path])
    assert list(found) == [source]
    reading, _ = read_log(found[source][0])
    return reading


def test_a_scope_s_table_is_known_by_its_headings(tmp_path: Path) -> None:
    path = tmp_path / "anything.dat"
    rows = [f"{k * 0.0001:.4f},{24.0 if k < 100 or 120 <= k < 130 else 0.5:.1f}" for k in range(300)]
    path.write_text("\n".join(["Time,CH1", "Second,Volt", *rows, ""]))
    reading = read_as(bench_with(SCOPE), "scope", path)
    (group,) = reading.sampled
    assert (group.message, group.units) == ("scope", {"permit": ""})
    assert group.times_ns[:3].tolist() == [0, 100_000, 200_000]
    values = group.values["permit"]
    assert (values[:100] == 1).all()
    assert np.isnan(values[120:130]).all()  # 0.9 ms: shorter than the 2 ms of test pulses
    assert (values[130:] == 0).all()


def test_a_wrong_unit_is_told_at_its_line(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_text("Time,CH1\nSecond,mV\n0.0000,24\n0.0001,24\n")
    with pytest.raises(LogError, match=r"scope\.csv:2: signal permit is in 'mV' by this line and in 'V'"):
        read_as(bench_with(SCOPE), "scope", path)
    path.write_text("Time,CH1\nms,V\n0.0000,24\n0.0001,24\n")
    with pytest.raises(LogError, match=r"scope\.csv:2: the time is in 'ms' by this line and in 's'"):
        read_as(bench_with(SCOPE), "scope", path)


def test_a_table_without_headings_and_with_decimal_commas(tmp_path: Path) -> None:
    path = tmp_path / "recorder.txt"
    path.write_text("0,2;1,25\n2,0;0,5\n4,9;0,05\n")
    (group,) = read_as(bench_with(PLAIN), "recorder", path).sampled
    assert group.times_ns.tolist() == [0, 200_000, 400_000]  # 5 kHz
    assert group.values["torque"].tolist() == [25.0, 10.0, 1.0]
    assert group.values["permit"].tolist()[::2] == [1.0, 0.0]  # inverted
    assert np.isnan(group.values["permit"][1])
    assert group.units == {"permit": "", "torque": "Nm"}


def test_captures_of_both_kinds(tmp_path: Path) -> None:
    dump = tmp_path / "lines.vcd"
    dump.write_text(
        "$timescale 1 us $end\n$var wire 1 a STO_A $end\n$var wire 1 b STO_B $end\n$enddefinitions $end\n"
        "#0\n1a\n1b\n#500\n0a\n#520\n0b\n#900\n"
    )
    bench = bench_with(CAPTURES)
    (group,) = read_as(bench, "lines", dump).sampled
    assert list(group.values) == ["permit", "second"]
    assert group.values["permit"][-1] == group.values["second"][-1] == 0
    capture = tmp_path / "capture.sr"
    with zipfile.ZipFile(capture, "w") as archive:
        archive.writestr("version", "2")
        meta = "[device 1]\ncapturefile=logic-1\ntotal probes=1\nsamplerate=1 MHz\nprobe1=D3\nunitsize=1\n"
        archive.writestr("metadata", meta)
        archive.writestr("logic-1-1", bytes([1] * 50 + [0] * 50))
    (group,) = read_as(bench, "analyser", capture).sampled
    assert group.values["enable"].tolist()[0] == 0  # inverted
    assert group.values["enable"].tolist()[-1] == 1


def test_two_loggers_share_the_messages_out(tmp_path: Path) -> None:
    shows = bench_with(TWO).shows
    assert shows is not None
    assert [source_of(shows, name) for name in ("CellInputs", "AxisMotion", "unit")] == [
        "logger",
        "second",
        "unit",
    ]
    for name in ("cell_1.log", "axis_1.log", "other.log"):
        (tmp_path / name).write_text("(1790000000.000000) can0 120#00\n")
    files = [tmp_path / "axis_1.log", tmp_path / "cell_1.log", Path(f"second={tmp_path / 'other.log'}")]
    found = assigned(shows, files)
    assert {name: [file.path.name for file in listed] for name, listed in found.items()} == {
        "second": ["axis_1.log", "other.log"],
        "logger": ["cell_1.log"],
    }
    with pytest.raises(LogError, match=r"other\.log: it is of no source of the bench: logger \(CAN frames\)"):
        assigned(shows, [tmp_path / "other.log"])


def test_the_page_says_how_files_are_given() -> None:
    assert "interlock replay bench.yaml logger=run.blf scope=a.csv" in CHAPTER
