"""A run of which a recorder left decoded signals alone, each message a group: judged as its frames are.

The log comes from `tests/loggen`; the signals are decoded by cantools and written by the csv module or by asammdf
(general-purpose libraries). Frames and signals are judged with the same statements, so their bounds must be the same;
between two sources, whose clocks are one, a bound may be wider by a nanosecond at each end.
"""

import csv
import datetime
import functools
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import cantools
import loggen
import numpy as np
import pytest
from needed import need_extra
from replay_tape import BENCH_FILE

from interlock.bench import load_bench
from interlock.replay import Judgement, replay
from interlock.verdict import Verdict

PERIODS: Final = {"SAFE_State": 10, "DRV_Actual": 5, "LOD_Actual": 5, "CTL_Refs": 20, "PSU_Bus": 10}  # ms
UNCERTAIN: Final = {
    "DrvCurrent": "0.1 A",
    "DrvSpeed": "1 1/min",
    "LodCurrent": "0.1 A",
    "BusVoltage": "0.1 V",
}
TEXT: Final = BENCH_FILE.read_text(encoding="utf-8")
DBC: Final = cantools.database.load_file(BENCH_FILE.parent / "bench.dbc")
BEGIN, STATES = TEXT.index("  messages:\n    SAFE_State"), TEXT.index("  states:  # true when")
CLOCK: Final = "      clock: {drift: 0 ppm, offset: {least: 0 s, most: 0 s}}\n"

Group = Mapping[str, list[Any]]


def framed_bench() -> str:
    """The sample bench without what only frames can show: counters; and without noise, to state less."""
    text = TEXT.replace(", alive: Alive, alive_modulo: 256", "")
    return re.sub(r"moves: \{[^}]*\},? ?", "", text)


def decoded_bench(kind: str) -> str:
    """The bench whose messages are sources of that kind; neither messages nor a DBC are left."""
    rest = TEXT[STATES:]
    sources = "  sources:\n"
    for name, period in PERIODS.items():
        sources += (
            f'    {name.lower()}:\n      kind: {kind}\n      files: "{name}*"\n      period: {period} ms\n'
        )
        sources += f"      longest_gap: {3500 * period} us\n"
        sources += "      table: {time: Time}\n" if kind == "table" else ""
        sources += "" if name == "SAFE_State" else CLOCK
        used = sorted(set(re.findall(rf"\b{name}\.(\w+)", rest)))
        sources += "      signals:\n" + "".join(f"        {one}: {{{stated(name, one)}}}\n" for one in used)
        rest = rest.replace(f"{name}.", f"{name.lower()}.")
    return TEXT[:BEGIN].replace("  dbc: bench.dbc\n", "") + sources + rest


def stated(message: str, name: str) -> str:
    unit = DBC.get_message_by_name(message).get_signal_by_name(name).unit
    uncertain = UNCERTAIN.get(name)
    return ", ".join(
        [
            f"from: {name}",
            *([f"unit: {unit}"] if unit else []),
            *([f"uncertain: {uncertain}"] if uncertain else []),
        ]
    )


@functools.cache
def log_of(defect: str) -> str:
    text, _ = loggen.make(3, defect)
    return text


def groups_of(text: str) -> dict[str, Group]:
    """Of each message the seconds of its frames as written, and its signals as cantools decodes them."""
    names = {DBC.get_message_by_name(name).frame_id: name for name in PERIODS}
    groups: dict[str, dict[str, list[Any]]] = {name: {"Time": []} for name in PERIODS}
    for line in text.splitlines():
        stamp, _, frame = line.split()[:3]
        ident, data = frame.split("#")
        name = names.get(int(ident, 16))
        if name is None:
            continue
        seconds = int(stamp[1:11]) - loggen.EPOCH
        groups[name]["Time"].append(f"{seconds}.{stamp[12:18]}")
        for key, value in DBC.decode_message(name, bytes.fromhex(data), decode_choices=False).items():
            groups[name].setdefault(key, []).append(value)
    return groups


def as_tables(groups: Mapping[str, Group], folder: Path) -> list[Path]:
    """One table a message, with remarks and names of states beside the numbers."""
    paths = []
    for name, group in groups.items():
        paths.append(folder / f"{name}.csv")
        with paths[-1].open("w", newline="", encoding="utf-8") as stream:
            writer = csv.writer(stream)
            writer.writerow(["Remark", *group, "State"])
            for number, row in enumerate(zip(*group.values(), strict=True)):
                writer.writerow(["line 1, cell 2" if number % 3 else "", *row, "läuft"])
    return paths


def as_mf4(groups: Mapping[str, Group], folder: Path, *, together: bool) -> list[Path]:
    """One MF4 file a message, or one file with a channel group for each, given as the file of each source."""
    asammdf = need_extra("asammdf")
    files: dict[str, Any] = {}
    for name, group in groups.items():
        mdf = files.setdefault("ALL" if together else name, asammdf.MDF(version="4.10"))
        mdf.header.start_time = datetime.datetime.fromtimestamp(loggen.EPOCH, datetime.UTC)
        times = np.array(group["Time"], np.float64)
        units = {signal.name: signal.unit or "" for signal in DBC.get_message_by_name(name).signals}
        mdf.append(
            [
                asammdf.Signal(np.array(values, np.float64), times, name=key, unit=units[key])
                for key, values in group.items()
                if key != "Time"
            ],
            acq_name=name,
            common_timebase=True,
        )
    for name, mdf in files.items():
        mdf.save(folder / f"{name}.mf4", overwrite=True)
        mdf.close()
    if together:
        return [Path(f"{name.lower()}={folder / 'ALL.mf4'}") for name in groups]
    return [folder / f"{name}.mf4" for name in files]


def judged(folder: Path, text: str, logs: list[Path]) -> Judgement:
    path = folder / "bench.yaml"
    path.write_text(text, encoding="utf-8")
    return replay(path, load_bench(path), logs)


@functools.cache
def by_frames(folder: Path, defect: str) -> Judgement:
    (folder / "bench.dbc").write_bytes((BENCH_FILE.parent / "bench.dbc").read_bytes())
    (folder / "run.log").write_text(log_of(defect), encoding="ascii")
    return judged(folder, framed_bench(), [folder / "run.log"])


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("frames")


def same(found: Judgement, frames: Judgement) -> None:
    assert found.verdict is frames.verdict
    assert len(found.findings) == len(frames.findings)
    for one, other in zip(found.findings, frames.findings, strict=True):
        assert (one.function, one.subject, one.effect, one.verdict) == (
            other.function,
            other.subject,
            other.effect,
            other.verdict,
        )
        assert (one.latency is None) == (other.latency is None)
        if one.latency is not None and other.latency is not None:
            assert other.latency.lo - 2 <= one.latency.lo <= other.latency.lo
            assert (one.latency.hi is None) == (other.latency.hi is None)
            assert (other.latency.hi or 0) <= (one.latency.hi or 0) <= (other.latency.hi or 0) + 2


DEFECTS: Final = {"": Verdict.PASS, "slow_drive": Verdict.FAIL}


@pytest.mark.parametrize("defect", DEFECTS, ids=["sound", "slow"])
@pytest.mark.parametrize("form", ["table", "mf4", "mf4 of all"])
def test_decoded_signals_are_judged_as_the_frames_are(
    tmp_path: Path, shared: Path, form: str, defect: str
) -> None:
    groups = groups_of(log_of(defect))
    logs = (
        as_tables(groups, tmp_path) if form == "table" else as_mf4(groups, tmp_path, together="all" in form)
    )
    text = decoded_bench(form.split(maxsplit=1)[0])
    if "all" in form:
        text = re.sub(r'      files: ".*"\n', "", text)
    found = judged(tmp_path, text, logs)
    assert found.verdict is DEFECTS[defect]
    same(found, by_frames(shared, defect))


def test_a_hole_in_one_table_is_no_pass(tmp_path: Path) -> None:
    """As where the frames are missing: nothing is read into the rows that are not there."""
    groups = groups_of(log_of(""))
    half = len(groups["DRV_Actual"]["Time"]) // 2
    hole = {key: values[:half] + values[half + 80 :] for key, values in groups["DRV_Actual"].items()}
    found = judged(tmp_path, decoded_bench("table"), as_tables({**groups, "DRV_Actual": hole}, tmp_path))
    assert found.verdict is Verdict.INCONCLUSIVE
