"""A log whose enable line is told by the status word of a CANopen drive is judged like one that shows it by a bit.

The sample log (see tests/data/samples/README.md), to which each frame of the bit is followed at once by the frame of a
status word; the frames of the bit are the ground truth.
"""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from needed import need_module

from interlock.bench import load_bench
from interlock.replay import document, replay
from interlock.trace.readers import read_log
from interlock.verdict import Verdict

need_module("canopen")

HERE = Path(__file__).parents[1]
BENCH = HERE / "benches" / "sample"
EDS = HERE / "data" / "eds" / "cia402.eds"
ENABLED, OFF = b"\x37\x06", b"\x40\x06"  # operation enabled, switch on disabled (CiA 402)
TOLD = (
    ("  dbc: bench.dbc\n", "  dbc: bench.dbc\n  canopen: {axis: {node: 5, eds: cia402.eds}}\n"),
    ("  states:", "    axis_tpdo1: {period: 10 ms, longest_gap: 35 ms}\n  states:"),
    (
        "drive.enabled: SAFE_State.TorqueEnableDrv is 1",
        "drive.enabled: axis_tpdo1.Statusword_1_state is 'operation enabled'",
    ),
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bench as it is, the bench that goes by the status word, and a log that has both."""
    folder = tmp_path_factory.mktemp("canopen")
    shutil.copy(BENCH / "bench.dbc", folder)
    shutil.copy(EDS, folder)
    text = (BENCH / "bench.yaml").read_text(encoding="utf-8")
    (folder / "bit.yaml").write_text(text, encoding="utf-8")
    for old, new in TOLD:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "word.yaml").write_text(text, encoding="utf-8")
    write_log(folder / "run.log")
    return folder


def write_log(path: Path, *, tripped_at: float | None = None) -> None:
    columns = read_log(HERE / "data" / "samples" / "sound.blf")[0].columns
    start = int(columns.times_ns.min())
    lines = []
    for time, ident, size, data in zip(
        columns.times_ns.tolist(),
        columns.idents.tolist(),
        columns.lengths.tolist(),
        columns.data,
        strict=True,
    ):
        stamp = f"({time // 10**9}.{time % 10**9:09d}) can0"
        payload = data[:size].tobytes()
        lines.append(f"{stamp} {ident:03X}#{payload.hex()}")
        if ident == 0x120:
            word = ENABLED if payload[1] & 1 else OFF
            lines.append(f"{stamp} 185#{word.hex()}")
            if tripped_at is not None and time - start > tripped_at * 1e9:
                lines.append(f"{stamp} 085#1023010000000000")
                tripped_at = None
    path.write_text("\n".join(lines) + "\n", encoding="ascii")


def judged(folder: Path, bench: str, log: str = "run.log") -> dict:
    described = load_bench(folder / bench)
    return document(replay(folder / bench, described, [folder / log]), "")


def facts(found: dict) -> list[tuple]:
    """What does not depend on how the enable line is shown."""
    return [(one["function"], one["subject"], one["effect"], one["verdict"]) for one in found["findings"]]


def test_the_status_word_tells_what_the_bit_tells(folder: Path) -> None:
    by_bit, by_word = judged(folder, "bit.yaml"), judged(folder, "word.yaml")
    assert by_bit["verdict"] == Verdict.PASS
    assert facts(by_word) == facts(by_bit)
    assert [one.get("latency_ns") for one in by_word["findings"]] == [
        one.get("latency_ns") for one in by_bit["findings"]
    ]


def test_an_error_of_the_drive_is_told_with_the_run(folder: Path) -> None:
    write_log(folder / "tripped.log", tripped_at=1.0)
    found = judged(folder, "word.yaml", "tripped.log")
    told = [one["sentence"] for one in found["quality"]]
    assert told == ["Node axis reports the error 2310h (current, output side of the device), register 01h."]
    assert found["verdict"] == Verdict.PASS


def test_the_page_shows_what_the_drive_reported(folder: Path, interlock: Callable[..., Any]) -> None:
    write_log(folder / "tripped.log", tripped_at=1.0)
    said = interlock("replay", folder / "word.yaml", folder / "tripped.log")
    assert said.code == 0
    assert "Node axis reports the error 2310h" in said.out
    looked = interlock("look", folder / "tripped.log", "--bench", folder / "word.yaml")
    assert "Node axis reports the error 2310h" in looked.out
    assert "axis_tpdo1.Statusword_1_state" in looked.out


def test_a_status_word_that_stays_away_is_no_pass(folder: Path) -> None:
    lines = (folder / "run.log").read_text(encoding="ascii").splitlines()
    words = np.flatnonzero([" 185#" in line for line in lines])
    gone = set(words[len(words) // 2 : len(words) // 2 + 20].tolist())
    kept = [line for number, line in enumerate(lines) if number not in gone]
    (folder / "hole.log").write_text("\n".join(kept) + "\n", encoding="ascii")
    assert judged(folder, "word.yaml", "hole.log")["verdict"] == Verdict.INCONCLUSIVE
